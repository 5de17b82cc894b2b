package run

import (
	"math"

	"quern/rig"
)

const (
	warmS       = 0.5   // s of current looked at before anything is said
	warmHearS   = 2.0   // s of sound, if current flows from the first record on
	keepS       = 4.0   // s of records kept for looking back
	riseDB      = 2.5   // a motor that starts lifts the sound by at least this (A or C)
	fallDB      = 3.0   // a motor that stops lowers it by at least this
	hearS       = 1.0   // s the sound may take to rise after a start
	coastS      = 2.5   // s the sound may take to fall after a stop: the turntable coasts
	deepShare   = 0.75  // of the no-load current: no motor draws less for a second
	deepDB      = 2.0   // dB that a second of coasting lowers the sound by
	againShare  = 0.85  // of the current that a step led to, below which it has stepped again
	deadFlat    = 0.015 // deviation, as a share, of a current that nothing that turns draws
	beatsDev    = 0.03  // the same of readings, whose windows are no whole cycles
	longCoastS  = 4.0   // the same where another appliance's current hides the motor's
	deadShare   = 0.5   // a clamp with less than this share of its own learned noise is dead
	deadLookS   = 0.3   // s before a start in which it shows whether it is dead
	inrushSure  = 2.2   // times rated: a step this high is a motor's inrush, whatever is heard
	leastShare  = 0.35  // an induction motor draws at least this share of rated (no-load: 50-85 %)
	ownShare    = 0.6   // of the largest inrush seen, from which a step is an inrush again
	humMoreDB   = 3.0   // dB more that the C-level must rise than the A-level: a compressor hums too
	jogS        = 3.0   // s after a stop within which a short current is the switch being jogged
	sineMost    = 1.5   // peak over RMS up to which a current is a sine
	heatShare   = 1.06  // a current that was never above its own mean by more than this has no inrush
	beatMost    = 1.3   // the same of readings, whose windows are no whole cycles
	idleMost    = 0.95  // times rated: no motor that has run up draws as much without load
	pulseCrest  = 1.65  // peak over RMS from which a current comes in pulses; a sine has 1.41
	soundS      = 0.3   // s of sound needed after a current has gone, to say whether it went too
	stepRatio   = 1.8   // times the current before it: a second step while the first is still being judged
	settledS    = 0.5   // s after which a start without an inrush shows its steady current
	droppedS    = 0.1   // s after which a lower current of the idle clamp is its new floor
	noiseShare  = 0.25  // of the least no-load current: less may be the noise of a clamp of which nothing is known yet
	lateN       = 3     // records that a current may have begun in before it is seen to flow
	dipQuarters = 3     // quarters looked ahead when a switching instant is placed
)

// turn is a change of the motor between on and off, seen in the current.
type turn struct {
	on       bool
	atS      float64
	withinS  float64
	sure     float64
	evidence string
	leftA    float64 // what goes on after a stop and was thought to be the motor's, A RMS
	tookAll  bool    // a stop in which what was thought to be another appliance's went too
	unseen   bool    // a stop that no current shows: the recording of it had ended
	dead     bool    // a start just before which the clamp was dead
}

type flowState int

const (
	flowWarm flowState = iota
	flowOff
	flowRising
	flowOn
	flowFalling
	flowLost
)

// flow tells whether motor current flows. Its thresholds hang on the noise it learns while there is
// none, on the no-load current it learns while there is, and on the nameplate until then.
type flow struct {
	lim limits
	ear *ear

	state      flowState
	recent     []Current
	base       float64    // RMS while off: noise, hum, other appliances
	other      float64    // what other appliances draw of it
	floorA     float64    // base without them
	guests     []guest    // of which these came while the motor ran
	was        alone      // what was known before the first of them
	lastDown   strike     // the last step down
	upA        float64    // the largest step up of readings that may have been an appliance's; 0: none
	upHeard    bool       // something was heard with it
	lessN      int        // records in a row in which less flows than other appliances draw
	less       Current    // the first of them
	pending    strike     // a step that is being judged; sizeA 0: none
	revised    *revision  // what has just been learned of the current before
	guestAtS   float64    // when the last of them was switched on or off
	switched   []Interval // about when they were
	resumedS   float64    // when the clamp was last back
	doubted    bool       // the last stop may have been the clamp's
	spread     float64    // mean square deviation of it
	offDev     float64    // deviation of the RMS while off, before the last start
	offPeak    float64    // largest |i| while off, slowly forgotten
	late       []Current  // the last records of the idle clamp, of which nothing has been learned yet
	hears      bool       // the microphone has heard this motor start
	ownPeak    float64    // largest step of a start of this session
	stopS      float64    // of the last stop; far in the past: none yet
	startS     float64    // of the stretch at hand
	held       bool       // whether the motor made that is not known yet
	anew       *flow      // what would be known if it had not; nil: nothing says so
	prior      prior      // to that start
	asked      bool       // whether that start was heard has been settled
	leftA      float64    // what goes on after the pending stop and was thought to be the motor's
	dropped    float64    // time the idle clamp has been far below base
	noise      float64    // learned noise floor; 0: none learned
	zeroS      float64    // s of what was learned from in which the clamp showed none at all
	learnS     float64    // time it was learned over
	idle       float64    // least half-second mean while running; 0: none yet
	idleBeside bool       // it has been seen beside another appliance only
	block      meanOver
	ambientDB  float64 // A-level before the start at hand
	candS      float64 // where the pending change began
	cand       Current
	low        Current // the first record of the end of a current that was judged a short start; its EndS 0: none
	step       bool    // the pending stop is a step down onto another appliance's current
	third      float64 // third harmonic while off, and its mean square deviation
	thirdVar   float64
	thirdIdle  float64  // least that the running motor adds to that over half a second; 0: none yet
	thirds     meanOver // third harmonic of the half second at hand
	forgetS    float64  // up to when no averaging meter had begun to forget it
	jumpS      float64  // when the fundamental last jumped
	peak       float64
	chargeS    float64 // when something was charged with this largest RMS, A, and no motor had started yet; 0: never
	chargeA    float64
	bootS      float64 // s that the motor may take to start after that
	after      meanOver
	fromA      float64  // RMS shortly before the pending change
	afterSq    meanOver // the same of its square
	hush       meanOver // noise since the current went away
	slow       float64  // mean RMS about 0.2 s ago
	lostLA     float64

	turns    []turn
	lost     []Interval // clamp gone while the sound went on, or its source gone
	lostS    float64
	stands   bool    // the rotor is locked: what is heard is not its turning
	slipped  bool    // it is alive, but came off the conductor
	unborne  float64 // the fall that a living clamp shows to be a stop, and the sound does not yet
	missing  bool    // the source itself is gone
	missS    float64 // end of what is known to be missing
	endedS   float64 // the clamp's recording ended then and the sound goes on; 0: it has not
	back     meanOver
	warnings []rig.Warning
	decided  float64
}

func (f *flow) idleRef() float64 {
	if f.idle > 0 {
		return f.idle
	}
	return f.lim.priorIdle
}

// onA is the RMS above which current flows.
func (f *flow) onA() float64 {
	d := f.lim.set
	return f.base + max(d.OnNoiseRatio*math.Sqrt(f.spread), d.OnRatedRatio*f.lim.ratedA, d.OffIdleShare*f.idleRef())
}

// offA is the RMS below which it does not: half way down again, but for an induction motor, which
// cannot draw less than its no-load current, somewhat below that.
func (f *flow) offA() float64 {
	a := f.base + (f.onA()-f.base)/2
	if f.lim.induction {
		a = max(a, 0.4*f.idleRef())
	}
	if f.lim.induction && f.shares() { // a heater's current stands at right angles to the no-load current
		a = min(a, f.base+(math.Hypot(f.other, f.idleRef())-f.other)/2)
	}
	if f.noise == 0 && f.learnS == 0 {
		a = max(a, noiseShare*f.lim.priorIdle)
	}
	return a
}

func (f *flow) push(c Current) {
	if c.Missing {
		f.miss(c)
		return
	}
	f.recent = append(f.recent, c)
	if n := len(f.recent); n > 64 && c.EndS-f.recent[n/2].EndS > keepS {
		f.recent = append(f.recent[:0], f.recent[n/2:]...)
	}
	if f.judgeAnew(c) {
		return
	}
	switch {
	case f.state == flowOn, f.state == flowFalling && f.step:
		f.guest(c)
	case f.state == flowRising && c.Wave:
		f.spot(c)
	default:
		f.drop()
	}
	if f.vanished(c) {
		return
	}
	f.next(c)
}

func (f *flow) next(c Current) {
	switch f.state {
	case flowWarm:
		f.warm(c)
	case flowOff:
		f.off(c)
	case flowRising:
		f.rising(c)
	case flowOn:
		f.running(c)
	case flowFalling:
		f.falling(c)
	case flowLost:
		f.gone(c)
	}
}

func (f *flow) off(c Current) {
	if c.RMSA > f.onA() {
		f.state, f.cand, f.peak, f.low = flowRising, c, 0, Current{}
		f.candS = f.onset()
		f.after = meanOver{}
		f.late = f.late[:0] // they hold some of it
		f.rising(c)
		return
	}
	if f.late = append(f.late, c); !c.Wave || len(f.late) > lateN {
		f.learn(f.late[0])
		f.late = append(f.late[:0], f.late[1:]...)
	}
	f.decided = c.StartS - (c.EndS - c.StartS)
	if f.booting(f.decided) {
		f.decided = min(f.decided, f.chargeS)
	}
}

func (f *flow) running(c Current) {
	if !f.asked && c.EndS > f.startS+hearS {
		f.asked = true
		f.candS = f.startS
		f.prior.roseDB = f.heardStart(c.EndS)
		f.hears = f.hears || f.prior.roseDB >= riseDB
	}
	if c.SwingA < f.offA() { // a clamp that dies leaves its offset
		f.fall(c, f.shares() && c.RMSA > f.gapA())
		return
	}
	if f.ear.any && c.EndS > f.startS+hearS+2*c.rowS() && c.RMSA < f.slow-0.5*f.idleRef() {
		f.fall(c, true)
		return
	}
	if f.ear.any && f.ebb(c) {
		return
	}
	s := (c.EndS - c.StartS) / 2
	f.slow += min(s/0.1, 1) * (c.RMSA - f.slow)
	f.learnIdle(c, s)
	f.settle(c)
}

// finish closes what is pending when the recording ends at endS.
func (f *flow) finish(endS float64) {
	if f.state == flowWarm {
		f.begin()
	}
	switch f.state {
	case flowRising:
		unheard := f.heardStart(endS) < riseDB && f.peak <= f.sureA() // so soon its course does not tell
		if endS-f.candS >= f.lim.set.OnHoldS && !unheard && f.course(f.recent[len(f.recent)-1], endS-f.candS) == unsaid {
			f.start(f.cand)
		}
	case flowFalling:
		if !f.step {
			f.stop(0.8, " at the very end of the recording")
		}
	case flowLost:
		f.lost = append(f.lost, Interval{f.lostS, endS})
	}
	switch f.state {
	case flowOn, flowFalling, flowLost:
		f.endRunning(endS)
	}
	f.decided = endS
}

func (f *flow) warn(code, text string) {
	f.warnings = append(f.warnings, rig.Warning{Code: code, Text: text})
}
