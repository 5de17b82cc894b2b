package run

import "math"

// What a waveform's current does in its first second tells most about whose it is. A heater draws a sine that is as
// high in its first cycle as ever after. A motor draws its inrush first, but so does a compressor: that one ends at
// little, and little stays, where a motor that was switched on for a moment leaves nothing. A rectifier's current
// comes in pulses, which have a large third harmonic; neither a heater's nor a compressor's has one.

const (
	compressorVA = 1800.0 // VA: no refrigerator's compressor draws more to start (15 A at 120 V: common practice)
	inrushLeast  = 1.3    // times what flows in the end, from which it is one
	courseS      = 0.6    // s after which a compressor's inrush is over
	tailS        = 0.12   // s after a short current at which it shows whether something is left
	tailShare    = 0.04   // of its inrush; a compressor draws a seventh to a fifth of it
	lampThird    = 0.4    // third harmonic as a share of a current, from which it is a rectifier's: lamps and chargers
	sineThird    = 0.15   // the same, below which no rectifier draws it
)

// verdict is what the course of a rising current says so far.
type verdict int

const (
	unsaid verdict = iota // nothing: what is heard has to tell
	anothers
	undecided
)

// backS is how soon after the clamp's source is back what flows is seen to, s.
const backS = 0.1

// course judges the current that rose at the pending instant by its course alone, and by the harmonic it lacks.
func (f *flow) course(c Current, lasted float64) verdict {
	if !c.Wave || f.doubted || f.missS > 0 && f.candS < f.missS+backS { // it flowed when the clamp's source was back: how it began was not seen
		return unsaid
	}
	switch v := f.shape(c, lasted); {
	case v == anothers, !f.lacksThird(c):
		return v
	case lasted < hearS:
		return undecided // how much it draws shows when its inrush is over
	}
	return anothers
}

// shape judges it by its course.
func (f *flow) shape(c Current, lasted float64) verdict {
	rated := f.lim.ratedA
	if f.lim.pulsed {
		return f.pulses(c, lasted)
	}
	now := f.lately(c) - f.base
	switch {
	case f.peak > f.inrushA() && f.inrushA() < inrushSure*rated, f.peak > max(inrushSure*rated, f.lim.compressorA):
		return unsaid // far more than a compressor's, or what this motor has been seen to draw
	case f.peak-f.base > inrushLeast*now && lasted < courseS:
		return undecided
	case f.peak-f.base > inrushLeast*now:
		switch {
		case now > f.leastIdle(), f.runsUp(c, lasted):
			return unsaid
		case f.lim.induction || now < f.lim.priorIdle:
			return anothers
		}
		return f.sounds(c, lasted)
	case f.lim.induction && lasted >= settledS && f.candS-f.stopS > jogS && f.steady(c) && f.ear.any && !f.atOnce(c.EndS):
		return anothers // such a motor has an inrush, or is heard at once
	}
	return unsaid
}

// leastIdle is the least current that the motor draws when it has run up.
func (f *flow) leastIdle() float64 {
	if f.idle > 0 {
		return deepShare * f.idle
	}
	return leastShare * f.lim.ratedA
}

// steady says whether the current was never above what it is by more than a heater's.
func (f *flow) steady(c Current) bool {
	return f.after.s > 0 && f.peak-f.base < heatShare*(f.after.mean()-f.base)
}

// pulses judges by the third harmonic, for a motor behind a rectifier.
func (f *flow) pulses(c Current, lasted float64) verdict {
	if !(c.FundA > 0) {
		return unsaid
	}
	if lasted < 2*tailS {
		return undecided
	}
	third := math.Abs(c.ThirdA - f.third)
	switch {
	case third > sineThird*(c.RMSA-f.base):
		return unsaid
	case lasted < courseS:
		return undecided // a compressor's inrush; one may have come on just after the motor, too
	case third < 0.5*f.lim.priorIdle:
		if f.showsThird() && third*f.idle > thirdLeft*f.thirdIdle*(f.lately(c)-f.base) {
			return unsaid // this motor has no more of it
		}
		if (!f.ear.any || f.atOnce(c.EndS) || f.gentle()) && !f.showsThird() {
			return unsaid // a motor with a corrector before its rectifier
		}
		return anothers
	}
	return unsaid
}

// notOurs says of a current that flowed from the first record on that its pulses are not a motor's without a rectifier.
func (f *flow) notOurs(c Current) bool {
	return c.Wave && !f.lim.pulsed && c.ThirdA > lampThird*c.RMSA
}

// sounds says what is heard in a second of a current that its course alone does not tell.
func (f *flow) sounds(c Current, lasted float64) verdict {
	rise := f.heardStart(c.EndS)
	floor := f.ear.leastDB(f.candS+0.1, c.EndS) - f.ear.leastDB(f.candS-1, f.candS) // a voice has pauses, a motor has none
	switch {
	case math.IsNaN(rise), max(rise, floor) >= riseDB:
		return unsaid
	case lasted < hearS:
		return undecided
	}
	return anothers
}

// leaves says whether something goes on flowing after a short current: a compressor after its inrush.
func (f *flow) leaves(c Current) bool {
	return f.lately(c)-f.base > max(tailShare*(f.peak-f.base), 4*math.Sqrt(f.spread))
}
