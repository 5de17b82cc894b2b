package run

import "math"

// What is learned of the clamp while the motor is off, and of the motor while it runs.

// learn takes a record of the idle clamp.
func (f *flow) learn(c Current) {
	s := (c.EndS - c.StartS) / 2
	if !c.Wave {
		s *= 2
	}
	if c.RMSA < 0.5*f.base && f.base > 0.02*f.lim.ratedA {
		// Another appliance went off.
		if f.dropped += s; f.dropped > droppedS {
			f.base, f.spread, f.offPeak, f.dropped = c.RMSA, sq(0.1*c.RMSA), c.PeakA, 0
			f.other = 0
		}
		return
	}
	f.dropped = 0
	f.learnS += s
	g := s / (s + min(f.learnS, 2))
	f.learnThird(c, g)
	d := c.RMSA - f.base
	f.base += g * d
	f.spread += g * (d*d - f.spread)
	f.offPeak = max(c.PeakA, f.offPeak*(1-0.3*s))
	if c.SwingA == 0 {
		f.zeroS += s
	}
	// Noise is taken about the window's own mean: an offset that jumps is none.
	if !f.hidden() && (f.noise == 0 || c.SwingA > deadShare*f.noise) {
		f.noise += g * (c.SwingA - f.noise)
	}
}

// hidden says whether what other appliances draw while the motor is off hides the clamp's own noise.
func (f *flow) hidden() bool { return f.base >= 0.3*f.lim.priorIdle }

// learnThird takes the third harmonic of a record of the idle clamp, with a weight.
func (f *flow) learnThird(c Current, g float64) {
	if !c.Wave {
		return
	}
	d := c.ThirdA - f.third
	f.third += g * d
	f.thirdVar += g * (d*d - f.thirdVar)
}

// learnIdle takes a record of the running motor: the least that it draws over half a second, and the third harmonic of
// that.
func (f *flow) learnIdle(c Current, s float64) {
	if c.StartS <= f.block.fromS {
		return
	}
	f.block.add(f.own(c.RMSA), s)
	f.thirds.add(c.ThirdA, s)
	if f.jumped(c) {
		f.block, f.thirds = meanOver{fromS: c.EndS}, meanOver{} // whose current this is is not known yet
	}
	if f.block.s <= 0.5 {
		return
	}
	if m := f.block.mean(); m < 1.1*f.lim.ratedA && (f.idle == 0 || m < f.idle || f.idleBeside && !f.shares()) {
		f.idleBeside = f.shares() && (f.idle == 0 || f.idleBeside)
		f.idle = m
	}
	if m := math.Abs(f.thirds.mean() - f.third); f.thirdIdle == 0 || m < f.thirdIdle {
		f.thirdIdle = m
	}
	f.block, f.thirds = meanOver{fromS: c.EndS}, meanOver{}
}
