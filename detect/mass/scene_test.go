package mass_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"quern/detect/mass"
	"quern/rig"
)

// device is how an invented scale shows what is on it.
type device struct {
	rateHz    float64
	jitter    float64 // share of the interval
	divisionG float64
	filterS   float64 // time constant
	averageS  float64 // moving average
	hold      bool    // shows the last stable value until the next
	mark      string  // "", "honest", "yes", "no"
	noise     float64 // standard deviation in divisions
}

// act is one thing that happens at a pan. Of a change to toG over overS, everything is there by
// atS+overS; drainG then goes with the time constant drainS.
type act struct {
	kind           string // put, pour, tare, bump, hand, vibrate, motor, gap, creep, drain
	atS, overS     float64
	toG            float64 // put, pour: afterwards on the pan
	forceG         float64 // hand, bump, vibrate, motor
	drainG, drainS float64
}

// scene is what happens at a pan and how it is shown.
type scene struct {
	device
	acts []act
	endS float64
	seed uint64
	wet  bool
}

// massG is what is on the pan at an instant, as far as it is a load; leaning hands are not.
func (s *scene) massG(t float64) float64 {
	m := 0.0
	for _, a := range s.acts {
		if t < a.atS {
			break
		}
		age := t - a.atS
		switch a.kind {
		case "put", "pour":
			if x := age / a.overS; x < 1 {
				m += (a.toG - m) * x
			} else {
				m = a.toG
			}
		case "tare":
			m -= a.toG
		case "creep":
			m += a.forceG * min(age/a.overS, 1)
		}
		if a.drainS > 0 {
			m -= a.drainG * (1 - math.Exp(-age/a.drainS))
		}
	}
	return m
}

func (s *scene) motor(t float64) bool {
	for _, a := range s.acts {
		if a.kind == "motor" && t >= a.atS && t < a.atS+a.overS {
			return true
		}
	}
	return false
}

// shown is a reading and whether the motor ran.
type shown struct {
	rig.Reading
	motor bool
}

// readings makes the scale's readings.
func (s *scene) readings() []shown {
	r := rand.New(rand.NewPCG(s.seed, 77))
	var out []shown
	var recent []shown
	y, lean, still, anchor, held := s.massG(0), 0.0, 0.0, 0.0, math.NaN()
	every := 1 // of the device's own samples is shown: it filters faster than it shows
	if s.filterS > 0 || s.averageS > 0 || s.hold {
		every = max(1, int(25/s.rateHz))
	}
	inS := 1 / s.rateHz / float64(every)
	keep, toward := math.Exp(-inS/0.3), 1-math.Exp(-inS/s.filterS)
	hands := slices.ContainsFunc(s.acts, func(a act) bool { return a.kind == "hand" })
	for k := 0; ; k++ {
		t := float64(k) * inS
		if t > s.endS {
			return out
		}
		if k > 0 {
			t += inS * s.jitter * (r.Float64() - 0.5)
		}
		v, gone := s.massG(t), false
		if hands {
			lean = lean*keep + math.Sqrt(1-keep*keep)*r.NormFloat64()
		}
		for _, a := range s.acts {
			age := t - a.atS
			in := age >= 0 && age < a.overS
			switch a.kind {
			case "put":
				if age >= 0 && age < a.overS+2 {
					v += 0.05 * max(a.toG, 100) * math.Exp(-age/0.2) * math.Cos(20*age)
				}
			case "bump":
				if age >= 0 && age < 3 {
					v += a.forceG * math.Exp(-age/0.25) * math.Cos(18*age)
				}
			case "hand": // presses, and trembles by several divisions at least, filtered or not
				if in {
					v += min(age, a.overS-age, 0.3)/0.3*a.forceG + lean*max(0.08*a.forceG, 3*s.divisionG)*(1+s.averageS+s.filterS)
				}
			case "vibrate", "motor":
				if in {
					v += a.forceG * r.NormFloat64()
				}
			case "gap":
				gone = gone || in
			}
		}
		recent = append(recent, shown{Reading: rig.Reading{AtS: t, Value: v}})
		if s.averageS > 0 {
			sum, n := 0.0, 0
			for i := len(recent) - 1; i >= 0 && recent[i].AtS > t-s.averageS; i-- {
				sum, n = sum+recent[i].Value, n+1
			}
			v = sum / float64(n)
			recent = recent[max(0, len(recent)-n-1):]
		} else {
			recent = recent[:0]
		}
		if s.filterS > 0 {
			y += (v - y) * toward
			v = y
		}
		v = math.Round((v+s.noise*s.divisionG*r.NormFloat64())/s.divisionG)*s.divisionG + 0
		if math.Abs(v-anchor) > s.divisionG*1.001 {
			still, anchor = 0, v
		}
		still += inS
		if s.hold {
			if still > 1 || math.IsNaN(held) {
				held = v
			}
			v = held
		}
		mark := rig.Unsaid
		switch s.mark {
		case "yes":
			mark = rig.Yes
		case "no":
			mark = rig.No
		case "honest":
			mark = rig.No
			if still > 1 {
				mark = rig.Yes
			}
		}
		if !gone && k%every == 0 {
			out = append(out, shown{rig.Reading{AtS: t, Value: v, Stable: mark}, s.motor(t)})
		}
	}
}

// settings are the defaults; a scale that averages needs a rest longer than that, or a push that was
// over before shows as a load.
func (s *scene) settings() mass.Settings {
	return mass.Settings{DivisionG: s.divisionG, RestS: max(1, 1.25*s.averageS)}
}

// take runs a taker over readings and returns what it took by itself.
func (s *scene) take(in []shown) (out []mass.Candidate, t *mass.Taker) {
	t = mass.NewTaker(s.settings())
	t.Wet(s.wet)
	for _, r := range in {
		if c, ok := t.Push(r.Reading, r.motor); ok {
			out = append(out, c)
		}
	}
	return out, t
}
