package sound

import (
	"errors"
	"math"
	"math/cmplx"
)

// factor returns the minimum-phase FIR filter b with |B(w)|² = sum of c[k] cos(k w), as
// gain·(1 + b[0] z^-1 + b[1] z^-2 ...). The sum must be positive for every w.
func factor(c []float64) (gain float64, b []float64, err error) {
	roots, err := polyRoots(chebyshev(c))
	if err != nil {
		return 0, nil, err
	}
	// Each root in x = cos w = (z + 1/z)/2 stands for a pair z, 1/z: take the one inside the circle.
	p := []complex128{1}
	for _, x := range roots {
		z := x + cmplx.Sqrt(x*x-1)
		if cmplx.Abs(z) > 1 {
			z = 1 / z
		}
		if cmplx.Abs(z) > 1-1e-9 {
			return 0, nil, errors.New("the squared magnitude has a zero on the unit circle")
		}
		p = append(p, 0)
		for i := len(p) - 1; i > 0; i-- {
			p[i] -= z * p[i-1]
		}
	}
	at0, sum := 0.0, 1.0
	for _, v := range c {
		at0 += v
	}
	for _, v := range p[1:] {
		b = append(b, real(v))
		sum += real(v)
	}
	if !(at0 > 0) {
		return 0, nil, errors.New("the squared magnitude is not positive")
	}
	return math.Sqrt(at0) / math.Abs(sum), b, nil
}

// chebyshev turns the sum of c[k] cos(k w) into the coefficients of a polynomial in cos w.
func chebyshev(c []float64) []float64 {
	a := make([]float64, len(c))
	t0, t1 := make([]float64, len(c)), make([]float64, len(c))
	t0[0] = 1
	if len(c) > 1 {
		t1[1] = 1
	}
	for _, v := range c {
		next := make([]float64, len(c))
		for i, t := range t0 {
			a[i] += v * t
			next[i] -= t
		}
		for i, t := range t1[:len(c)-1] {
			next[i+1] += 2 * t
		}
		t0, t1 = t1, next
	}
	return a
}

// polyRoots returns all roots of sum a[k] x^k by simultaneous iteration (Durand and Kerner);
// meant for the few coefficients of a numerator. Leading coefficients that are nothing are dropped.
func polyRoots(a []float64) ([]complex128, error) {
	most := 0.0
	for _, v := range a {
		most = max(most, math.Abs(v))
	}
	for len(a) > 1 && math.Abs(a[len(a)-1]) < 1e-13*most {
		a = a[:len(a)-1]
	}
	n := len(a) - 1
	r := make([]complex128, n)
	bound := 0.0 // Cauchy's: every root lies within
	for _, v := range a[:n] {
		bound = max(bound, 1+math.Abs(v/a[n]))
	}
	for i := range r {
		r[i] = cmplx.Rect(bound*(0.3+0.4*float64(i)/float64(n)), 0.4+2*math.Pi*float64(i)/float64(n))
	}
	for range 1000 {
		moved := 0.0
		for i := range r {
			v, d := complex(a[n], 0), complex(a[n], 0)
			for k := n - 1; k >= 0; k-- {
				v = v*r[i] + complex(a[k], 0)
			}
			for k := range r {
				if k != i {
					d *= r[i] - r[k]
				}
			}
			step := v / d
			r[i] -= step
			moved = max(moved, cmplx.Abs(step)/(1e-300+cmplx.Abs(r[i])))
		}
		if moved < 1e-14 {
			return r, nil
		}
		if math.IsNaN(moved) {
			break
		}
	}
	for i := range r {
		if cmplx.IsNaN(r[i]) {
			return nil, errors.New("no roots found")
		}
	}
	return r, nil
}
