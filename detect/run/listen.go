package run

import (
	"fmt"
	"slices"

	"quern/config"
	"quern/rig"
)

const (
	windowS  = 120.0  // s after which what lies further back is decided
	aheadS   = 60.0   // s that are listened on before
	learnS   = 3600.0 // s that are learned from, or twice that
	patientS = 1200.0 // s that a recording is waited with in which a motor has not surely been heard
	soonN    = 10     // hops for which what is known for the time being holds

	startWithinS = 0.2 // s; a rotor on its way up is not heard above the room at once
)

// Listener finds starts and stops from sound alone. It is coarser than current: a start shows in
// some tens of milliseconds, a stop only as the turntable coasts down.
type Listener struct {
	set      config.DetectHeard
	pauseS   float64
	humLess  float64 // dB by which the hum of a stall may be less than that octave of the running motor
	floors   floors
	frames   []Heard
	dueN     int   // hop up to which was to be decided last
	pathN    int   // hops from the beginning whose motion is decided
	motion   uint8 // at the last of them
	sameN    int   // hop since which it has been so
	runs     []Found
	onS      float64
	decided  float64
	lastS    float64
	warnings []rig.Warning
	spectra  spectra
	learnedN int  // hops they were learned from
	seen     bool // a motor was seen by other means: what is heard need not be waited with

	soon soon
}

// soon is what Now last found, and at which hop.
type soon struct {
	hop      int
	l        *Listener
	learnedN int // hops its spectra were learned from
}

// NewListener returns a listener for a session.
func NewListener(set config.Setup) *Listener {
	l := &Listener{set: set.Bench.Detect.Heard, pauseS: set.Procedure.LongestPauseS, motion: motions, humLess: lockedLess}
	if set.Unit.Motor == "permanent-magnet" {
		l.humLess = limitedLess
	}
	return l
}

// DecidedS is the instant up to which it is known whether the motor was on.
func (l *Listener) DecidedS() float64 { return l.decided }

// Heard takes 10 ms of sound.
func (l *Listener) Heard(h Heard) {
	l.floors.push(h)
	l.frames = append(l.frames, h)
	l.lastS = h.EndS
	if l.floors.next >= l.dueN+int(windowS/hopS) {
		l.dueN = l.floors.next - int(aheadS/hopS)
		l.decide(l.dueN, false)
	}
}

// Seen says that a run was seen in the current: what is heard will hardly be asked for.
func (l *Listener) Seen() { l.seen = true }

// on says whether the motor is on at what is decided.
func (l *Listener) on() bool { return l.motion == turns || l.motion == hums || l.motion == grinding }

// decide decides on all hops before one, unless it is too early and they are not the last, and forgets what is not
// needed any more.
func (l *Listener) decide(to int, last bool) {
	fl := l.floors.all()
	if n := l.learnedN; l.seen && l.spectra.hears() && len(fl) >= n && len(fl) <= n+n/2 {
		l.silence(fl, &l.spectra) // learning each time from all there is would take longer the longer it lasts
	} else {
		l.spectra, l.learnedN = l.learn(fl), len(fl)
	}
	if !last && !l.seen && float64(to)*hopS < patientS && l.unsure() {
		return
	}
	l.follow(fl, to)
	l.decided = max(l.decided, float64(to)*hopS-coastsS-kneeS)
	if l.on() && l.decided < l.onS {
		l.decided = l.onS
	}
	keep := 0
	for keep < len(l.frames) && l.frames[keep].EndS < l.decided-1 {
		keep++
	}
	l.frames = append(l.frames[:0], l.frames[keep:]...)
	if n := len(l.floors.level) - int(learnS/hopS); n > int(learnS/hopS) {
		l.floors.forget(n)
	}
}

// unsure says whether what comes later may still change everything: it may have been running all the time; or what
// only hisses, or does not hum, may be the tap, and the motor is yet to come.
func (l *Listener) unsure() bool {
	if l.spectra.hears() {
		return !l.spectra.humming || !l.spectra.use[l.spectra.humAt()]
	}
	return l.motion == motions && l.medianDB(0, aheadS) > l.set.RunningAboveDB
}

// learn learns from floors, and then has them silent where the input was dead. A dead input is not the room; but if
// there is nothing quiet else, and what is heard is loud, it must be.
func (l *Listener) learn(fl []octaveDB) spectra {
	s := learn(fl, l.floors.level, l.set)
	s.humLess = l.humLess
	if dead := l.silence(fl, &s); !dead || s.hears() {
		return s
	}
	silent := learn(fl, l.floors.level, l.set)
	silent.humLess = l.humLess
	if !silent.hears() || silent.loudDB() < l.set.RunningAboveDB {
		return s
	}
	return silent
}

// silence has floors silent where the input was dead, and says whether it was.
func (l *Listener) silence(fl []octaveDB, s *spectra) (dead bool) {
	for k, d := range l.floors.dead {
		if !d {
			continue
		}
		dead = true
		for b := range fl[k] {
			if s.known[b] {
				fl[k][b] = noDB
			}
		}
	}
	return dead
}

// follow finds the motion up to a hop.
func (l *Listener) follow(fl []octaveDB, to int) {
	from := l.pathN - l.floors.first
	if l.spectra.hears() {
		path := l.spectra.path(fl, l.floors.level, l.floors.dead, from, int(l.motion))
		for k, m := range path[:to-l.pathN] {
			l.turn(fl, from+k, m)
		}
	} else if l.motion == motions {
		l.motion = stopped
	}
	l.pathN = to
}

// turn takes the motion at one more hop.
func (l *Listener) turn(fl []octaveDB, k int, m uint8) {
	before, was := l.motion, l.on()
	l.motion = m
	switch {
	case before == motions && l.on():
		la := l.medianDB(0, 1)
		l.warnings = append(l.warnings, rig.Warning{Code: rig.BeganRunning, Text: fmt.Sprintf(
			"the recording begins at %.0f dB(A) and is quieter only later: the motor is taken to be running from the first sample; its start and the background are not known", la)})
		l.start(0, 0.4, "it was loud when the recording began")
	case !was && l.on():
		at := l.rose(fl, k)
		l.start(at, 0.7, l.moved(fl, at, "rose")+"; told from the sound alone")
	case was && !l.on():
		at := l.fell(fl, k, before)
		l.stop(at, 0.6, l.moved(fl, at, "fell")+"; told from the sound alone")
	}
	if m != before {
		l.sameN = l.floors.first + k
	}
}

func (l *Listener) start(atS, sure float64, evidence string) {
	atS = max(atS, l.decided)
	if n := len(l.runs); n == 0 || atS-l.runs[n-1].EndS() > l.pauseS {
		l.runs = append(l.runs, Found{IdleA: rig.Absent("no-current"), Inrush: rig.Absent("no-current"), NoiseA: rig.Absent("no-current")})
	} else {
		atS = max(atS, l.runs[n-1].EndS())
	}
	f := &l.runs[len(l.runs)-1]
	f.On = append(f.On, Interval{atS, atS})
	f.Events = append(f.Events, event(rig.MotorStart, atS, startWithinS, sure, evidence))
	l.onS = atS
}

func (l *Listener) stop(atS, sure float64, evidence string) {
	f := &l.runs[len(l.runs)-1]
	atS = max(atS, l.onS)
	f.On[len(f.On)-1].ToS = atS
	f.Events = append(f.Events, event(rig.MotorStop, atS, 0.5, sure, evidence))
	f.States = append(f.States, rig.Span{State: rig.Unknown, FromS: rig.Fig(l.onS), ToS: rig.Fig(atS)})
}

// Finish ends the session and returns its runs.
func (l *Listener) Finish(endS float64) []Found {
	if l.floors.s > 0 {
		l.floors.close()
	}
	if l.floors.next > l.pathN {
		l.decide(l.floors.next, true)
	}
	if l.on() {
		if at, by := l.spectra.knee(l.floors.all(), max(0, l.sameN-l.floors.first), len(l.floors.level), l.motion == hums); by > fallsDB {
			l.stop(float64(l.floors.first+at)*hopS, 0.5, "the sound was falling when the recording ended; told from the sound alone")
			l.motion = stopped
		}
	}
	if l.on() {
		l.stop(endS, 0.3, "the recording ended while it was loud")
		l.motion = stopped
		l.warnings = append(l.warnings, rig.Warning{Code: rig.EndedRunning, Text: "the recording ended while the motor was heard: the stop is the recording's end"})
	}
	l.decided = endS
	return l.runs
}

// Warnings returns what was wrong with the sound.
func (l *Listener) Warnings() []rig.Warning { return l.warnings }

// provisional returns what would be found if the recording ended now.
func (l *Listener) provisional() *Listener {
	was := &l.soon
	if was.l == nil || l.floors.next >= was.hop+soonN {
		c := *l // which only reads the sound
		c.runs, c.warnings = nil, nil
		for _, r := range l.runs {
			r.On, r.Events, r.States = slices.Clone(r.On), slices.Clone(r.Events), slices.Clone(r.States)
			c.runs = append(c.runs, r)
		}
		fl := c.floors.all()
		// It need not be learned anew each time from much that is known already.
		if n := was.learnedN; was.l == nil || !was.l.spectra.hears() || len(fl) < n || len(fl) > n+n/50+soonN {
			c.spectra, was.learnedN = l.learn(fl), len(fl)
		} else {
			c.spectra = was.l.spectra
		}
		c.follow(fl, c.floors.next)
		was.hop, was.l = l.floors.next, &c
		c.soon, c.floors, c.frames = soon{}, floors{}, nil
	}
	return l.soon.l
}
