package gum

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// What a curve does between its points and outside them.
const (
	Linear   = "linear"   // straight lines: checkable by hand
	Monotone = "monotone" // cubic, smooth, rising or falling only where the points do
	Flat     = "flat"     // outside: the points of the nearest end
	Refuse   = "refuse"   // outside: no points, an error
)

const maxPoints = 10.0 // a criterion gives 0 to 10 points

// Curve maps a measure to points. The points need not rise or fall throughout; the curve never leaves
// the range of the two it runs between.
type Curve struct {
	xs, ys []float64
	segs   []segment
	refuse bool
}

// segment is y = y0 + t*(b + t*(c + t*d)) with t = x - x0, held within lo and hi against rounding.
type segment struct{ x0, y0, b, c, d, lo, hi float64 }

// NewCurve returns the curve through points, pairs of a measure in its unit and of 0 to 10 points, in
// order of the measure. shape is "linear" or "monotone": the piecewise cubic of F. N. Fritsch and J.
// Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, with three-point end slopes (PCHIP). outside is
// "flat" or "refuse".
func NewCurve(points [][2]float64, shape, outside string) (*Curve, error) {
	if err := checkCurve(points, shape, outside); err != nil {
		return nil, err
	}
	c := &Curve{refuse: outside == Refuse}
	for _, p := range points {
		c.xs, c.ys = append(c.xs, p[0]), append(c.ys, p[1])
	}
	var cubic interp.FritschButland
	if shape == Monotone {
		if err := cubic.Fit(c.xs, c.ys); err != nil {
			return nil, err
		}
	}
	for i := range len(points) - 1 {
		h, y0, y1 := c.xs[i+1]-c.xs[i], c.ys[i], c.ys[i+1]
		s := segment{x0: c.xs[i], y0: y0, b: (y1 - y0) / h, lo: min(y0, y1), hi: max(y0, y1)}
		if shape == Monotone {
			mean, d0, d1 := s.b, cubic.PredictDerivative(c.xs[i]), cubic.PredictDerivative(c.xs[i+1])
			s.b, s.c, s.d = d0, (3*mean-2*d0-d1)/h, (d0+d1-2*mean)/h/h
		}
		if !finite(h, s.b, s.c, s.d) {
			return nil, fmt.Errorf("points %d and %d: found x %g and %g, too close or too far apart to calculate with", i+1, i+2, c.xs[i], c.xs[i+1])
		}
		c.segs = append(c.segs, s)
	}
	return c, nil
}

// checkCurve names the first thing wrong; points count from 1.
func checkCurve(points [][2]float64, shape, outside string) error {
	switch {
	case shape != Linear && shape != Monotone:
		return fmt.Errorf("found shape %q, expected %q or %q", shape, Linear, Monotone)
	case outside != Flat && outside != Refuse:
		return fmt.Errorf("found %q outside the points, expected %q or %q", outside, Flat, Refuse)
	case len(points) < 2:
		return fmt.Errorf("found %d points, expected at least 2", len(points))
	}
	for i, p := range points {
		switch {
		case !finite(p[0], p[1]):
			return fmt.Errorf("point %d: found [%g, %g], expected numbers", i+1, p[0], p[1])
		case p[1] < 0 || p[1] > maxPoints:
			return fmt.Errorf("point %d: found [%g, %g], expected 0 to %g points", i+1, p[0], p[1], maxPoints)
		case i > 0 && p[0] == points[i-1][0]:
			return fmt.Errorf("points %d and %d: found [%g, %g] and [%g, %g], expected different x: leave one out",
				i, i+1, points[i-1][0], points[i-1][1], p[0], p[1])
		case i > 0 && p[0] < points[i-1][0]:
			return fmt.Errorf("points %d and %d: found [%g, %g] before [%g, %g], expected x to grow: put them in order",
				i, i+1, points[i-1][0], points[i-1][1], p[0], p[1])
		}
	}
	return nil
}

// Reading is the points of one value with the stretch of the curve they come from.
type Reading struct {
	Y              float64 // points
	Slope          float64 // points per unit of x, to the right at a corner; 0 outside
	Segment        int     // between points Segment+1 and Segment+2, counted from 1
	X0, Y0, X1, Y1 float64 // those two points
	Outside        int     // -1: before the first point, 1: past the last; 0
}

// At returns the points for x, or an error outside a curve that refuses.
func (c *Curve) At(x float64) (Reading, error) {
	last := len(c.segs)
	if last == 0 || math.IsNaN(x) {
		return Reading{}, fmt.Errorf("found %g, expected a number and a curve with points", x)
	}
	var r Reading
	switch {
	case x < c.xs[0]:
		r.Outside = -1
	case x > c.xs[last]:
		r.Outside = 1
	}
	if r.Outside != 0 && c.refuse {
		return Reading{}, fmt.Errorf("found %g, expected %g to %g: the curve gives no points outside them", x, c.xs[0], c.xs[last])
	}
	r.Y, r.Segment = c.Value(x), c.find(x)
	r.X0, r.Y0, r.X1, r.Y1 = c.xs[r.Segment], c.ys[r.Segment], c.xs[r.Segment+1], c.ys[r.Segment+1]
	if r.Outside == 0 {
		s := &c.segs[r.Segment]
		t := x - s.x0
		r.Slope = s.b + t*(2*s.c+t*3*s.d)
	}
	return r, nil
}

// Value returns the points for x and allocates nothing: for Monte Carlo. Outside the points it gives
// those of the nearest end whatever the curve: whether a measured value may be scored is for [Curve.At]
// to say, and draws about one that may are held. NaN gives NaN.
func (c *Curve) Value(x float64) float64 {
	last := len(c.segs)
	if last == 0 {
		return math.NaN()
	}
	if x <= c.xs[0] {
		return c.ys[0]
	}
	if x >= c.xs[last] {
		return c.ys[last]
	}
	s := &c.segs[c.find(x)]
	t := x - s.x0
	y := s.y0 + t*(s.b+t*(s.c+t*s.d))
	if y < s.lo {
		return s.lo
	}
	if y > s.hi {
		return s.hi
	}
	return y
}

// find returns the segment of x: the last that begins at or before x, or the first.
func (c *Curve) find(x float64) int {
	i, n := 0, len(c.segs)
	for n > 1 {
		half := n / 2
		if c.segs[i+half].x0 <= x {
			i += half
		}
		n -= half
	}
	return i
}

// Points returns the pairs the curve was made of.
func (c *Curve) Points() [][2]float64 {
	ps := make([][2]float64, len(c.xs))
	for i := range ps {
		ps[i] = [2]float64{c.xs[i], c.ys[i]}
	}
	return ps
}
