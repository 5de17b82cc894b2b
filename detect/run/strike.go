package run

import (
	"math"
	"math/cmplx"
	"slices"
)

const (
	strikeBefore = 5    // records looked at before a step, half a cycle apart
	strikeAfter  = 8    // and from it on
	strikeLeast  = 0.08 // of rated: a smaller step is not looked at
	blunt        = 0.35 // share of a step by which the current may move in as long a time before or after it
	sharp        = 0.12 // the same of a step that nothing that turns makes but by chance
)

// strike is a step of the current's fundamental that came, and was over, within a cycle.
//
// What is switched on or off is there or gone at once; what turns takes several cycles, for its speed has to change
// first. The step is a vector: a heater's is in phase with the voltage, a compressor's lags behind it, and its angle from
// the current before it tells where the voltage is.
type strike struct {
	atS     float64 // the middle of the two records that hold it
	wasA    float64 // the fundamental before it, A RMS
	ownA    float64 // and what the motor drew of the whole current
	sizeA   float64 // and of the step
	rad     float64 // angle of the step from what was before it
	rest    float64 // by how much the current moved in as long a time before or after it, as a share of the step
	growing float64 // by how much the motor's harmonics grew, as a share of what they would have with a step of its own
	share   float64 // of harmonics in the current before it
}

// struck looks at the step at the record that lies just far enough back. It is sure only of the one that lies right on it:
// the two beside it see a part of it before or after.
func (f *flow) struck() (s strike, ok bool) {
	lo := len(f.recent) - strikeAfter - strikeBefore
	if lo < 0 {
		return s, false
	}
	w := f.recent[lo:]
	for i := range w {
		if !(w[i].FundA > 0) {
			return s, false
		}
	}
	sinceS := f.startS
	if f.state == flowRising {
		sinceS = f.candS
	}
	if w[0].StartS < max(sinceS, f.resumedS) {
		return s, false
	}
	const b = strikeBefore
	if !f.leapt(w[b-1 : b+3]) {
		return s, false
	}
	p := newPhasors(w, strikeBefore)
	was, is := p.at(b-1), p.at(b+2)
	pre, post := was-p.at(b-4), p.at(b+5)-is
	step := is - was - (pre+post)/2
	s = strike{atS: (w[b].midS() + w[b+1].midS()) / 2, wasA: cmplx.Abs(was), sizeA: cmplx.Abs(step)}
	if s.sizeA < strikeLeast*f.lim.ratedA {
		return s, false
	}
	s.ownA = f.ownOf(&w[b-1], f.besides())
	s.rest = max(cmplx.Abs(pre), cmplx.Abs(post), cmplx.Abs(p.at(b+7)-p.at(b+4))) / s.sizeA
	s.rad = cmplx.Phase(step * cmplx.Conj(was))
	before, after := f.harmonics(w[b-4:b]), f.harmonics(w[b+2:])
	s.share = before / s.wasA
	s.growing = (after - before) / (s.share * s.sizeA)
	return s, s.rest <= blunt
}

// leapt says whether the fundamental may have changed by a strike from the first of some records to the last: hardly ever,
// and the other records need not be looked at then.
func (f *flow) leapt(w []Current) bool {
	first, last := &w[0], &w[len(w)-1]
	hz, turns := 1/(first.EndS-first.StartS), 0.0
	for i := 1; i < len(w); i++ {
		turns += w[i].gained(&w[i-1], hz)
	}
	return parted(last.FundA, first.FundA, turns, (1-blunt)*strikeLeast*f.lim.ratedA/2)
}

// phasors are fundamentals of records as complex numbers that stand still while the mains turn as they did over the
// first so many.
type phasors struct {
	w     []Current
	turns [strikeBefore + strikeAfter]float64
}

func newPhasors(w []Current, still int) (p phasors) {
	hz := 0.5 / (w[1].EndS - w[0].EndS)
	off := 0.0
	for i := 1; i < still; i++ {
		off += w[i].gained(&w[i-1], hz)
	}
	hz += off / (w[still-1].EndS - w[0].EndS)
	p.w = w
	for i := 1; i < len(w); i++ {
		p.turns[i] = p.turns[i-1] + w[i].gained(&w[i-1], hz)
	}
	return p
}

// at returns the one of a record.
func (p *phasors) at(i int) complex128 { return cmplx.Rect(p.w[i].FundA, 2*math.Pi*p.turns[i]) }

// harmonics returns the mean RMS of what only a motor draws: the third harmonic, or all the harmonics of a rectifier.
func (f *flow) harmonics(cs []Current) float64 {
	sum := 0.0
	for _, c := range cs {
		if f.lim.pulsed {
			sum += c.rippleA()
		} else {
			sum += c.ThirdA
		}
	}
	return sum / float64(len(cs))
}

// rippleA is the RMS of all that is not the fundamental.
func (c *Current) rippleA() float64 { return math.Sqrt(max(c.RMSA*c.RMSA-c.FundA*c.FundA, 0)) }

// whose is what a strike can be.
type whose int

const (
	motors  whose = iota // the motor's own, or nothing that could be told
	heaters              // in phase with the voltage
	smalls               // behind it: a small motor's, which starts with an inrush
)

const (
	shownBy   = 0.03 // share of harmonics in a motor's current from which they tell its own from another's
	ownGrowth = 0.22 // share of growing from which a step is the motor's own
	lagGrowth = 0.5  // the same of a step that lags: it may turn the phase of what is left
	inPhaseBy = 0.45 // rad about the voltage in which a heater's step lies
	outOfBy   = 0.25 // the same where a rotor may have locked: its current lags by more
	idleLags  = 1.2  // rad: an empty induction motor's own lags by more
	lagsBy    = 1.35 // rad behind it up to which a small motor's does
)

// towards returns the angle of a step up from the voltage, as far as the motor's own current tells where that is. Nothing
// leads the voltage: an induction motor whose current says so lags more than is thought, empty or locked.
func (f *flow) towards(s strike) float64 {
	behind := f.besides().behindA
	if !f.lim.induction {
		return s.rad - math.Asin(min(behind/s.wasA, 1))
	}
	return min(s.rad-math.Asin(min((f.idleRef()+behind)/s.wasA, 1)), 0)
}

// whose says whose a step up, or the opposite of a step down, can be.
func (f *flow) whose(s strike) whose {
	a := f.towards(s)
	switch {
	case !f.lim.induction && s.share < shownBy:
		return motors // it has none that could tell
	case f.lim.pulsed && math.Abs(a) < inPhaseBy && isSine(f.recent[len(f.recent)-strikeAfter:], f.idleRef()):
		return motors // behind a rectifier alone a rotor that stands draws a sine
	case !f.lim.induction && math.Abs(s.growing) > ownGrowth && a > -inPhaseBy, !f.lim.induction && math.Abs(s.growing) > lagGrowth:
		return motors
	case !f.lim.pulsed && f.locks(s) && (a < -outOfBy || s.rest > sharp || f.ear.any && !f.turnsOn(s.atS)):
		return motors
	case f.lim.pulsed && math.Abs(a) < inPhaseBy, f.lim.induction && a > -inPhaseBy:
		return heaters
	case !f.lim.pulsed && !f.lim.induction && a > -inPhaseBy && a < 1: // a series motor's current lags a little, the more the slower it is
		return heaters
	case a < -inPhaseBy && a > -lagsBy && (!f.lim.induction || a > -idleLags):
		return smalls
	}
	return motors
}

// leavesTheMotors says of a step down of an induction motor's current whether a heater can have made it: what is left is the
// motor's then, and the better tells where the voltage is. What shrinks along itself is no heater's going.
func (f *flow) leavesTheMotors(s strike) bool {
	went := cmplx.Rect(s.sizeA, s.rad+math.Pi)
	left := complex(s.wasA, 0) - went
	return !f.lim.induction || cmplx.Phase(went/left)-math.Asin(min(f.idleRef()/cmplx.Abs(left), 1)) > -inPhaseBy
}

// locks says whether a rotor may have locked with a step: so much flows then.
func (f *flow) locks(s strike) bool {
	return f.firstFrom(s.atS).RMSA > f.lim.set.StallRatio*f.lim.locked()
}

// turnsOn says whether the motor is heard to turn just after an instant: as loud as before it, or as any empty one.
func (f *flow) turnsOn(atS float64) bool {
	is, _, ok := f.ear.levels(atS+0.01, atS+0.1)
	return f.goesOn(atS) || ok && f.ear.hasRun() && is > f.ear.runDB
}

// floors returns the tenth and the middle of ten of what is in phase with the voltage between two instants, A RMS.
func (f *flow) floors(fromS, toS float64) (low, mid float64) {
	var v []float64
	m := 0.0
	if f.lim.induction {
		m = f.idleRef()
	}
	for _, c := range between(f.recent, fromS, toS) {
		v = append(v, math.Sqrt(max(c.FundA*c.FundA-m*m, 0)))
	}
	if len(v) == 0 {
		return 0, 0
	}
	slices.Sort(v)
	return v[len(v)/10], v[len(v)/2]
}

// middle returns the median of the fundamental between two instants, A RMS.
func (f *flow) middle(fromS, toS float64) float64 {
	var v []float64
	for _, c := range between(f.recent, fromS, toS) {
		v = append(v, c.FundA)
	}
	return quantile(v, 0.5)
}
