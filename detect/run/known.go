package run

import "math"

// Known returns, for each run found so far, the stretches in which the motor was on; one that has not
// ended yet ends at +Inf.
func (m *Machine) Known() [][]Interval {
	out := make([][]Interval, 0, len(m.runs)+1)
	for i := range m.runs {
		out = append(out, m.runs[i].On)
	}
	if m.cur != nil {
		out = append(out, openEnded(m.cur.On, m.on))
	}
	return out
}

// Began says whether a run has begun so far.
func (m *Machine) Began() bool { return m.cur != nil || len(m.runs) > 0 }

// Known is the same for a listener.
func (l *Listener) Known() [][]Interval { return known(l.runs, l.on()) }

// Known is the same for a shaker.
func (k *Shaker) Known() [][]Interval { return known(k.runs, false) }

// DecidedS is the instant up to which it is known whether the motor was on: a shaker decides at the end.
func (k *Shaker) DecidedS() float64 {
	if n := len(k.pans); n > 0 && len(k.runs) > 0 {
		return k.pans[n-1].atS
	}
	return 0
}

func known(runs []Found, on bool) [][]Interval {
	out := make([][]Interval, 0, len(runs))
	for i := range runs {
		out = append(out, openEnded(runs[i].On, on && i == len(runs)-1))
	}
	return out
}

func openEnded(on []Interval, still bool) []Interval {
	if !still {
		return on
	}
	open := append([]Interval(nil), on...)
	open[len(open)-1].ToS = math.Inf(1)
	return open
}
