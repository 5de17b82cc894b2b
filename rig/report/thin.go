package report

import "math"

// Series is a curve: V[i] was measured at AtS[i], in seconds from the session's start. Times do not
// fall. A value that is NaN or infinite is a gap.
type Series struct {
	AtS []float64
	V   []float64
}

const (
	thinColumns = 4096 // more than a picture has pixel columns
	thinWidthS  = 0.01 // s; the finest column: a half cycle of the mains is 8.3 ms to 10 ms
)

// Thin keeps a curve of any length in bounded memory: of every column of time it keeps the least
// and the largest value and when they were, and it doubles the width of its columns when they do
// not suffice. The extremes of the whole curve are always among what is kept. The zero Thin is
// ready for use.
type Thin struct {
	columns []thinColumn
	fromS   float64
	widthS  float64
}

type thinColumn struct {
	minAtS, min float64
	maxAtS, max float64
	seen        bool
	gap         bool // a value that was none fell here
}

// Add takes the next value; atS does not fall from call to call. A value that is NaN or infinite is
// a gap; an instant that is either is ignored.
func (t *Thin) Add(atS, v float64) {
	if math.IsNaN(atS) || math.IsInf(atS, 0) {
		return
	}
	if t.columns == nil {
		t.columns, t.fromS, t.widthS = make([]thinColumn, 0, thinColumns), atS, thinWidthS
	}
	for (atS-t.fromS)/t.widthS >= thinColumns {
		t.double()
	}
	i := int(max(atS-t.fromS, 0) / t.widthS)
	for len(t.columns) <= i {
		t.columns = append(t.columns, thinColumn{})
	}
	c := &t.columns[i]
	if math.IsNaN(v) || math.IsInf(v, 0) {
		c.gap = true
		return
	}
	c.join(thinColumn{minAtS: atS, min: v, maxAtS: atS, max: v, seen: true})
}

func (c *thinColumn) join(d thinColumn) {
	c.gap = c.gap || d.gap
	if !d.seen {
		return
	}
	if !c.seen || d.min < c.min {
		c.min, c.minAtS = d.min, d.minAtS
	}
	if !c.seen || d.max > c.max {
		c.max, c.maxAtS = d.max, d.maxAtS
	}
	c.seen = true
}

// double joins the columns two by two.
func (t *Thin) double() {
	n := (len(t.columns) + 1) / 2
	for i := range n {
		c := t.columns[2*i]
		if 2*i+1 < len(t.columns) {
			c.join(t.columns[2*i+1])
		}
		t.columns[i] = c
	}
	t.columns = t.columns[:n]
	t.widthS *= 2
}

// Series returns what was kept, at most two values a column, in order of time. A column in which
// nothing but gaps fell is a NaN.
func (t *Thin) Series() Series {
	var s Series
	add := func(atS, v float64) {
		if n := len(s.AtS); n > 0 {
			atS = max(atS, s.AtS[n-1])
		}
		s.AtS, s.V = append(s.AtS, atS), append(s.V, v)
	}
	for i, c := range t.columns {
		switch {
		case !c.seen && c.gap:
			add(t.fromS+(float64(i)+0.5)*t.widthS, math.NaN())
		case !c.seen:
		case c.minAtS == c.maxAtS:
			add(c.minAtS, c.min)
		case c.minAtS < c.maxAtS:
			add(c.minAtS, c.min)
			add(c.maxAtS, c.max)
		default:
			add(c.maxAtS, c.max)
			add(c.minAtS, c.min)
		}
	}
	return s
}
