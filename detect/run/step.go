package run

import (
	"fmt"
	"math"
)

const (
	ebbS      = 0.5 // s of readings on each side of a step that shows in their means only
	ebbLeastN = 3   // of them at least
	ebbTimes  = 3.0 // times the means' own uncertainty, that they must part by
	goesLeast = 0.8 // times its no-load current, that a motor takes with it when it stops beside a heater
)

// fallingStep confirms a step down onto a current that is not the motor's, by the sound.
func (f *flow) fallingStep(c Current, gap float64) {
	if f.shares() && c.SwingA < f.gapA() || !f.shares() && c.SwingA < f.offA() {
		if f.silentBefore(c) {
			f.stop(0.8, fmt.Sprintf(" onto another appliance's, which went %.2f s later, and the sound fell at once", gap))
			f.off(c)
			return
		}
		f.fall(c, false)
		return
	}
	if c.RMSA > f.cand.RMSA+0.25*f.idleRef() {
		if a, ok := f.leftAlone(c, gap); ok {
			f.after = meanOver{}
			f.after.add(a, 1)
			f.stop(0.9, ", another appliance's, which no sag of the supply would have left")
			f.off(c)
			return
		}
		f.state, f.slow = flowOn, c.RMSA
		f.running(c)
		return
	}
	if gap < soundS || f.ear.any && f.ebb(c) {
		return // the sound has not had time
	}
	if f.after.s > 0 && c.RMSA < againShare*f.after.mean() && !f.silentBefore(c) {
		f.fall(c, true) // it fell again
		return
	}
	f.after.add(c.RMSA, (c.EndS-c.StartS)/2)
	f.afterSq.add(c.RMSA*c.RMSA, (c.EndS-c.StartS)/2)
	limit := coastS
	if f.shares() || f.still() { // a turntable may coast that long
		limit = longCoastS
	}
	before, after := Interval{f.candS - 0.5, f.candS}, Interval{max(f.candS+0.1, c.EndS-0.3), c.EndS}
	a0, c0, ok0 := f.ear.levels(before.FromS, before.ToS)
	a1, c1, ok1 := f.ear.levels(after.FromS, after.ToS)
	switch {
	case c.Locked && f.shares() && gap <= goneS+judgedS: // a vector that went tells
	case gap > limit, c.Locked && f.shares() && !(f.ear.any && f.leftOver(c) && f.restlessLeft()), f.ear.any && !(ok0 && ok1):
		f.state, f.slow = flowOn, c.RMSA
	case !f.ear.any:
		if f.leftOver(c) && f.still() && gap > hearS {
			f.stop(0.7, " onto another appliance's; no sound was recorded")
		}
	case gap > 1.5*soundS && f.ceased(c, gap, [2]float64{a0, c0}, [2]float64{a1, c1}):
		f.remain(f.after.mean())
		f.stop(0.8, fmt.Sprintf(" onto another appliance's %.1f A, and the sound fell by %.0f dB", f.base, a0-a1))
	}
}

// silentBefore says of a current that has gone altogether whether the motor was silent before that, since the pending step: what
// went then was its own, and now another appliance's. A rotor that stands is as silent, and draws no little.
func (f *flow) silentBefore(c Current) bool {
	d, ok := f.ear.quieter(Interval{f.candS - 0.5, f.candS}, Interval{f.candS + 0.1, c.StartS})
	stands := f.lim.set.StallLeaveRatio * f.lim.locked()
	if f.lim.pulsed {
		stands = 0.5 * f.lim.ratedA // electronics limit it
	}
	return ok && d >= fallDB && f.hushed(c.StartS) && f.after.s > 0 && f.after.mean() < stands
}

// leftOver says whether what flows after a step is what another appliance is known to draw, or what came unheard while the
// motor ran.
func (f *flow) leftOver(c Current) bool {
	return f.shares() && math.Abs(c.RMSA-f.base) < 0.1*f.base || !f.shares() && math.Abs(f.after.mean()-f.base-f.upA) < gone*f.upA
}

// restlessLeft says whether what a step left of a waveform's current is too restless for the vector that went to tell.
func (f *flow) restlessLeft() bool {
	left := sideOf(between(f.recent, f.candS+mixedS, math.Inf(1)))
	return left.dev > leftDev*left.mean+f.strays()
}

// ebb looks for a step down that only the means of readings show, for they beat with the mains: what an induction motor
// takes with it when it stops beside a heater stands across that, and is little.
func (f *flow) ebb(c Current) bool {
	w, n := f.ebbN(c), len(f.recent)
	if c.Wave || n < 2*w+1 || f.recent[n-2*w-1].StartS < max(f.startS+hearS, f.resumedS) {
		return false
	}
	is := f.recent[n-2*w-1:]
	at, most := 0, 0.0 // where they part best
	for i := w; i < len(is)-ebbLeastN; i++ {
		if d := (sideOf(is[:i]).mean - sideOf(is[i+1:]).mean) * math.Sqrt(float64(i*(len(is)-i-1))); d > most {
			at, most = i, d
		}
	}
	if at == 0 || f.state == flowFalling && is[at].StartS < f.cand.EndS+ebbS { // the same again
		return false
	}
	was, now := sideOf(is[:at]), sideOf(is[at+1:])
	unsure := was.dev/math.Sqrt(float64(at)) + now.dev/math.Sqrt(float64(len(is)-at-1))
	if was.mean-now.mean < ebbTimes*unsure || !f.went(was.mean, now.mean) || now.mean > f.mostGuestA() || f.hushed(is[at].StartS) { // it stood already
		return false
	}
	f.fall(is[at], true)
	f.fromA = was.mean
	// What is left of the square in the reading that holds the step is the share of its time before that.
	share := (sq(is[at].RMSA) - sq(now.mean)) / (sq(was.mean) - sq(now.mean))
	f.candS = is[at].StartS + min(max(share, 0), 1)*(is[at].EndS-is[at].StartS)
	for _, r := range is[at+1:] {
		f.after.add(r.RMSA, (r.EndS-r.StartS)/2)
		f.afterSq.add(r.RMSA*r.RMSA, (r.EndS-r.StartS)/2)
	}
	return true
}

// ebbN is how many readings are looked at on each side of such a step.
func (f *flow) ebbN(c Current) int { return max(int(ebbS/(c.EndS-c.StartS)), ebbLeastN) }

// went says whether an appliance may draw what is left, and the motor drew the rest.
func (f *flow) went(fromA, leftA float64) bool {
	if f.lim.induction {
		return fromA*fromA-leftA*leftA > sq(goesLeast*f.idleRef())
	}
	// It is not the motor that draws it empty.
	return f.ownBeside(fromA, others{withA: leftA}) > goesLeast*f.idleRef() && math.Abs(leftA-f.idleRef()) > idleWithin*f.idleRef()
}

// still says whether the current has been as constant since a step as nothing that turns draws it. Readings beat, and their
// means over a third of the time do not.
func (f *flow) still() bool {
	if f.cand.Wave {
		return f.afterSq.mean() < (1+sq(deadFlat))*sq(f.after.mean())
	}
	n := len(f.recent)
	for n > 0 && f.recent[n-1].StartS >= f.cand.EndS-1e-6 {
		n--
	}
	is := f.recent[n:]
	third := len(is) / 3
	if third == 0 {
		return f.afterSq.mean() < (1+sq(beatsDev))*sq(f.after.mean())
	}
	a, b, c := sideOf(is[:third]).mean, sideOf(is[third:2*third]).mean, sideOf(is[2*third:]).mean
	return max(a, b, c)-min(a, b, c) < beatsDev*b
}

// ceased says whether the motor has stopped with a step of the current, by what is left of that and by the A- and
// C-levels before it and now.
func (f *flow) ceased(c Current, gap float64, was, is [2]float64) bool {
	left, mean, known := c.RMSA, f.after.mean(), f.leftOver(c)
	// What a motor that stands locked behind a rectifier draws is as constant, but comes in pulses, and is no little.
	// One that stood already, and was not heard, does not go on standing with less.
	stood := f.ear.hasRun() && was[0] < f.ear.runDB-fallDB
	others := gap > hearS && f.still() && (!c.Wave && stood || mean < 0.6*f.fromA &&
		(!f.lim.pulsed || c.Wave && crest(c) < pulseCrest || mean < 0.5*f.lim.ratedA))
	fell := was[0]-is[0] >= fallDB && was[1]-is[1] >= fallDB
	across := gap > hearS && f.still() && fell && !f.cand.Wave && f.went(f.fromA, mean)
	if math.Abs(left-mean) >= 0.1*left || !known && !others && !across && left >= 0.9*f.idleRef() {
		return false
	}
	// Far below anything that it drew while it ran, and it was not the supply: all that is heard is its coasting.
	deep := f.idle > 0 && mean < deepShare*f.idle && gap > hearS && max(was[0]-is[0], was[1]-is[1]) >= deepDB
	if !f.shares() && !stood && is[0] > f.ambientDB+2*fallDB && !(deep && f.lim.induction && mean < leastShare*f.lim.ratedA) {
		return false // nothing else was known to flow, and it is not as quiet as a room: it has lost its load, and turns
	}
	atRest := is[0] < f.ambientDB+fallDB
	if deep {
		return true
	}
	if known && f.still() && f.went(f.fromA, mean) && atRest && (fell || !c.Locked) { // a vector would have shown it
		return true // others drown it
	}
	// Quieter than the motor ever was while it ran: far quieter, or back to what was heard before it started. In a
	// stall it had been quiet before.
	quiet := f.ear.hasRun() && (is[0] < f.ear.runDB-2*fallDB || is[0] < f.ear.runDB-fallDB && atRest)
	return quiet && (fell || stood && gap > hearS)
}

// isSine says whether nothing is left in some records of the pulses of a motor behind a rectifier that draws so much without
// load: what comes on top of them leaves them. Behind a rectifier alone a rotor that stands draws a sine.
func isSine(cs []Current, idleA float64) bool {
	over := meanOver{}
	for i := range cs {
		over.add(cs[i].PeakA-math.Sqrt2*cs[i].RMSA, 1)
	}
	return over.mean() < (pulseCrest-math.Sqrt2)*idleA
}

func crest(c Current) float64 {
	if c.RMSA <= 0 {
		return 0
	}
	return c.PeakA / c.RMSA
}
