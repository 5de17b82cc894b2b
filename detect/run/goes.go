package run

import (
	"math"
	"math/cmplx"
	"slices"
)

// A step down is an appliance that goes, or the motor's own.

// turned returns the step back.
func (s strike) turned() strike {
	s.rad = math.Remainder(s.rad+math.Pi, 2*math.Pi)
	return s
}

// judgeDown takes a step down for the end of an appliance, if it is what one draws.
func (f *flow) judgeDown(s strike) {
	f.drop()
	f.lastDown = s
	up := s.turned()
	if left := cmplx.Abs(complex(s.wasA, 0) + cmplx.Rect(s.sizeA, s.rad)); left > f.leastIdle() {
		up.share *= s.wasA / left // an appliance that goes leaves the motor's current, with all its harmonics
	}
	whose := f.whose(up)
	switch {
	case whose == motors:
		return
	case !f.shares():
		f.unseenGone(s, whose)
		return
	}
	known := 0.0
	var sizes []float64
	for _, g := range f.guests {
		known += g.size()
		sizes = append(sizes, g.size())
	}
	rest := f.other - known
	if rest < 0.1*f.lim.ratedA {
		rest = 0
	}
	best, nth := 0.0, -1
	for i, k := range append(sizes, rest, f.other) {
		if nth < 0 || math.Abs(s.sizeA-k) < math.Abs(s.sizeA-best) {
			best, nth = k, i
		}
	}
	within := gone
	if nth < len(f.guests) && f.guests[nth].small {
		within = goneSmall
	}
	leftOwn := len(f.guests) <= 1 && math.Abs(f.firstFrom(s.atS).RMSA-s.ownA) < gone*s.ownA // what is left is what the motor drew
	switch {
	case math.Abs(s.sizeA-best) > within*best && !leftOwn:
		f.unseenGone(s, whose)
		return
	case s.rest > 2*sharp && within == goneSmall, s.sizeA < restlessTimes*f.restless(s.atS):
		return
	}
	if nth < len(f.guests) && f.loadLike(nth, s.atS) {
		f.denied()
		return
	}
	if nth < len(f.guests) {
		f.guests = slices.Delete(f.guests, nth, nth+1)
	}
	is := f.firstFrom(s.atS)
	f.left(s.atS, s.wasA, is.RMSA, best, "as it had come")
	own := f.ownOf(is, f.besides())
	f.revised = &revision{fromS: s.atS - mixedS/2, toS: s.atS + mixedS/2, mostA: own, others: f.besides()}
}

// unseenGone takes a step down for the end of an appliance that nobody saw come, if a heater's it is and the motor goes on.
// Nor is a rotor heard to come free that stood with as much.
func (f *flow) unseenGone(s strike, whose whose) {
	by, ok := f.grows(s.atS)
	if !f.lim.pulsed && s.wasA < f.lim.set.StallRatio*f.lim.locked() {
		by = min(by, 0)
	}
	clean := s.rest <= sharp || s.sizeA > plainLeast*f.lim.ratedA && s.rest <= lessSharp
	now := f.recent[len(f.recent)-1].FundA
	if whose == heaters && clean && s.sizeA < f.mostGuestA() && ok && by > -sameDB && by < freedDB &&
		now > f.leastIdle() && now < (s.wasA+f.firstFrom(s.atS).FundA)/2 && f.leavesTheMotors(s) {
		f.revised = &revision{fromS: s.atS - mixedS/2, lateA: s.sizeA}
	}
}
