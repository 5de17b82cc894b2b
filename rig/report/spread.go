package report

import (
	"math"

	"quern/rig"
)

// Spread is a plot of repeats: of each measure the value of every run, their mean and its interval, and the
// limit of a gate on it. Each measure has an axis of its own.
type Spread struct {
	Title string
	Rows  []SpreadRow
	Style Style
}

// SpreadRow is one measure, its values in its own unit.
type SpreadRow struct {
	Name    string // in print
	Measure string // rig.Measure
	Runs    []float64
	Far     []int      // positions of runs that are far off
	Mean    rig.Figure // as it counts
	Half    rig.Figure // half-width of the interval of the mean; absent: no repeats
	Limit   rig.Figure // of a gate; absent: none
	AtMost  bool       // the limit is an upper one
}

func (s Spread) words() string {
	return s.Title + ": every run, the mean with its interval, and the limits"
}

const spreadRowHigh = 54.0

func (s Spread) plan(p *pen) func() {
	p.wide = 720
	p.height = 76 + spreadRowHigh*float64(len(s.Rows))
	return func() {
		p.fill(paper, corners(box{x1: p.wide, y1: p.height})...)
		title := letters{12, true, ink}
		p.write(title, 14, p.height-22, start, p.fit(title, s.Title, p.wide-28))
		s.legend(p, 12)
		for i, r := range s.Rows {
			s.row(p, r, p.height-46-spreadRowHigh*float64(i)-20)
		}
	}
}

// axis returns the axis of a row: around what was measured, and the limit if that lies near.
func (r SpreadRow) axis() axis {
	lo, hi := math.Inf(1), math.Inf(-1)
	see := func(v float64) { lo, hi = min(lo, v), max(hi, v) }
	for _, v := range r.Runs {
		if finite(v) {
			see(v)
		}
	}
	if m, ok := r.Mean.Value(); ok {
		h, _ := r.Half.Value()
		see(m - h)
		see(m + h)
	}
	if !(lo <= hi) {
		lo, hi = 0, 1
	}
	span := max(hi-lo, 0.02*math.Abs(hi), 1e-9)
	if r.counted() {
		lo, span = 0, max(hi, 1)
		hi = lo + span
	}
	if l, ok := r.Limit.Value(); ok && l > lo-4*span && l < hi+4*span {
		see(l)
		lo, hi = min(lo, l), max(hi, l)
	}
	span = max(hi-lo, span)
	a := axis{from: lo - 0.08*span, to: hi + 0.08*span}
	if lo >= 0 { // nothing measured here is below nothing
		a.from = max(a.from, 0)
	}
	if r.counted() {
		a.from = -0.08 * span
	}
	return a
}

func (r SpreadRow) counted() bool {
	m, ok := rig.FindMeasure(r.Measure)
	return ok && m.Counted()
}

func (s Spread) row(p *pen, r SpreadRow, y float64) {
	name, small := letters{9.5, true, ink}, letters{9, false, ink}
	x := r.axis()
	x.p0, x.p1 = 172, p.wide-176
	p.write(name, x.p0-12, y-3, end, p.fit(name, r.Name, x.p0-24))
	p.line(stroke{0.7, soft, nil}, point{x.p0, y - 14}, point{x.p1, y - 14})
	step := step125((x.to - x.from) / 4)
	if r.counted() {
		step = max(step, 1)
	}
	if m, _ := rig.FindMeasure(r.Measure); m.Unit == "s" {
		for _, t := range []float64{1, 2, 5, 10, 15, 30, 60, 120, 300} {
			if step = t; (x.to-x.from)/t <= 5 {
				break
			}
		}
		step = max(step, step125((x.to-x.from)/5))
	}
	for _, k := range ticksOf(x, step, func(v float64) string { return s.Style.Measure(r.Measure, v) }) {
		p.line(stroke{0.7, soft, nil}, point{x.at(k.at), y - 14}, point{x.at(k.at), y - 17})
		p.write(letters{8, false, soft}, x.at(k.at), y-26, middle, k.text)
	}
	if m, ok := r.Mean.Value(); ok {
		if h, ok := r.Half.Value(); ok {
			a, b := x.at(x.clip(m-h)), x.at(x.clip(m+h))
			p.fill(faint, corners(box{x0: a, y0: y - 6, x1: max(b, a+0.8), y1: y + 6})...)
		}
		p.line(stroke{2.2, ink, nil}, point{x.at(x.clip(m)), y - 9}, point{x.at(x.clip(m)), y + 9})
	}
	for i, v := range r.Runs {
		if finite(v) {
			p.dot(x.at(x.clip(v)), y, 4, r.far(i))
		}
	}
	if l, ok := r.Limit.Value(); ok {
		s.limit(p, r, x, y, l)
	}
	text := "not measured"
	if m, ok := r.Mean.Value(); ok {
		text = s.Style.Measure(r.Measure, m)
		if h, ok := r.Half.Value(); ok {
			if w := s.Style.Half(r.Measure, h); w != "" {
				text += " " + w
			}
		}
	}
	p.write(small, x.p1+14, y+2, start, p.fit(small, text, p.wide-x.p1-22))
	if l, ok := r.Limit.Value(); ok {
		side := "at least "
		if r.AtMost {
			side = "at most "
		}
		p.write(letters{8.5, false, soft}, x.p1+14, y-10, start, p.fit(letters{8.5, false, soft}, "gate: "+side+s.Style.Measure(r.Measure, l), p.wide-x.p1-22))
	}
}

func (r SpreadRow) far(i int) bool {
	for _, o := range r.Far {
		if o == i {
			return true
		}
	}
	return false
}

// limit draws the edge that a gate does not let pass, its teeth on the side that fails; beyond the axis an
// arrow points to it.
func (s Spread) limit(p *pen, r SpreadRow, x axis, y, at float64) {
	side := 1.0
	if !r.AtMost {
		side = -1
	}
	if x.holds(at) {
		c := x.at(at)
		p.line(stroke{1.6, ink, nil}, point{c, y - 14}, point{c, y + 12})
		for t := y - 12; t < y+12; t += 6 {
			p.line(stroke{0.8, ink, nil}, point{c, t + 4}, point{c + 4*side, t})
		}
		return
	}
	c, d := x.p1+2, 8.0
	if at < x.from {
		c, d = x.p0-2, -8
	}
	p.line(stroke{1.2, ink, nil}, point{c - d/2, y}, point{c + d, y})
	p.line(stroke{1.2, ink, nil}, point{c + d/3, y + 3.5}, point{c + d, y}, point{c + d/3, y - 3.5})
}

// dot draws a run: filled, or open with a stroke through it if it is far off.
func (p *pen) dot(x, y, r float64, far bool) {
	var ring []point
	for i := range 16 {
		a := 2 * math.Pi * float64(i) / 16
		ring = append(ring, point{x + r*math.Cos(a), y + r*math.Sin(a)})
	}
	if !far {
		p.fill(blue, ring...)
		p.line(stroke{0.8, paper, nil}, append(ring, ring[0])...)
		return
	}
	p.fill(paper, ring...)
	p.line(stroke{1.4, red, nil}, append(ring, ring[0])...)
	p.line(stroke{1.4, red, nil}, point{x - r, y - r}, point{x + r, y + r})
}

func (s Spread) legend(p *pen, y float64) {
	l := letters{9, false, ink}
	x := 20.0
	say := func(word string) {
		p.write(l, x+14, y, start, word)
		x += 14 + slack*p.width(l, word) + 18
	}
	p.dot(x, y+3, 4, false)
	say("a run")
	p.dot(x, y+3, 4, true)
	say("a run far off")
	p.fill(faint, corners(box{x0: x - 10, y0: y - 2, x1: x + 8, y1: y + 8})...)
	p.line(stroke{2.2, ink, nil}, point{x - 1, y - 3}, point{x - 1, y + 9})
	say("mean and its interval, from the scatter pooled over units")
	p.line(stroke{1.6, ink, nil}, point{x, y - 3}, point{x, y + 9})
	p.line(stroke{0.8, ink, nil}, point{x, y + 8}, point{x + 4, y + 4})
	p.line(stroke{0.8, ink, nil}, point{x, y + 3}, point{x + 4, y - 1})
	say("limit of a gate (an arrow: off the axis)")
}
