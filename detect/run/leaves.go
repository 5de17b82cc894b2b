package run

import "math"

// What a step up leaves behind tells whose it was.

// stayed returns the share of a step that is still there, by the lowest and by the middle current of some time before
// and after it.
func (f *flow) stayed(s strike, overS float64) (low, mid float64) {
	low0, mid0 := f.floors(max(s.atS-overS, min(f.startS+guestS, s.atS-0.06)), s.atS-0.02)
	low1, mid1 := f.floors(s.atS+0.05, s.atS+overS)
	return (low1 - low0) / s.sizeA, (mid1 - mid0) / s.sizeA
}

// small returns what a small motor that started with an inrush draws now. Its current lags as its inrush did.
func (f *flow) small(c Current, s strike) (guest, bool) {
	was, is := f.middle(s.atS-guestS, s.atS-0.02), f.middle(c.EndS-guestS, c.EndS)
	lag := -f.towards(s)
	apart := lag // between it and what flowed before
	if f.lim.induction {
		apart = math.Abs(math.Asin(min(f.idleRef()/was, 1)) - lag)
	}
	// |was + k| = is
	k := math.Sqrt(max(is*is-sq(was*math.Sin(apart)), 0)) - was*math.Cos(apart)
	if k < 0.1*f.lim.ratedA || k > inrushLeft*s.sizeA {
		return guest{}, false // what stays as it came had no inrush
	}
	sin, cos := math.Sincos(lag)
	return guest{others: others{k * cos, k * sin}, small: true}, true
}

// roughened says whether the current moves more from some time after a step on than before it, by a good part of what came
// with it: what is switched on is steady when its inrush is over, and what reaches the cutters is not.
func (f *flow) roughened(s strike, afterS, cameA float64) bool {
	return f.moves(s.atS+afterS, s.atS+guestEndS) > f.moves(s.atS-guestEndS, s.atS-0.02)+roughShare*cameA
}

// moves is the deviation of the current between two instants, A RMS.
func (f *flow) moves(fromS, toS float64) float64 {
	cs := between(f.recent, fromS, toS)
	if len(cs) == 0 {
		return 0
	}
	return sideOf(cs).dev
}
