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
	if k < 0.1*f.lim.ratedA || k > inrushLeft*s.sizeA || f.peaksAgain(s, c) {
		return guest{}, false // what stays as it came had no inrush
	}
	sin, cos := math.Sincos(lag)
	return guest{others: others{k * cos, k * sin}, small: true}, true
}

// peaksAgain says whether the current came back by half of what it had fallen by since a step, and by more than it moved
// before that: an inrush comes once.
func (f *flow) peaksAgain(s strike, c Current) bool {
	moved := flatnessOf(between(f.recent, s.atS-guestS, s.atS-0.02)).span
	most, low := 0.0, math.Inf(1)
	for _, r := range between(f.recent, s.atS, c.EndS) {
		switch {
		case r.RMSA > most:
			most, low = r.RMSA, r.RMSA
		case r.RMSA < low:
			low = r.RMSA
		case low < s.wasA+s.sizeA/2 && r.RMSA > (low+most)/2 && r.RMSA-low > moved:
			return true
		}
	}
	return false
}

// roughened says whether the current moves more from some time after a step on than before it, by a good part of what came
// with it: what is switched on is steady when its inrush is over, and what reaches the cutters is not.
func (f *flow) roughened(s strike, afterS, cameA float64) bool {
	return f.moves(s.atS+afterS, s.atS+guestEndS) > f.moves(s.atS-guestS, s.atS-0.02)+roughShare*cameA
}

// moves is the deviation of the current between two instants, A RMS.
func (f *flow) moves(fromS, toS float64) float64 {
	cs := between(f.recent, fromS, toS)
	if len(cs) == 0 {
		return 0
	}
	return sideOf(cs).dev
}

const (
	plainLeast = 0.7 // of rated: what is in phase with the voltage and comes as large within a cycle is no load on a rotor that has inertia
	plainBy    = 0.2 // rad that it may lie off that phase: an empty motor has losses, too
	plainStays = 0.5 // share of it that must be there to stay
)

// plain says whether a step beside an induction motor is a heater's whatever is heard, if so much of it stayed.
func (f *flow) plain(s strike, stayed float64) bool {
	return s.rest <= sharp && s.sizeA > plainLeast*f.lim.ratedA && f.towards(s) > -plainBy && stayed > plainStays
}
