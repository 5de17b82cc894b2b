package report

import (
	"math"

	"quern/rig"
)

// Shares of the ribbon's height that a state's band takes.
const (
	noLoadShare = 0.34
	loadedShare = 0.46 // of the least load; the greatest takes fullShare
	fullShare   = 0.92
)

// band draws the motor's state over a rectangle, by thickness and pattern first and shade second.
// load gives the load at a place as a share of the greatest, 0 to 1; nil: not known.
func (p *pen) band(s rig.State, b box, load func(x float64) float64) {
	mid, half := (b.y0+b.y1)/2, (b.y1-b.y0)/2
	at := func(share float64) box { return box{x0: b.x0, y0: mid - share*half, x1: b.x1, y1: mid + share*half} }
	thin := stroke{0.9, ink, nil}
	switch s {
	case rig.Starting:
		p.fill(sky, point{b.x0, mid - half}, point{b.x0, mid + half}, point{b.x1, mid + noLoadShare*half}, point{b.x1, mid - noLoadShare*half})
		p.line(thin, point{b.x1, mid + noLoadShare*half}, point{b.x0, mid + half}, point{b.x0, mid - half}, point{b.x1, mid - noLoadShare*half})
	case rig.NoLoad:
		p.fill(paper, corners(at(noLoadShare))...)
		p.outline(thin, at(noLoadShare))
	case rig.Loaded:
		p.loaded(b, load)
	case rig.Overloaded:
		p.fill(paper, corners(at(fullShare))...)
		p.rule(stroke{1.1, orange, nil}, at(fullShare), 5, 1)
		p.outline(stroke{1.2, orange, nil}, at(fullShare))
	case rig.Stalled:
		p.fill(paper, corners(at(1))...)
		p.rule(stroke{1, red, nil}, at(1), 5, 1)
		p.rule(stroke{1, red, nil}, at(1), 5, -1)
		p.outline(stroke{1.8, red, nil}, at(1))
	case rig.Tripped:
		p.fill(paper, corners(at(1))...)
		p.cross(b.x0+3, mid)
	case rig.Unknown:
		p.fill(paper, corners(at(0.66))...)
		p.outline(stroke{1, soft, []float64{1.2, 2.4}}, at(0.66))
	default:
		p.line(stroke{0.8, soft, nil}, point{b.x0, mid}, point{b.x1, mid})
	}
}

// cross is the mark of a trip.
func (p *pen) cross(x, y float64) {
	const r = 4.5
	s := stroke{2, red, nil}
	p.line(s, point{x, y - r}, point{x + 2*r, y + r})
	p.line(s, point{x, y + r}, point{x + 2*r, y - r})
}

// loaded is solid, and the thicker the greater the load.
func (p *pen) loaded(b box, load func(x float64) float64) {
	mid, half := (b.y0+b.y1)/2, (b.y1-b.y0)/2
	var upper, lower []point
	n := max(1, int(math.Ceil(b.x1-b.x0)))
	for i := range n + 1 {
		x := min(b.x0+float64(i), b.x1)
		share := (loadedShare + fullShare) / 2
		if load != nil {
			share = loadedShare + (fullShare-loadedShare)*min(max(load(x), 0), 1)
		}
		upper = append(upper, point{x, mid + share*half})
		lower = append(lower, point{x, mid - share*half})
	}
	for i := len(lower) - 1; i >= 0; i-- {
		upper = append(upper, lower[i])
	}
	p.fill(blue, upper...)
}

// stretch is a span of the ribbon.
type stretch struct {
	state      rig.State
	fromS, toS float64
	run        int // index; -1: between the runs
}

// stretches returns what the ribbon shows from one instant to another: the spans of the runs, off
// between the runs, unknown where a run says nothing.
func stretches(runs []rig.Run, fromS, toS float64) []stretch {
	var out []stretch
	at := fromS
	add := func(s rig.State, a, b float64, run int) {
		if a, b = max(a, at), min(b, toS); b > a {
			out = append(out, stretch{s, a, b, run})
			at = b
		}
	}
	for i, r := range runs {
		start, end, ok := extent(r)
		if !ok {
			continue
		}
		add(rig.Off, at, start, -1)
		for _, s := range r.States {
			a, okA := s.FromS.Value()
			b, okB := s.ToS.Value()
			if okA && okB {
				add(rig.Unknown, at, min(a, end), i)
				add(s.State, a, b, i)
			}
		}
		add(rig.Unknown, at, end, i)
	}
	if len(runs) > 0 {
		add(rig.Off, at, toS, -1)
	}
	return out
}

// extent returns when a run began and ended.
func extent(r rig.Run) (fromS, toS float64, ok bool) {
	a, okA := r.StartS.Value()
	b, okB := r.EndS.Value()
	return a, b, okA && okB && b >= a
}

// loadOf returns the load at an instant as a share of the greatest in the given stretches: the
// current above the run's no-load current. nil if there is no current to tell it.
func loadOf(s []stretch, runs []rig.Run, current Series, cols int, fromS, toS float64) func(atS float64) float64 {
	if len(current.AtS) == 0 || cols < 1 || !(toS > fromS) {
		return nil
	}
	sum, n := make([]float64, cols), make([]float64, cols)
	col := func(atS float64) int { return min(max(int((atS-fromS)/(toS-fromS)*float64(cols)), 0), cols-1) }
	for i, at := range current.AtS {
		if v := current.V[i]; at >= fromS && at <= toS && finite(v) {
			sum[col(at)] += v
			n[col(at)]++
		}
	}
	above, most := make([]float64, cols), 0.0
	for _, st := range s {
		if st.run < 0 || st.state != rig.Loaded && st.state != rig.Overloaded {
			continue
		}
		idle, _ := runs[st.run].Motor.IdleA.Value()
		last := 0.0
		for c := col(st.fromS); c <= col(st.toS); c++ {
			if n[c] > 0 {
				last = sum[c]/n[c] - idle
			}
			above[c] = last
			// The columns at either end hold some of the neighbouring state, maybe a stall.
			if c > col(st.fromS) && c < col(st.toS) {
				most = max(most, last)
			}
		}
	}
	if most <= 0 {
		return nil
	}
	return func(atS float64) float64 { return above[col(atS)] / most }
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
