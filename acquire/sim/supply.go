package sim

import "math"

// mains is the supply: a phase that wanders slowly about its frequency, and a voltage.
type mains struct {
	mean  float64 // Hz
	hz, v float64 // now; v is the open-circuit voltage as a share of nominal
	turns float64 // phase of the voltage's cosine
	f, u  [3]ripple
	dips  []Mishap
}

// ripple is one slow sine.
type ripple struct{ amp, hz, phase float64 }

func (r ripple) at(t float64) float64 { return r.amp * math.Sin(2*math.Pi*r.hz*t+r.phase) }

func newMains(sc *Scenario) *mains {
	r := newRand(sc.Seed, partSupply)
	m := &mains{mean: sc.Supply.FrequencyHz + sc.Supply.OffsetHz, turns: r.Float64()}
	for i := range m.f {
		// Periods of some 5 to 60 s: the mains' frequency wanders, it does not jump.
		m.f[i] = ripple{sc.Supply.WanderHz * (0.4 + 0.4*r.Float64()), 1/60.0 + r.Float64()/8, 2 * math.Pi * r.Float64()}
		m.u[i] = ripple{sc.Supply.WanderV * (0.4 + 0.4*r.Float64()), 1/40.0 + r.Float64()/6, 2 * math.Pi * r.Float64()}
	}
	for _, h := range sc.Mishaps {
		if h.Kind == Dip {
			m.dips = append(m.dips, h)
		}
	}
	return m
}

// step goes to step k, the one after that before, and returns the phase there in turns.
func (m *mains) step(k int) float64 {
	if k > 0 {
		m.turns += m.hz * stepS
	}
	if k%8 != 0 {
		return m.turns
	}
	t := seconds(k)
	m.hz, m.v = m.mean, 1
	for i := range m.f {
		m.hz += m.f[i].at(t)
		m.v += m.u[i].at(t)
	}
	for _, d := range m.dips {
		if t >= d.AtS && t < d.AtS+d.LastsS {
			m.v *= 1 - d.Amount
		}
	}
	return m.turns
}
