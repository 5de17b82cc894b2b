package run

import (
	"fmt"
	"math"
	"slices"

	"quern/config"
	"quern/rig"
)

const (
	listenS  = 0.1 // s of sound looked at together
	floorN   = 100 // blocks the quiet is learned from: 10 s
	hushedDB = 8.0 // a motor that stops lowers the A-level by this much below its quieter fifth
	humDB    = 5.0 // and the C-level by this much: in a stall the hum stays
	calmN    = 10  // blocks that confirm a stop: 1 s
	talkN    = 4   // of them after which what is heard need only be
	talkDB   = 3.0 // dB below the motor's quieter fifth to be no motor
)

// Listener finds starts and stops from sound alone. It is coarser than current: a start shows in
// some tens of milliseconds, a stop only as the turntable coasts down; water and voices mislead it.
type Listener struct {
	set      config.DetectHeard
	pauseS   float64
	ear      ear
	openS    float64
	filled   int // frames in the open block
	ea, ec   float64
	la, lc   []float64 // last blocks while quiet, or while on
	lr       []float64 // and their rumble
	rumbles  []bool    // of the blocks that may be a change
	bgDB     float64   // rumble before the start at hand
	rumbled  bool      // it has risen since
	rumbleN  int
	pending  []float64 // start instants of the blocks that may be a change
	votes    []bool
	louder   int // blocks in a row that stand above what may have been the tap
	above    int // and above what may have been the room
	on       bool
	began    bool
	runs     []Found
	onS      float64
	decided  float64
	lastS    float64
	warnings []rig.Warning
}

// NewListener returns a listener for a session.
func NewListener(set config.Setup) *Listener {
	return &Listener{set: set.Bench.Detect.Heard, pauseS: set.Procedure.LongestPauseS}
}

// DecidedS is the instant up to which it is known whether the motor was on.
func (l *Listener) DecidedS() float64 { return l.decided }

// Heard takes 10 ms of sound.
func (l *Listener) Heard(h Heard) {
	l.ear.push(h)
	if h.Missing {
		// Nothing can be told while the source is gone: what was pending is dropped, the state stays.
		l.openS, l.filled, l.ea, l.ec = h.EndS, 0, 0, 0
		l.drop()
		l.louder = 0
		if l.began {
			l.decided = max(l.decided, h.StartS-listenS)
		}
		return
	}
	if l.filled == 0 {
		l.openS = max(l.openS, h.StartS) // readings may begin late
	}
	l.filled++
	l.ea += h.EA
	l.ec += h.EC
	if s := h.EndS - l.openS; s >= listenS-1e-6 {
		l.block(l.openS, h.EndS, levelDB(l.ea/s), levelDB(l.ec/s))
		l.openS, l.filled, l.ea, l.ec = h.EndS, 0, 0, 0
	}
}

func (l *Listener) block(fromS, toS, la, lc float64) {
	l.lastS = toS
	lr := rumbleDB(la, lc)
	if l.on {
		l.whileOn(fromS, la, lc, lr)
		return
	}
	if !l.began {
		l.remember(la, lc, lr)
		if toS < 5*listenS-1e-6 {
			return
		}
		l.began = true
		if quantile(l.la, 0.5) > l.set.RunningAboveDB {
			l.warnings = append(l.warnings, rig.Warning{Code: "began-running", Text: fmt.Sprintf(
				"the recording begins at %.0f dB(A): the motor is taken to be running from the first sample; its start and the background are not known", quantile(l.la, 0.5))})
			l.start(0, 0.4, "it was loud when the recording began")
		}
		l.decided = fromS
		return
	}
	over := la > quantile(l.la, 0.2)+l.set.OverBackgroundDB
	low := l.overRumble(lr) && lc > quantile(l.lc, 0.5)+lowerDB
	if !over && !low && len(l.pending) == 0 {
		l.remember(la, lc, lr)
		l.decided = fromS
		return
	}
	l.pending, l.votes, l.rumbles = append(l.pending, fromS), append(l.votes, over), append(l.rumbles, low)
	yes, lows := count(l.votes), count(l.rumbles)
	switch n := len(l.votes); {
	case 10*yes < 7*n && 10*lows < 9*n: // a clap, a word
		l.drop()
		l.decided = fromS
	case toS-l.pending[0] >= l.set.HoldS:
		if 10*yes >= 7*n {
			quiet := quantile(l.la, 0.5)
			at := l.rose(l.pending[0], func(f Heard) bool { return levelDB(f.EA/(f.EndS-f.StartS)) > quiet+l.set.OverBackgroundDB/2 })
			l.start(at, 0.7, fmt.Sprintf("the sound rose from %.0f to %.0f dB(A) and stayed for %.1f s; no current was recorded", quiet, la, l.set.HoldS))
			l.decided = at
			return
		}
		quiet := quantile(l.lc, 0.5)
		at := l.rose(l.pending[0], func(f Heard) bool { return levelDB(f.EC/(f.EndS-f.StartS)) > quiet+lowerDB })
		l.start(at, 0.6, fmt.Sprintf("the low part of the sound rose from %.0f to %.0f dB(C) and stayed for %.1f s; no current was recorded", quiet, lc, l.set.HoldS))
		l.decided = at
	}
}

func count(votes []bool) int {
	n := 0
	for _, v := range votes {
		if v {
			n++
		}
	}
	return n
}

// drop forgets what may have been a change.
func (l *Listener) drop() { l.pending, l.votes, l.rumbles = l.pending[:0], l.votes[:0], l.rumbles[:0] }

func (l *Listener) remember(la, lc, lr float64) {
	l.la, l.lc, l.lr = append(l.la, la), append(l.lc, lc), append(l.lr, lr)
	if n := len(l.la); n > 3*floorN {
		l.la, l.lc, l.lr = append(l.la[:0], l.la[n-floorN:]...), append(l.lc[:0], l.lc[n-floorN:]...), append(l.lr[:0], l.lr[n-floorN:]...)
	}
}

// forget begins a new stretch.
func (l *Listener) forget() {
	l.la, l.lc, l.lr = l.la[:0], l.lc[:0], l.lr[:0]
	l.drop()
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.Inf(-1)
	}
	s := slices.Clone(v[max(0, len(v)-floorN):])
	slices.Sort(s)
	return s[int(q*float64(len(s)-1))]
}

// rose returns the instant near a block at which the sound first was over.
func (l *Listener) rose(nearS float64, over func(Heard) bool) float64 {
	for _, f := range l.ear.frames[l.ear.first(nearS-listenS):] {
		if over(f) {
			return f.StartS
		}
	}
	return nearS
}

func (l *Listener) start(atS, sure float64, evidence string) {
	if n := len(l.runs); n == 0 || atS-l.runs[n-1].EndS() > l.pauseS {
		l.runs = append(l.runs, Found{IdleA: rig.Absent("no-current"), Inrush: rig.Absent("no-current"), NoiseA: rig.Absent("no-current")})
	}
	f := &l.runs[len(l.runs)-1]
	f.On = append(f.On, Interval{atS, atS})
	f.Events = append(f.Events, event(rig.MotorStart, atS, listenS, sure, evidence))
	l.on, l.onS = true, atS
	l.bgDB = max(quantile(l.lr, 0.8), silentDB)
	l.rumbled, l.rumbleN = false, 0
	l.forget()
}

func (l *Listener) whileOn(fromS, la, lc, lr float64) {
	if len(l.la) >= 5 && l.ceased(la, lc, lr) {
		l.pending = append(l.pending, fromS)
		quieter := la < quantile(settled(l.la), 0.2)-hushedDB && lc < quantile(settled(l.lc), 0.2)-humDB
		if len(l.pending) >= calmN && (quieter || l.calm(fromS+listenS)) {
			l.stop(l.fell(), 0.6, fmt.Sprintf("the sound fell from %.0f to %.0f dB(A); no current was recorded", quantile(l.la, 0.2), la))
		}
		return
	}
	if len(l.pending) >= talkN && fromS-l.pending[0] < coastingS && la < quantile(settled(l.la), 0.2)-talkDB {
		return // somebody talks when the motor has hardly stopped
	}
	l.pending = l.pending[:0]
	if l.wasRoom(fromS, la, lr) || l.wasWater(fromS, la, lc, lr) {
		return
	}
	l.remember(la, lc, lr)
	l.decided = fromS - listenS
	if len(l.runs[len(l.runs)-1].On) == 1 && (fromS-l.onS < waterS || l.early() && fromS < roomS) {
		l.decided = l.onS
	}
}

const (
	waterS  = 6.0 // s after a start in which it may still turn out to have been the tap
	waterDB = 8.0 // a motor is louder than the tap by at least this, or it cannot be told from it
)

// wasWater says whether what was taken for a start was the tap: it stayed below what any motor makes, and
// now the motor comes on top of it; or it hissed without any rumble, and now there is one.
func (l *Listener) wasWater(fromS, la, lc, lr float64) bool {
	if l.hissed(fromS, la, lc, lr) {
		return true
	}
	plateau := quantile(l.la, 0.5)
	if fromS-l.onS > waterS || len(l.la) < 3 || plateau > l.set.RunningAboveDB || la < max(plateau+waterDB, l.set.RunningAboveDB) {
		l.louder = 0
		return false
	}
	if l.louder++; l.louder < calmN {
		return true
	}
	at := l.rose(fromS-calmN*listenS, func(f Heard) bool { return levelDB(f.EA/(f.EndS-f.StartS)) > plateau+waterDB/2 })
	l.restart(at, fmt.Sprintf("the sound rose from %.0f dB(A), which will have been the tap, to %.0f; no current was recorded", plateau, la))
	l.louder = 0
	return true
}

// restart moves the start at hand.
func (l *Listener) restart(atS float64, evidence string) {
	r := &l.runs[len(l.runs)-1]
	r.On[len(r.On)-1] = Interval{atS, atS}
	r.Events[len(r.Events)-1] = event(rig.MotorStart, atS, listenS, 0.7, evidence)
	l.onS = atS
	l.forget()
}

func (l *Listener) stop(atS, sure float64, evidence string) {
	f := &l.runs[len(l.runs)-1]
	atS = max(atS, l.onS)
	f.On[len(f.On)-1].ToS = atS
	f.Events = append(f.Events, event(rig.MotorStop, atS, 0.5, sure, evidence))
	f.States = append(f.States, rig.Span{State: rig.Unknown, FromS: rig.Fig(l.onS), ToS: rig.Fig(atS)})
	l.on, l.decided = false, atS
	l.forget()
	for _, h := range l.ear.frames[l.ear.first(atS+0.5):] {
		s := h.EndS - h.StartS
		la, lc := levelDB(h.EA/s), levelDB(h.EC/s)
		l.remember(la, lc, rumbleDB(la, lc))
	}
}

// Finish ends the session and returns its runs.
func (l *Listener) Finish(endS float64) []Found {
	if l.on {
		if len(l.pending) >= calmN/2 {
			l.stop(l.fell(), 0.5, "the sound fell just before the recording ended; no current was recorded")
		} else if la, lc, ok := l.ear.levels(endS-3*listenS, endS); ok && len(l.la) > 0 &&
			la < quantile(settled(l.la), 0.2)-hushedDB && lc < quantile(settled(l.lc), 0.2)-humDB {
			l.pending = append(l.pending[:0], endS-listenS)
			l.stop(l.fell(), 0.5, "the sound was falling when the recording ended; no current was recorded")
		} else {
			l.stop(endS, 0.3, "the recording ended while it was loud")
			l.warnings = append(l.warnings, rig.Warning{Code: "ended-running", Text: "the recording ended while the motor was heard: the stop is the recording's end"})
		}
	}
	l.decided = endS
	return l.runs
}

// Warnings returns what was wrong with the sound.
func (l *Listener) Warnings() []rig.Warning { return l.warnings }
