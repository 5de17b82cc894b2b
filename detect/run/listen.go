package run

import (
	"fmt"
	"math"

	"quern/config"
	"quern/rig"
)

// Listener finds starts and stops from sound alone, by what rumbles (see rumble.go). It is coarser than
// current: a start shows when the rumble rises, a stop is where the turntable's coasting began. A motor that is
// quieter than the tap in every measure cannot be heard, nor can a jam that does not hum.
type Listener struct {
	set       config.DetectHeard
	pauseS    float64
	induction bool
	magnet    bool

	open   beat // the beat at hand
	beats  []beat
	water  water
	still  []float64 // rumble while the motor was off, dB: the last of it
	ran    []float64 // rumble while it was on, dB, as far as it could be told
	ranA   []float64 // and the A-level then
	over   []float64 // by how much the A-level was over the rumble in the run's first seconds, dB
	floor  float64   // median of still when the motor started
	fall   *fallen   // the rumble has fallen, and it is not known yet why
	overDB float64   // the least of it in the runs before, dB
	ownDB  float64   // what the motor made when it ran last, dB(A)
	hiss   bool      // the motor does not rumble, or there is no telling: its A-level stands for it

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
	return &Listener{set: set.Bench.Detect.Heard, pauseS: set.Procedure.LongestPauseS, induction: set.Unit.Motor == "induction",
		magnet: set.Unit.Motor == "permanent-magnet", water: newWater(), overDB: math.Inf(1)}
}

// DecidedS is the instant up to which it is known whether the motor was on.
func (l *Listener) DecidedS() float64 { return l.decided }

// Heard takes 10 ms of sound.
func (l *Listener) Heard(h Heard) {
	if h.Missing {
		// Nothing can be told while the source is gone: what was pending is dropped, the state stays.
		l.open, l.beats, l.fall = beat{}, l.beats[:0], nil
		if l.began {
			l.decided = max(l.decided, h.StartS-beatS)
		}
		return
	}
	if !l.open.add(h) {
		return
	}
	b := l.open
	l.open = beat{}
	l.lastS = b.toS
	l.take(b)
}

func (l *Listener) take(b beat) {
	l.measure(&b)
	l.beats = append(l.beats, b)
	if n := len(l.beats); n > 2*keptN {
		if l.fall != nil {
			l.fall.shift(n - keptN)
		}
		l.beats = append(l.beats[:0], l.beats[n-keptN:]...)
	}
	switch {
	case !l.began:
		l.begin()
	case l.on:
		l.whileOn()
	default:
		l.whileOff()
	}
}

// beginN is how many beats tell whether the recording begins with the motor running.
const beginN = 10

func (l *Listener) begin() {
	if len(l.beats) < beginN {
		return
	}
	l.began = true
	was := l.beats[len(l.beats)-beginN:]
	a, r := medianOf(was, beat.levelA), medianOf(was, beat.rumble)
	if a > l.set.RunningAboveDB && (was[0].plain() || r > a-humsDB || a > tapMostDB) {
		l.warnings = append(l.warnings, rig.Warning{Code: "began-running", Text: fmt.Sprintf(
			"the recording begins at %.0f dB(A): the motor is taken to be running from the first sample; its start and the background are not known", a)})
		l.hiss = !(r > a-humsDB)
		l.start(0, 0.4, "it was loud when the recording began")
		return
	}
	for i := range was {
		l.still = append(l.still, was[i].r)
	}
	l.decided = was[0].fromS
}

// whileOff waits for a rumble that comes and stays.
func (l *Listener) whileOff() {
	n := len(l.beats)
	if n < 2*beginN {
		return
	}
	l.water.learn(l.beats)
	last := l.beats[max(0, n-holdN):]
	base := max(l.base(n-holdN), upTo(last, beat.levelA, 0)+10*math.Log10(l.water.within))
	rumbles, over := true, 0
	for i := range last {
		rumbles = rumbles && last[i].lo > max(base+risesDB, leastRumbleDB)
	}
	if rumbles && !last[0].plain() {
		i := n - holdN
		begins := max(base+risesDB/2, medianOf(last, beat.rumble)-slowDB)
		for i > 0 && l.beats[i-1].lo > begins && l.beats[i-1].fromS > l.offS() {
			i--
		}
		l.hiss = false
		l.start(l.beats[i].fromS, 0.7, fmt.Sprintf("what rumbles rose from %.0f to %.0f dB(C) and stayed for %.1f s; no current was recorded", base, medianOf(last, beat.rumble), holdN*beatS))
		return
	}
	if i := l.loudAgain(); i >= 0 && l.beats[i].fromS > l.offS() && l.beats[n-againN].fromS > l.offS()+againS {
		l.start(l.beats[i].fromS, 0.6, fmt.Sprintf("the sound rose to %.0f dB(A), as loud as the motor was before; no current was recorded", medianOf(last, beat.levelA)))
		return
	}
	// A motor that does not rumble, or a level meter: how loud it is must tell.
	hold := max(int(l.set.HoldS/beatS+0.5), 1)
	if last = l.beats[max(0, n-hold):]; n < hold+beginN {
		last = nil
	}
	least := l.water.quietDB + l.set.OverBackgroundDB
	if len(last) > 0 && !last[0].plain() {
		least = max(least, tapMostDB)
	}
	first := -1
	for i := range last {
		if last[i].levelA() > least {
			if over++; first < 0 {
				first = n - len(last) + i
			}
		}
	}
	if len(last) > 0 && last[0].levelA() > least && 10*over >= 7*len(last) && hisses(last) {
		for first > 0 && l.beats[first-1].levelA() > least-l.set.OverBackgroundDB/2 && l.beats[first-1].fromS > l.offS() {
			first--
		}
		l.hiss = true
		l.start(l.beats[first].fromS, 0.6, fmt.Sprintf("the sound rose from %.0f to %.0f dB(A) and stayed for %.1f s; no current was recorded", l.water.quietDB, medianOf(last, beat.levelA), l.set.HoldS))
		return
	}
	l.still = append(l.still, l.beats[n-1].r)
	if n := len(l.still); n > 2*stillN {
		l.still = append(l.still[:0], l.still[n-stillN:]...)
	}
	l.decided = max(l.decided, l.beats[max(0, n-max(hold, 2*holdN))].fromS)
}

// loudAgain returns the beat since which it is as loud as the motor was before and not as the tap is; -1: it is not.
func (l *Listener) loudAgain() int {
	n := len(l.beats)
	own := l.ownDB
	if l.on {
		own = l.own()
	}
	if len(l.runs) == 0 || n < 2*againN || l.beats[n-1].plain() {
		return -1
	}
	last := l.beats[n-againN:]
	a, tap := upTo(last, beat.levelA, 0.1), l.water.mostDB()
	if a < max(own-againDB, tap+overTapDB) || l.water.tells(last, math.Inf(-1)) {
		return -1
	}
	i := n - againN
	for i > 1 && l.beats[i-1].levelA() > max(a-againDB/2, tap+tapWithinDB) {
		i--
	}
	if upTo(l.beats[max(0, i-backN):i], beat.levelA, 0.3) > a-steadyDB {
		return -1 // it coasts
	}
	return i
}

// base is the rumble before a rise whose first beat is number n: the least of the last second.
func (l *Listener) base(n int) float64 {
	out := leastHeardDB + 200
	for i := max(1, n-int(1/beatS)); i < n-1; i++ {
		if l.beats[i].fromS >= l.offS() || i > n-3 {
			out = min(out, mean3(l.beats, i))
		}
	}
	return out
}

// offS is when the motor last stopped.
func (l *Listener) offS() float64 {
	if len(l.runs) == 0 {
		return 0
	}
	return l.runs[len(l.runs)-1].EndS()
}

func (l *Listener) start(atS, sure float64, evidence string) {
	if n := len(l.runs); n == 0 || atS-l.runs[n-1].EndS() > l.pauseS {
		l.runs = append(l.runs, Found{IdleA: rig.Absent("no-current"), Inrush: rig.Absent("no-current"), NoiseA: rig.Absent("no-current")})
	}
	f := &l.runs[len(l.runs)-1]
	f.On = append(f.On, Interval{atS, atS})
	f.Events = append(f.Events, event(rig.MotorStart, atS, 0.1, sure, evidence))
	if len(l.still) > 0 {
		l.floor = quantile(l.still, 0.5)
	} else {
		l.floor = leastHeardDB
	}
	l.ran, l.ranA, l.over, l.fall = l.ran[:0], l.ranA[:0], l.over[:0], nil
	l.on, l.onS = true, atS
	l.decided = max(l.decided, atS)
	for i := range l.beats {
		if l.beats[i].fromS >= atS {
			l.remeasure(&l.beats[i])
			l.remember(i)
		}
	}
}

func (l *Listener) stop(atS, withinS, sure float64, evidence string) {
	f := &l.runs[len(l.runs)-1]
	atS = max(atS, l.onS)
	f.On[len(f.On)-1].ToS = atS
	f.Events = append(f.Events, event(rig.MotorStop, atS, withinS, sure, evidence))
	f.States = append(f.States, rig.Span{State: rig.Unknown, FromS: rig.Fig(l.onS), ToS: rig.Fig(atS)})
	l.ownDB = l.own()
	if len(l.over) > 3*beginN {
		l.overDB = min(l.overDB, quantile(l.over[beginN:], overQ))
	}
	l.on, l.decided = false, max(l.decided, atS)
	l.fall, l.hiss = nil, false
	for i := range l.beats {
		l.measure(&l.beats[i])
	}
}

// Finish ends the session and returns its runs.
func (l *Listener) Finish(endS float64) []Found {
	if l.on {
		if f := l.fall; f != nil && f.gone > 0 {
			l.stopHeld(f, l.level())
		} else if f != nil && l.level()-f.leastDB > endsDB {
			l.stop(l.knee(f.from, len(l.beats)-1), 0.5, 0.5, "the sound was falling when the recording ended; no current was recorded")
		} else if from, ok := l.ending(); ok {
			l.stop(l.knee(from, len(l.beats)-1), 0.5, 0.4, "the sound was falling when the recording ended; no current was recorded")
		} else {
			l.stop(endS, 0.5, 0.3, "the recording ended while it was loud")
			l.warnings = append(l.warnings, rig.Warning{Code: "ended-running", Text: "the recording ended while the motor was heard: the stop is the recording's end"})
		}
	}
	l.decided = endS
	return l.runs
}

// Warnings returns what was wrong with the sound.
func (l *Listener) Warnings() []rig.Warning { return l.warnings }
