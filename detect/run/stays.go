package run

import (
	"math"
	"slices"
)

// What flows, and for how long, tells of appliances whose coming or going nobody could see.

const (
	absentShare = 0.85 // of what other appliances draw, that cannot be less with them
	absentN     = 6    // records in a row
)

// misses says goodbye to what cannot be there any more: less flows than it draws. The supply may sag, and a reading may lie
// in that.
func (f *flow) misses(c Current) {
	o, flows := f.besides(), c.FundA
	if !c.Wave || !f.lim.pulsed { // a rectifier's pulses are the motor's own; another's, like a lamp's, count
		flows = c.RMSA
	}
	switch {
	case !f.shares(), flows > absentShare*o.withA, flows < f.leastIdle() && !c.Wave: // or the motor is gone
		f.lessN = 0
		return
	case f.lessN == 0:
		f.less = c
	}
	if f.lessN++; c.Wave && f.lessN < absentN || !c.Wave && c.EndS < f.less.EndS+sagHoldS {
		return
	}
	f.lessN = 0
	at := f.less.midS()
	if !c.Wave {
		at = f.less.StartS
	}
	largest := max(f.other, 0)
	for _, g := range f.guests {
		largest = min(largest, f.other-g.size()) // what was there before the motor started
	}
	nth := -1
	for i, g := range f.guests {
		if g.size() > largest {
			largest, nth = g.size(), i
		}
	}
	if nth >= 0 && f.loadLike(nth, at) {
		f.denied()
		return
	}
	if nth >= 0 {
		f.guests = slices.Delete(f.guests, nth, nth+1)
	}
	f.left(at, o.withA, c.RMSA, largest, "and less flows than it draws")
	f.revised = &revision{fromS: at - mixedS/2 - c.rowS(), toS: at + mixedS/2, mostA: f.ownOf(&c, f.besides()), others: f.besides()}
}

// loadLike says whether what came and went at an instant may have been load: nothing was heard, or both were, and an induction
// motor has no harmonics that tell.
func (f *flow) loadLike(nth int, atS float64) bool {
	g := &f.guests[nth]
	by, ok := f.grows(atS)
	return !g.sure && (!f.ear.any || g.heard && ok && by < -fallDB) && f.lim.induction && f.onlyHeaters()
}

// denied takes all that came back.
func (f *flow) denied() {
	f.deny()
	f.revised = &revision{fromS: math.Inf(-1), toS: math.Inf(-1), others: f.besides(), denied: true}
}
