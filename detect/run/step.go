package run

import (
	"fmt"
	"math"
)

const (
	hiddenN   = 3     // readings before a step that must be alike
	alikeDev  = 0.003 // deviation of these, as a share
	goesLeast = 0.8   // times its no-load current, that an empty motor takes with it when it stops beside a heater
	goesMost  = 1.8   // the same at most: some of it is in phase with the heater's
)

// fallingStep confirms a step down onto a current that is not the motor's, by the sound.
func (f *flow) fallingStep(c Current, gap float64) {
	if f.shares() && c.SwingA < f.gapA() || !f.shares() && c.SwingA < f.offA() {
		f.fall(c, false)
		return
	}
	if c.RMSA > f.cand.RMSA+0.25*f.idleRef() {
		f.state, f.slow = flowOn, c.RMSA
		f.running(c)
		return
	}
	if gap < soundS {
		return // the sound has not had time
	}
	if f.after.s > 0 && c.RMSA < againShare*f.after.mean() {
		f.fall(c, true) // it fell again
		return
	}
	f.after.add(c.RMSA, (c.EndS-c.StartS)/2)
	f.afterSq.add(c.RMSA*c.RMSA, (c.EndS-c.StartS)/2)
	limit := coastS
	if f.shares() {
		limit = longCoastS
	}
	before, after := Interval{f.candS - 0.5, f.candS}, Interval{max(f.candS+0.1, c.EndS-0.3), c.EndS}
	a0, c0, ok0 := f.ear.levels(before.FromS, before.ToS)
	a1, c1, ok1 := f.ear.levels(after.FromS, after.ToS)
	switch {
	case c.Locked && f.shares() && gap <= goneS+judgedS: // a vector that went tells
	case gap > limit, c.Locked && f.shares(), f.ear.any && !(ok0 && ok1):
		f.state, f.slow = flowOn, c.RMSA
	case !f.ear.any:
		if f.leftOver(c) && f.still() && gap > hearS {
			f.stop(0.7, " onto another appliance's; no sound was recorded")
		}
	case gap > 1.5*soundS && f.ceased(c, gap, [2]float64{a0, c0}, [2]float64{a1, c1}):
		if !f.shares() {
			f.floorA = f.base
		}
		f.base, f.spread, f.offPeak = f.after.mean(), sq(0.02*f.after.mean()), c.PeakA
		f.leftA = f.base - f.floorA - f.other
		f.other = max(f.other, f.base-f.floorA)
		f.warn("other-appliance", fmt.Sprintf("%.1f A went on flowing after the motor stopped at %.2f s: another appliance is on the conductor", f.base, f.candS))
		f.stop(0.8, fmt.Sprintf(" onto another appliance's %.1f A, and the sound fell by %.0f dB", f.base, a0-a1))
	}
}

// leftOver says whether what flows after a step is what another appliance is known to draw, or what came unheard while the
// motor ran.
func (f *flow) leftOver(c Current) bool {
	return f.shares() && math.Abs(c.RMSA-f.base) < 0.1*f.base || !f.shares() && math.Abs(f.after.mean()-f.base-f.upA) < gone*f.upA
}

// hidden says whether a reading may show the stop of an empty induction motor beside a heater that draws far more: their
// currents stand at right angles to each other, so that what goes is little, and nothing moves before it.
func (f *flow) hidden(c Current) bool {
	n := len(f.recent) - 1
	if c.Wave || !f.lim.induction || n < hiddenN || f.hushed(f.recent[n-1].StartS) { // it stood already
		return false
	}
	before := sideOf(f.recent[n-hiddenN : n])
	return before.dev < alikeDev*before.mean && before.mean > 2*f.idleRef() && before.mean < f.mostGuestA() && c.RMSA < before.mean &&
		before.mean*before.mean-c.RMSA*c.RMSA > sq(goesLeast*f.idleRef())
}

// goesAcross says whether what has gone of an induction motor's readings is its no-load current, beside a heater's.
func (f *flow) goesAcross(leftA float64) bool {
	went := math.Sqrt(max(f.fromA*f.fromA-leftA*leftA, 0)) / f.idleRef()
	return f.lim.induction && !f.cand.Wave && went > goesLeast && went < goesMost
}

// still says whether the current has been as constant since a step as nothing that turns draws it.
func (f *flow) still() bool {
	dev := deadFlat
	if !f.cand.Wave {
		dev = beatsDev
	}
	return f.afterSq.mean() < (1+sq(dev))*sq(f.after.mean())
}

// ceased says whether the motor has stopped with a step of the current, by what is left of that and by the A- and
// C-levels before it and now.
func (f *flow) ceased(c Current, gap float64, was, is [2]float64) bool {
	left, mean, known := c.RMSA, f.after.mean(), f.leftOver(c)
	// What a motor that stands locked behind a rectifier draws is as constant, but comes in pulses, and is no little.
	// One that stood already, and was not heard, does not go on standing with less.
	stood := !c.Wave && f.ear.hasRun() && was[0] < f.ear.runDB-fallDB
	others := gap > hearS && f.still() && (f.unpulsed(c) || stood || mean < 0.6*f.fromA &&
		(!f.lim.pulsed || c.Wave && crest(c) < pulseCrest || mean < 0.5*f.lim.ratedA))
	fell := was[0]-is[0] >= fallDB && was[1]-is[1] >= fallDB
	across := gap > hearS && f.still() && fell && f.goesAcross(mean)
	if math.Abs(left-mean) >= 0.1*left || !known && !others && !across && left >= 0.9*f.idleRef() {
		return false
	}
	// Far below anything that it drew while it ran, and it was not the supply: all that is heard is its coasting.
	if f.idle > 0 && mean < deepShare*f.idle && gap > hearS && max(was[0]-is[0], was[1]-is[1]) >= deepDB {
		return true
	}
	atRest := is[0] < f.ambientDB+fallDB
	if known && f.still() && f.fromA > sharpFrom*mean && atRest {
		return true // others drown it
	}
	// Quieter than the motor ever was while it ran: far quieter, or back to what was heard before it started. In a
	// stall it had been quiet before.
	quiet := f.ear.hasRun() && (is[0] < f.ear.runDB-2*fallDB || is[0] < f.ear.runDB-fallDB && atRest)
	return quiet && (fell || was[0] < f.ear.runDB-fallDB && gap > hearS)
}

// unpulsed says whether the pulses of a rectifier have gone from the current, and a sine is left.
func (f *flow) unpulsed(c Current) bool {
	return f.lim.pulsed && c.Wave && crest(c) < sineMost && f.fromCrest > crest(c)+crestStep
}

func crest(c Current) float64 {
	if c.RMSA <= 0 {
		return 0
	}
	return c.PeakA / c.RMSA
}
