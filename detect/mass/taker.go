package mass

import (
	"math"

	"quern/rig"
)

const (
	farSteps     = 8.0  // divisions: from here on the indication is coming to rest
	tailShare    = 1.5  // of that time it must then rest: so the tail of a filter is waited out to half a division
	unrestShare  = 0.25 // of the time without any rest: what shook for long rests for a moment by chance
	twoShare     = 2.0  // of RestS, if the indication went to and fro between two values: chance makes that more often than one
	shiftedSteps = 2.0  // divisions that a knock may leave the indication off by
)

// Taker takes weighings from a scale's readings: by itself when the pan is at rest after a load was
// placed or removed, and on the operator's button. It keeps ten seconds. What stands on the pan when it
// first comes to rest is no change, and is not taken by itself.
//
// A load is told from what comes and goes by itself by how fast the indication changes. Three things it
// cannot know: a hand held still to a division is a load; a bowl swapped within RestS for one of the
// same mass is none; and a scale that holds its last stable value while it drains shows one step.
type Taker struct {
	set Settings
	pan *Pan
	now Reading
	in  rig.Reading

	past   past
	rest   stretch
	floorS float64 // no wait begins before: a gap, or the motor ran
	count  int     // of readings since
	begun  bool
	motor  bool
	wet    bool

	unrest      bool // since it last settled
	unrestS     float64
	disturbed   bool    // it changes faster than by itself
	disturbedS  float64 // last instant of that, or of a gap
	disturbance float64 // when it began

	known   bool    // the pan has settled before
	calmG   float64 // last indication that was not disturbed
	baseG   float64 // what was on the pan before the change, with what has dripped since
	restG   float64 // what it showed when it last settled without a change open
	pending bool    // a load was placed or removed and not taken yet
	riseS   float64 // when the present disturbance rose by a load
	risen   bool
	placedS rig.Figure

	after    After
	watching bool
	of       float64 // g, of the weighing it watches
	lo, hi   float64
}

// NewTaker returns a taker for one scale.
func NewTaker(s Settings) *Taker {
	s = s.filled()
	return &Taker{set: s, pan: New(s.DivisionG), floorS: math.Inf(-1), disturbedS: math.Inf(-1), placedS: rig.Absent("nothing-placed")}
}

// Wet says that what is weighed drains: it is then taken by itself only once its slope is known to
// be within Settings.SlopeLimitGPerMin, which takes up to 10 s more.
func (t *Taker) Wet(on bool) { t.wet = on }

// Push takes the next reading and whether the motor runs, and returns a weighing if the pan has just
// come to rest after a load was placed or removed: one a change, and none while the motor runs. A
// reading that is no number, or before the last, counts as none.
func (t *Taker) Push(r rig.Reading, motorOn bool) (Candidate, bool) {
	if math.IsNaN(r.Value+r.AtS) || math.IsInf(r.Value, 0) || math.IsInf(r.AtS, 0) || t.begun && r.AtS < t.in.AtS {
		if motorOn {
			t.motor = true
		}
		return Candidate{}, false
	}
	prev := t.in
	if !t.begun {
		prev = r
		t.begun, t.calmG, t.baseG = true, r.Value, r.Value
	}
	t.in = r
	t.now = t.pan.Push(r)
	t.past.push(r.AtS, r.Value)

	gap := r.AtS-prev.AtS > t.set.GapS
	if gap || motorOn || t.motor {
		t.disturbedS, t.floorS, t.count = r.AtS, r.AtS, 0
	}
	t.count++
	t.extend()
	t.motor = motorOn
	if t.now.Shaky && !t.unrest {
		t.unrest, t.unrestS = true, r.AtS
	}
	inS := r.AtS - prev.AtS
	t.disturb(t.pan.spreadG > t.set.dripG(restS) || math.Abs(r.Value-prev.Value) > t.set.dripG(inS), inS)
	t.watch(gap)
	return t.settle()
}

// extend makes the stretch of rest longer by the newest reading.
func (t *Taker) extend() {
	lo, hi := min(t.rest.lo, t.in.Value), max(t.rest.hi, t.in.Value)
	if t.rest.spots == 0 || !still(hi-lo, t.set.DivisionG) {
		t.rest = t.past.stretch(t.set.DivisionG)
		return
	}
	t.rest.lo, t.rest.hi = lo, hi
	t.rest.spots++
}

// disturb follows disturbances: what changes during one is a load, unless it came back or dripped.
func (t *Taker) disturb(is bool, inS float64) {
	v := t.in.Value
	if is {
		if !t.disturbed {
			t.disturbed, t.disturbance = true, t.in.AtS-inS
		}
		t.disturbedS = t.in.AtS
		if v-t.calmG < t.set.MinStepG {
			t.risen = false
		} else if !t.risen {
			t.risen, t.riseS = true, t.in.AtS
		}
		return
	}
	step := v - t.calmG
	if t.disturbed {
		t.disturbed = false
		dripG := min(t.set.DripGPerMin/60*(t.in.AtS-t.disturbance), t.set.MinStepG/2)
		if math.Abs(step) > shiftedSteps*t.set.DivisionG*1.001+dripG {
			t.pending = true
			if t.risen {
				t.placedS = rig.Fig(t.riseS)
			}
		}
		t.risen = false
	}
	if !t.pending {
		t.baseG += step
	}
	t.calmG = v
}

// needS is how long the pan must be at rest: RestS, and more the slower it came to rest.
func (t *Taker) needS() float64 {
	need := t.set.RestS
	if t.two() {
		need = max(need, min(twoShare*need, longestWaitS))
	}
	if t.unrest {
		unrestS := t.rest.fromS - t.unrestS
		tailS := unrestS
		if far, ok := t.past.lastFar(t.in.Value, farSteps*t.set.DivisionG); ok {
			tailS = min(tailS, t.rest.fromS-far)
		}
		need = max(need, min(max(tailShare*tailS, unrestShare*unrestS), longestWaitS))
	}
	return need
}

// restedS is how long it has been at rest since the last gap or run of the motor, and readings how
// many there were.
func (t *Taker) restedS() float64 { return t.in.AtS - max(t.rest.fromS, t.floorS) }
func (t *Taker) readings() int    { return min(t.rest.spots, t.count) }

// two says whether the indication at rest went to and fro between two values.
func (t *Taker) two() bool { return t.rest.hi > t.rest.lo }

// needReadings is how many there must be at rest.
func (t *Taker) needReadings() int {
	if t.two() {
		return t.set.Readings + t.set.Readings/2
	}
	return t.set.Readings
}

// ready says whether the pan has been at rest for as long as a weighing needs.
func (t *Taker) ready() bool {
	restedS := t.restedS()
	return !t.motor && !t.now.Shaky && t.readings() >= t.needReadings() && restedS >= t.set.RestS*0.999 && restedS >= t.needS()*0.999
}

// settle takes what came to rest.
func (t *Taker) settle() (Candidate, bool) {
	if !t.ready() {
		return Candidate{}, false
	}
	v := t.in.Value
	changeG := min(math.Abs(v-t.baseG), math.Abs(v-t.restG))
	fresh := t.known && t.pending && changeG >= t.set.MinStepG*0.9999
	if fresh && t.wet && t.weighable() && !t.drained() {
		return Candidate{}, false
	}
	stepG := v - t.baseG
	if !t.known || fresh || changeG <= shiftedSteps*t.set.DivisionG*1.001 {
		t.baseG, t.restG = v, v
	}
	t.known, t.pending, t.unrest = true, false, false
	if !fresh || !t.weighable() {
		return Candidate{}, false
	}
	c := t.candidate()
	c.StepG, c.Auto = rig.Fig(stepG), true
	t.taken(c)
	return c, true
}

// weighable says whether the indication is one of a load.
func (t *Taker) weighable() bool { return t.in.Value >= 0 && t.in.Value <= t.set.MaxG }

// drained says whether a wet load loses little enough, as far as the division lets that be seen.
func (t *Taker) drained() bool {
	slope, overS := t.past.slope(t.disturbedS)
	proofS := t.set.proofS()
	return slope.OK && overS >= proofS && math.Abs(slope.V) <= max(t.set.SlopeLimitGPerMin, 60*t.set.DivisionG/proofS)
}
