package run

import "math"

// A series motor's current falls as it runs up: fast in its first tenth of a second, and still somewhat after that. A
// heater's does not fall, a compressor's falls late and at once, what charges a capacitor falls within a cycle.

const (
	runUpFell   = 1.5  // times the mean of the second tenth of a second, that the largest cycle was
	runUpFalls  = 1.12 // times the current it settles at, that it was after its first cycle
	runUpLeast  = 0.25 // of rated, that it settles at
	runUpSoonS  = 0.02
	runUpTenthS = 0.1
)

// runsUp says of a current that began at the pending instant whether its course is that of a run-up: a series motor's, or that
// of one behind a rectifier, which electronics bring up in some tenths of a second and to more than it ever needs again.
func (f *flow) runsUp(c Current, lasted float64) bool {
	if f.lim.induction || lasted < settledS {
		return false
	}
	mean := func(fromS, toS float64) float64 { return sideOf(between(f.recent, f.candS+fromS, f.candS+toS)).mean }
	soon, second, late := mean(runUpSoonS, runUpTenthS), mean(runUpTenthS, 2*runUpTenthS), mean(0.6*settledS, settledS)
	// All comparisons fail with readings too far apart to show it.
	if f.lim.pulsed {
		return c.Wave && second-f.base > f.lim.ratedA/2 && second-f.base > runUpFell*(late-f.base) && c.ThirdA-f.third > sineThird*(c.RMSA-f.base)
	}
	return late-f.base > runUpLeast*f.lim.ratedA && f.peak-f.base > runUpFell*(second-f.base) && soon-f.base > runUpFalls*(late-f.base)
}

// Electronics behind a rectifier charge their capacitors first, which may take a second or next to nothing, and bring the
// motor up only then: its current falls to little, rises, and falls again as it runs free.
const (
	chargesBy  = 0.1   // share of it by which such a current moves within some tenths of a second
	fallsBy    = 0.995 // times the tenth of a second before, below which the current falls
	wavers     = 1.02  // times it, up to which it does not rise
	rampLeast  = 1.3   // times the least before it, that such a rise leads to
	gentleBy   = 1.5   // times the first tenth of a second, that what is brought up gently draws in its third to fifth
	rampUntilS = 3.0   // s after a start by which it is there, or the current has fallen to what it is without load
)

// charges says whether what flows since the pending instant may charge a motor's capacitors, which it will be brought up
// from: little, in pulses, and never the same, where a lamp's settles at once.
func (f *flow) charges(c Current) bool {
	if !f.lim.pulsed || !c.Wave || c.EndS > f.candS+rampUntilS {
		return false
	}
	low, high := c.RMSA, 0.0
	for _, r := range between(f.recent, max(c.EndS-soundS, f.candS), c.EndS) {
		low, high = min(low, r.RMSA), max(high, r.RMSA)
	}
	return low > f.base+f.lim.set.OnRatedRatio*f.lim.ratedA && c.ThirdA > sineThird*c.RMSA && high-low > chargesBy*high
}

const (
	bootS       = 1.0  // s after their capacitor was charged, in a cycle or two, that electronics may take to start the motor
	softBootS   = 0.15 // the same where less than its rated current filled it: then the motor has begun to turn by then
	softCharge  = 0.3  // of rated, that fills it at least in half a cycle
	smallCharge = 0.2  // of rated, that flows at least while a small one is charged
)

// charged takes what has flowed since the pending instant, for too short a time to be a motor that turns, for the charge of
// a capacitor behind the switch: it was closed then. What clicks, or sparks, is less; a small charge is told from it by what
// the electronics go on drawing.
func (f *flow) charged(c Current) {
	goesOn := c.RMSA > f.base+f.lim.set.OnNoiseRatio*math.Sqrt(f.spread) && f.peak > smallCharge*f.lim.ratedA
	if !f.lim.pulsed || f.booting(f.candS) {
		return
	}
	switch {
	case goesOn, c.Wave && f.peak > f.lim.ratedA:
		f.chargeS, f.chargeA, f.bootS = f.candS, f.peak, bootS
	case c.Wave && f.peak > softCharge*f.lim.ratedA:
		f.chargeS, f.chargeA, f.bootS = f.candS, f.peak, softBootS
	}
}

// booting says whether a motor that starts at an instant may have been switched on when its capacitor was charged.
func (f *flow) booting(atS float64) bool {
	return f.chargeA > 0 && f.chargeS > f.stopS && atS < f.chargeS+f.bootS
}

// ramps says whether a motor behind a rectifier is brought up: what switches on beside something else is there at once.
func (f *flow) ramps(c Current) bool {
	n := len(f.recent) - 4 // more than a cycle before
	return f.lim.pulsed && c.Wave && n >= 0 && f.recent[n].RMSA > rampLeast*f.after.mean()
}

// gentle says whether the pending current has risen for some tenths of a second, as electronics bring a motor up: what is
// switched on draws most in its first cycles.
func (f *flow) gentle() bool {
	first := sideOf(between(f.recent, f.candS, f.candS+runUpTenthS)).mean - f.base
	later := sideOf(between(f.recent, f.candS+2*runUpTenthS, f.candS+settledS)).mean - f.base
	return f.lim.pulsed && f.cand.Wave && later > gentleBy*first
}

// broughtUp lets a run-up last until the motor that electronics bring up has run free, and the first one's ramp be part of
// its inrush. A load that comes in the meantime does not go again as evenly.
func (l *loads) broughtUp(f *Found) {
	if !l.pulsed {
		return
	}
	i := 0
	for n, on := range l.stretches {
		for i < len(l.blocks) && l.blocks[i].fromS < on.FromS {
			i++
		}
		from := i
		for i < len(l.blocks) && l.blocks[i].fromS < on.ToS {
			i++
		}
		bs := l.blocks[from:i]
		mean := func(j int) float64 { return float64(bs[j].meanA) }
		goes := func(j int, least, most float64) int { // where the current ends to change so from block to block
			for j+1 < len(bs) && mean(j+1) >= least*mean(j) && mean(j+1) <= most*mean(j) {
				j++
			}
			return j
		}
		if len(bs) == 0 {
			continue
		}
		first := goes(0, 1, math.Inf(1))
		low := goes(first, 0, wavers)
		top := goes(low, 1/wavers, math.Inf(1))
		if mean(first) > rampLeast*mean(0) {
			low, top = 0, first // nothing had to be charged
		}
		free := goes(top, 0, fallsBy)
		if top == low || bs[top].fromS > on.FromS+rampUntilS || mean(free) > (mean(top)+mean(low))/2 {
			continue
		}
		for j := range bs[:free+1] {
			bs[j].young = true
			if n == 0 && f.Inrush.OK {
				f.Inrush.V = max(f.Inrush.V, float64(bs[j].mostA))
			}
		}
	}
}
