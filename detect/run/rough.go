package run

import (
	"math"
	"slices"
)

// rough weighs what a block's current did: what shows in one of the traits may hide in the others.
func (l *loads) rough(i int, t *template, traits ...float64) float64 {
	b := &l.blocks[i]
	n, sum, most := 0.0, 0.0, math.Inf(-1)
	for _, v := range traits {
		if v == v {
			sum += v
			most = max(most, v)
			n++
		}
	}
	rough := 0.0
	switch {
	case t.sdA > 0 && n > 0:
		rough = byRough.of((sum/n + most) / 2)
	case n > 0:
		if rough = byJag.of(most); b.laDB != b.laDB {
			rough = min(rough, rough/2) // one reading that strays makes three steps, and nothing else is known
		}
	}
	return max(rough, 0)/b.parts() + min(rough, 0)*l.clear(t) // one reading makes one step
}

// Steps of the empty chamber's block means, as shares of the current, up to which every load would show as unrest and
// from which it need not.
const (
	clearStep    = 0.003 // induction, if the phase is not known
	blindStep    = 0.012
	clearRad     = 0.0015 // and such deviations of the phase, rad
	blindRad     = 0.004
	withoutPhase = 0.5 // induction: so much of it, for a light load stands at right angles and hardly moves the RMS
	followTimes  = 5.0 // as much where the current follows the load
)

// clear tells how far a current without unrest speaks against load: not where the clamp is too noisy or too slow
// to show any. 0 to 1.
func (l *loads) clear(t *template) float64 {
	if l.induction && t.sdRad > 0 {
		return min(max((blindRad-t.sdRad)/(blindRad-clearRad), 0), 1)
	}
	k := 1.0
	if !l.induction {
		k = followTimes
	}
	c := min(max((blindStep*k-t.stepA/t.amp0)/((blindStep-clearStep)*k), 0), 1)
	if l.induction {
		c *= withoutPhase
	}
	return c
}

// liftTimes what readings stray by from one to the next, a load lifts them at least: it never draws less than nothing.
const liftTimes = 3.0

// lifted says of readings, where nothing is heard, whether they stand as far above the no-load line about a block as what
// makes them stray would lift them.
func (l *loads) lifted(i int, t *template) bool {
	lift, stray := meanOver{}, meanOver{}
	for j := max(i-anchorBlocks/2, 0); j <= min(i+anchorBlocks/2, len(l.blocks)-1); j++ {
		b := &l.blocks[j]
		if before, after, ok := l.between(j); ok {
			stray.add(math.Abs(float64(b.meanA)-(float64(before.meanA)+float64(after.meanA))/2), 1)
		}
		lift.add(float64(b.meanA)-t.amp(b.fromS), 1)
	}
	return lift.mean() > liftTimes*stray.mean()
}

// straysMost usual strays is what the current of an empty chamber stays within for the most part, and liftShows the
// logarithm of how much further it stands out where something works in the chamber.
const (
	straysMost = 2.5
	liftShows  = 0.5
)

// lift returns the logarithm of how far a block's current stands above what flows before and after it, over what the
// empty chamber's strays. NaN where that says nothing: a supply that wanders moves a magnetising current as far as a load.
func (l *loads) lift(i int, t *template) float64 {
	if l.induction || t.strayA == 0 {
		return math.NaN()
	}
	return max(math.Log(max(l.above(i), 0)/(straysMost*max(t.strayA, leastStep*t.amp0))), calmest)
}

// aboutS before and after a block its current is compared with, s.
const aboutS = 1.5

// above is how far the current of a block is above what flows both before and after it, A: the lower quartile of either.
// What drifts, or comes to rest, is above one of them only.
func (l *loads) above(i int) float64 {
	before, ok0 := l.least(i, -1)
	after, ok1 := l.least(i, 1)
	if !ok0 || !ok1 {
		return 0
	}
	return float64(l.blocks[i].meanA) - max(before, after)
}

// least returns the lower quartile of the current in some time on one side of a block.
func (l *loads) least(i, step int) (float64, bool) {
	var near [15]float64
	n := 0
	for j := i + step; j >= 0 && j < len(l.blocks) && n < len(near); j += step {
		if b := &l.blocks[j]; b.young || b.held || math.Abs(b.fromS-l.blocks[i].fromS) > 1.5*aboutS {
			break
		}
		near[n] = float64(l.blocks[j].meanA)
		n++
	}
	slices.Sort(near[:n])
	return near[n/4], n >= len(near)/3
}
