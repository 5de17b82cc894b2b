package run

import (
	"fmt"
	"math"
)

// rising judges a current that has begun to flow: the motor, switched on for good or for a moment, or something else on
// the conductor.
func (f *flow) rising(c Current) {
	f.peak = max(f.peak, c.RMSA)
	lasted := c.EndS - f.candS
	held := lasted >= f.lim.set.OnHoldS || !c.Wave
	gone := f.onA()
	if f.lim.pulsed {
		gone = f.base + (gone-f.base)/2 // what charges its capacitors may settle at little
	}
	if c.RMSA <= gone && !f.charges(c) {
		f.ended(c, held)
		return
	}
	f.low = Current{}
	if f.after.s > 0.05 && c.RMSA > stepRatio*f.after.mean() && c.RMSA > 1.5*f.lim.ratedA && !f.ramps(c) {
		// A motor's inrush on top of something that was not told yet.
		f.appliance(c)
		f.off(c)
		return
	}
	if lasted > 0.2 && (c.Wave || c.StartS >= f.cand.EndS) { // the first reading holds what was before
		f.after.add(c.RMSA, (c.EndS-c.StartS)/2)
	}
	if !held {
		return
	}
	if lasted > settledS && f.after.mean() > f.base+socketA { // no appliance draws as much for so long
		f.start(c)
		return
	}
	switch f.course(c, lasted) {
	case undecided:
		return
	case anothers:
		f.appliance(c)
		return
	}
	rise := f.heardStart(c.EndS)
	// However loud it got: an induction motor starts with an inrush, and draws its no-load current then.
	small := f.lim.induction && f.peak < 1.5*f.lim.ratedA && (lasted < settledS && c.Wave || min(f.after.mean(), c.RMSA)-f.base < leastShare*f.lim.ratedA)
	// What stands for no longer than it takes to jog it again turns still, and starts with little.
	pulses := f.lim.pulsed && c.Wave && lasted > settledS && (c.RMSA > leastShare*f.lim.ratedA || f.candS-f.stopS < jogS) && c.PeakA > pulseCrest*c.RMSA
	again := !f.lim.induction && c.Wave && lasted > settledS && f.candS-f.stopS < jogS && math.Abs(f.after.mean()-f.slow) < againBy*f.slow
	switch {
	case math.IsNaN(rise) && lasted < settledS && c.Wave && f.peak < inrushSure*f.lim.ratedA: // nothing is heard: its course has to tell
	case math.IsNaN(rise) && f.likeHeat(c, lasted):
		f.appliance(c)
	case math.IsNaN(rise), f.peak > f.sureA(), f.peak > f.inrushA() && f.unlikeHeat(c, lasted, rise), !small && rise >= riseDB, rise >= riseDB && f.gentle(), pulses, again, f.runsUp(c, lasted):
		f.start(c)
	case lasted < hearS+f.rowS(), f.charges(c):
	default:
		// As loud before the current came as a motor that runs, or as this one ever was: the clamp had missed its start.
		before, _, _ := f.ear.usual(f.candS-1, f.candS-0.05)
		ran := before > max(f.ear.runDB-2, f.ear.loudDB) && f.candS-f.stopS > coastS
		if ran || before > f.ear.loudDB && !f.hears || f.likeIdle(c) {
			f.start(c)
			return
		}
		f.appliance(c)
	}
}

// ended judges a current that has ended again while it was being judged.
func (f *flow) ended(c Current, held bool) {
	if f.low.EndS == 0 && held && f.jogged(c) {
		f.low = c
	}
	switch {
	case f.low.EndS == 0:
		f.state = flowOff
		f.charged(c)
		f.learn(c)
	case c.Wave && c.EndS < f.low.EndS+tailS:
	case c.Wave && f.leaves(c):
		f.appliance(c)
	default:
		f.start(c)
		f.fall(f.low, false)
	}
}

// againBy is how far, as a share, what flows so soon after a stop may be from what flowed before it, to be the motor again:
// its rotor turns still, so it starts with little, and is heard already.
const againBy = 0.3

// jogged says whether a current that has ended again was the motor, switched on for a moment.
func (f *flow) jogged(c Current) bool {
	if c.Wave && f.lim.induction && f.peak < min(f.inrushA(), 2*f.lim.ratedA) {
		// Such a motor does not start without its inrush, unless its rotor still turns; then it does not go on
		// growing quieter.
		just, _, ok0 := f.ear.levels(f.candS-0.2, f.candS)
		now, _, ok1 := f.ear.levels(f.candS+0.02, c.EndS)
		return f.candS-f.stopS < jogS && (!ok0 || !ok1 || now > just-0.5 && just > f.ambientDB+fallDB)
	}
	return f.peak > f.lim.ratedA || f.candS-f.stopS < jogS
}

// sureA is the current that is a motor's inrush, whatever is heard. Of readings, which do not show how a current began,
// it is more than an appliance on a socket draws, unless this motor has been seen to draw as much.
func (f *flow) sureA() float64 {
	a := inrushSure * f.lim.ratedA
	if !f.cand.Wave && (f.ownPeak == 0 || f.peak < ownShare*f.ownPeak) {
		a = max(a, f.base+socketA)
	}
	return a
}

// likeHeat says whether the current is that of something that heats, from its first cycle on: a sine, and always the
// same, and more than an empty motor draws. A motor's falls as it runs up, and a rectifier's comes in pulses.
func (f *flow) likeHeat(c Current, lasted float64) bool {
	return c.Wave && lasted >= settledS && f.after.mean()-f.base > idleMost*f.lim.ratedA && f.steady(c)
}

// unlikeHeat says of a current no higher than another appliance may draw whether its course is a motor's. Of readings what
// is heard, or a current that falls, has to tell.
func (f *flow) unlikeHeat(c Current, lasted, rise float64) bool {
	return lasted > settledS && (c.Wave || rise >= riseDB || f.peak-f.base > beatMost*(f.after.mean()-f.base))
}

const (
	atOnceDB = 10.0 // by how much a sound must rise with the current, within some tenths of a second, to have come with it
	atOnceS  = 0.45 // s within which it has
	meterS   = 0.25 // s by which a level meter's reading may lie beside it
)

// atOnce says whether a sound came with the pending current, and stayed. What clicks or thumps leaves moments in which
// the rest is heard alone, and these are compared.
func (f *flow) atOnce(nowS float64) bool {
	was, _ := f.ear.lullDB(f.candS-0.5, f.candS-0.15)
	now, _ := f.ear.lullDB(nowS-0.3, nowS)
	for _, from := range []float64{0.05, meterS} {
		soon, ok := f.ear.lullDB(f.candS+from, f.candS+atOnceS)
		if ok && soon > was+atOnceDB && now > soon-riseDB {
			return true
		}
	}
	return false
}

// likeIdle says of what a motor behind a rectifier may draw whether it is what this one drew empty, its third harmonic
// too; and of what one with brushes may, whether it has as much of that as this one had: heaters and compressors have none.
func (f *flow) likeIdle(c Current) bool {
	if !c.Wave || f.idle == 0 || !f.showsThird() {
		return false
	}
	own, third := f.lately(c)-f.base, c.ThirdA-f.third
	if f.lim.pulsed {
		return c.ThirdA > sineThird*c.RMSA && math.Abs(own-f.idle) < idleWithin*f.idle && math.Abs(third-f.thirdIdle) < idleWithin*f.thirdIdle
	}
	return !f.lim.induction && own > f.leastIdle() && math.Abs(third/own-f.thirdIdle/f.idle) < idleWithin*f.thirdIdle/f.idle
}

// lacksThird says of a waveform that has begun to flow that it lacks the third harmonic which this motor is known by:
// however it starts, it has that.
func (f *flow) lacksThird(c Current) bool {
	cs := between(f.recent, max(c.EndS-0.1, f.candS+0.05), c.EndS)
	return !f.lim.induction && f.idle > 0 && f.showsThird() && len(cs) > 4 && !f.thirdThere(cs)
}

// lately is the mean of the last tenth of a second: what is left after the inrush of a small motor.
func (f *flow) lately(c Current) float64 {
	if cs := between(f.recent, max(c.EndS-0.1, f.candS), c.EndS); len(cs) > 0 {
		return sideOf(cs).mean
	}
	return c.RMSA
}

// rowS is the length of the reading in which the pending change lies, s: the sound may have changed anywhere within it,
// and a whole one later where its time is that of its beginning. 0 of a waveform.
func (f *flow) rowS() float64 { return f.cand.rowS() }

func sq(v float64) float64 { return v * v }

// inrushA is the current from which a step is a motor's inrush, whatever is heard; once this motor has
// shown its own, a good part of that.
func (f *flow) inrushA() float64 {
	a := inrushSure * f.lim.ratedA
	if own := ownShare * f.ownPeak; own > 1.2*f.lim.ratedA {
		a = min(a, own)
	}
	return a
}

// heardStart returns by how much the sound has risen since the pending start, dB: the least rise of its
// last three tenths of a second, for a motor's sound stays where a word or a clap does not. NaN if
// nothing was heard at all, -Inf while there is too little to tell.
func (f *flow) heardStart(nowS float64) float64 {
	a0, c0, ok := f.ear.usual(f.candS-f.rowS()/2-1, f.candS-f.rowS()/2-0.05)
	if !f.ear.any || !ok {
		return math.NaN()
	}
	least, more := math.Inf(1), humMoreDB
	if f.peak > 1.5*f.lim.ratedA && !(f.cand.Wave && f.peak < f.lim.compressorA) {
		more = 0
	}
	for k := range 3 {
		to := nowS - 0.1*float64(k)
		if to-0.1 < f.candS {
			return math.Inf(-1)
		}
		a1, c1, ok := f.ear.levels(to-0.1, to)
		if !ok {
			return math.NaN()
		}
		least = min(least, max(a1-a0, c1-c0-more))
	}
	return least
}

func (f *flow) start(c Current) {
	within := (c.EndS - c.StartS) / 4
	how := "within a quarter of a half cycle"
	if !c.Wave {
		within = f.cand.EndS - f.cand.StartS
		how = "between two readings"
	}
	sure := 1.0
	if r := f.heardStart(c.EndS); r < riseDB {
		sure = 0.8
	}
	if f.booting(f.candS) {
		f.candS, f.peak = f.chargeS, max(f.peak, f.chargeA)
	}
	f.turns = append(f.turns, turn{on: true, atS: f.candS, withinS: within, sure: sure, dead: f.deadBefore(f.candS),
		evidence: fmt.Sprintf("current rose from %.2f A to %.1f A %s", f.base, f.peak, how)})
	f.startS, f.asked, f.upA = f.candS, false, 0
	f.offDev = math.Sqrt(f.spread)
	f.held, f.prior = f.doubtful(), prior{f.hears, f.ownPeak, f.idle, f.thirdIdle, f.idleBeside, f.peak - f.base, math.NaN(), false}
	f.ownPeak = max(f.ownPeak, f.peak)
	f.ambientDB, _, _ = f.ear.levels(f.candS-1, f.candS-0.05)
	f.state, f.block, f.slow = flowOn, meanOver{fromS: f.candS + 1}, f.peak
	if !f.held {
		f.decided = f.candS
	}
}
