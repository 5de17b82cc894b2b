package report

import (
	"math"
	"slices"
)

// curve is one line in a panel.
type curve struct {
	Series
	name string
	stroke
}

// panel is a stack of curves over the shared time axis.
type panel struct {
	title   string
	curves  []curve
	share   float64 // of the height that there is for panels
	highest float64 // pt
	axis    axis
	ticks   []tick
	marks   []mark
}

// mark is a level line with words.
type mark struct {
	v    float64
	word string
}

// within returns the part of a series that lies on a time axis, without points that run backwards.
func (s Series) within(t axis) Series {
	var out Series
	n := min(len(s.AtS), len(s.V))
	last := math.Inf(-1)
	for i := range n {
		at := s.AtS[i]
		if !finite(at) || at < last || !t.holds(at) {
			continue
		}
		last = at
		out.AtS, out.V = append(out.AtS, at), append(out.V, s.V[i])
	}
	return out
}

// bounds returns the least and the largest value that is one.
func (s Series) bounds() (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range s.V {
		if finite(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	return lo, hi, lo <= hi
}

// pause returns the distance of two points from which the line between them would be invented:
// well above the usual distance.
func (s Series) pause() float64 {
	var d []float64
	for i := 1; i < len(s.AtS); i++ {
		d = append(d, s.AtS[i]-s.AtS[i-1])
	}
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	return max(10*d[len(d)*9/10], 0.5)
}

// lines returns a series as lines on the picture, broken at gaps. Of every point's width of the
// time axis it keeps the first, the least, the largest and the last value.
func lines(s Series, t, y axis) [][]point {
	var out [][]point
	var cur []point
	var first, lo, hi, last point
	col, held := math.Inf(-1), false
	flush := func() {
		if !held {
			return
		}
		held = false
		a, b := lo, hi
		if a.x > b.x {
			a, b = b, a
		}
		for _, q := range []point{first, a, b, last} {
			if len(cur) == 0 || cur[len(cur)-1] != q {
				cur = append(cur, q)
			}
		}
	}
	end := func() {
		flush()
		if len(cur) == 1 { // a lone reading is a dot
			cur = append(cur, point{cur[0].x + 0.8, cur[0].y})
		}
		if len(cur) > 0 {
			out = append(out, cur)
		}
		cur = nil
	}
	pause := s.pause()
	for i, at := range s.AtS {
		v := s.V[i]
		if i > 0 && at-s.AtS[i-1] > pause {
			end()
		}
		if !finite(v) {
			end()
			continue
		}
		q := point{t.at(at), y.at(y.clip(v))}
		if c := math.Floor(q.x); !held || c != col {
			flush()
			col, held = c, true
			first, lo, hi = q, q, q
		}
		if q.y < lo.y {
			lo = q
		}
		if q.y > hi.y {
			hi = q
		}
		last = q
	}
	end()
	return out
}

// panel draws the frame, the ticks and the curves of a panel in a box.
func (p *pen) panel(f panel, b box, t axis, ts []tick) {
	small := letters{9, false, ink}
	y := f.axis
	y.p0, y.p1 = b.y0, b.y1
	for _, k := range ts {
		p.line(stroke{0.5, faint, nil}, point{t.at(k.at), b.y0}, point{t.at(k.at), b.y1})
	}
	for _, k := range f.ticks {
		at := y.at(k.at)
		p.line(stroke{0.5, faint, nil}, point{b.x0, at}, point{b.x1, at})
		p.line(stroke{0.7, ink, nil}, point{b.x0 - 4, at}, point{b.x0, at})
		p.write(small, b.x0-7, at-3, end, k.text)
	}
	for _, c := range f.curves {
		for _, l := range lines(c.Series, t, y) {
			p.line(c.stroke, l...)
		}
	}
	for _, m := range f.marks {
		if y.holds(m.v) {
			p.line(stroke{0.8, soft, []float64{5, 3}}, point{b.x0, y.at(m.v)}, point{b.x1, y.at(m.v)})
			p.write(letters{8.5, false, soft}, b.x1+5, y.at(m.v)-3, start, p.fit(letters{8.5, false, soft}, m.word, rightMargin-8))
		}
	}
	p.outline(stroke{0.8, ink, nil}, b)

	// The head names the quantity and its unit, then each curve after a piece of it.
	head := letters{9.5, true, ink}
	x, base := b.x0, b.y1+5
	p.write(head, x, base, start, f.title)
	x += slack*p.width(head, f.title) + 18
	for _, c := range f.curves {
		if c.name == "" {
			continue
		}
		p.line(c.stroke, point{x, base + 3}, point{x + 20, base + 3})
		p.write(small, x+25, base, start, c.name)
		x += 25 + slack*p.width(small, c.name) + 18
	}
}
