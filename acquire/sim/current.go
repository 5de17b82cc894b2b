package sim

import (
	"math"

	"quern/rig"
)

// ammeter is the clamp: what flows in the conductor, and what a clamp makes of it.
type ammeter struct {
	sc      *Scenario
	tale    *tale
	white   hiss
	brush   float64
	hum     float64 // phase of the stray field, rad
	others  []Mishap
	dead    []Mishap
	driftHz float64
}

func newAmmeter(sc *Scenario, t *tale) *ammeter {
	r := newRand(sc.Seed, partClamp)
	a := &ammeter{sc: sc, tale: t, white: hiss(r.Uint64()), hum: 2 * math.Pi * r.Float64(), driftHz: 1/60.0 + r.Float64()/60}
	for _, h := range sc.Mishaps {
		switch h.Kind {
		case Fridge, Kettle, Lamps:
			a.others = append(a.others, h)
		case DeadClamp:
			a.dead = append(a.dead, h)
		}
	}
	return a
}

// motor returns the motor's own current at the instant t, free of noise, and the mains' phase there.
func (a *ammeter) motor(t float64) (amps, theta float64) {
	pos := t / stepS
	k := min(int(pos), len(a.tale.points)-1)
	p, frac := &a.tale.points[k], pos-float64(k)
	q := p
	if k+1 < len(a.tale.points) {
		q = &a.tale.points[k+1]
	}
	theta = 2 * math.Pi * (p.turns + (q.turns-p.turns)*frac)
	if p.flags&flagOn == 0 {
		return 0, theta
	}
	if q.flags&flagOn == 0 {
		q = p
	}
	mix := func(x, y float32) float64 { return float64(x) + float64(y-x)*frac }
	f := flow{re: mix(p.re, q.re), im: mix(p.im, q.im), third: mix(p.third, q.third), dc: mix(p.dc, q.dc), pulse: mix(p.pulse, q.pulse), width: mix(p.width, q.width)}
	return f.at(theta), theta
}

// conductor returns all the current in the conductor: other appliances hang on it too.
func (a *ammeter) conductor(t float64) (amps, theta float64) {
	amps, theta = a.motor(t)
	for _, h := range a.others {
		age := t - h.AtS
		if age < 0 || age >= h.LastsS {
			continue
		}
		c := math.Cos(theta)
		switch h.Kind {
		case Fridge: // a small induction motor with an inrush of its own
			amps += math.Sqrt2 * h.Amount * (1 + 4.5/(1+math.Exp((age-0.35)/0.04))) * math.Cos(theta-0.9)
		case Kettle:
			amps += math.Sqrt2 * h.Amount * c
		case Lamps: // pulses at the crest, and the rubbish of their converters
			const w = 0.25
			if foot := math.Cos(w); math.Abs(c) > foot {
				amps += math.Copysign(h.Amount/pulseRMS(w)*(math.Abs(c)-foot)/(1-foot), c)
			}
			amps += 0.3 * h.Amount * a.white.normal()
		}
	}
	return amps, theta
}

// sample returns what the clamp gives at the instant t, in amperes.
func (a *ammeter) sample(t float64) float64 {
	for _, h := range a.dead {
		if t >= h.AtS && t < h.AtS+h.LastsS {
			return 0
		}
	}
	c := &a.sc.Current
	i, theta := a.conductor(t)
	n1, n2 := a.white.pair()
	if a.sc.Unit.Motor == universalMotor {
		a.brush += 0.5 * (n2 - a.brush) // sparks: a hundredth of the current, of short memory
		i *= 1 + 0.02*a.brush
	}
	drift := c.OffsetA * (1 + 0.1*math.Sin(2*math.Pi*a.driftHz*t))
	return i*(1+c.GainError) + c.NoiseA*n1 + math.Sqrt2*c.PickupA*math.Cos(theta+a.hum) + drift
}

// reading returns the RMS that an instrument shows for the time from to to, in amperes; it removes d.c.
func (a *ammeter) reading(from, to float64) float64 {
	var sum, sq, n float64
	for t := from; t < to; t += stepS {
		x := a.sample(t)
		sum, sq, n = sum+x, sq+x*x, n+1
	}
	return math.Round(math.Sqrt(math.Max(0, sq/n-sum*sum/n/n))*1000) / 1000
}

// quantise rounds a share of full scale to a converter's steps, of which there are so many to full
// scale, and clips it.
func quantise(x, steps float64) float64 {
	v := math.RoundToEven(x * steps)
	if v > steps-1 {
		v = steps - 1
	} else if v < -steps {
		v = -steps
	}
	return v / steps
}

// balance is the scale.
type balance struct {
	sc    *Scenario
	tale  *tale
	white hiss
	shown float64
	still float64 // for how long the indication has stood
	last  float64
}

func newBalance(sc *Scenario, t *tale) *balance {
	return &balance{sc: sc, tale: t, white: hiss(newRand(sc.Seed, partScale).Uint64())}
}

// reading returns the k-th indication: it settles within a second or so, and shakes with the motor.
func (b *balance) reading(k int) rig.Reading {
	s := &b.sc.Mass
	t := float64(k) / s.RateHz
	grams := 0.0
	for _, m := range b.tale.bowl {
		if m.atS <= t {
			grams = m.grams
		}
	}
	b.shown += (grams - b.shown) * (1 - math.Exp(-1/(0.3*s.RateHz)))
	v := b.shown + 0.1*s.DivisionG*b.white.normal()
	p := &b.tale.points[min(int(t/stepS), len(b.tale.points)-1)]
	v += s.VibrateG * (float64(p.speed) + float64(p.load)) * b.white.normal()
	for _, h := range b.sc.Mishaps {
		if age := t - h.AtS; h.Kind == Knock && age >= 0 && age < 1 {
			v += 40 * s.DivisionG * math.Exp(-age/0.2) * b.white.normal()
		}
	}
	v = math.Round(v/s.DivisionG)*s.DivisionG + 0 // no negative zero
	if math.Abs(v-b.last) > s.DivisionG {
		b.still = 0
	}
	b.still += 1 / s.RateHz
	b.last = v
	mark := rig.No
	if b.still > 1 {
		mark = rig.Yes
	}
	return rig.Reading{AtS: t, Value: v, Stable: mark}
}
