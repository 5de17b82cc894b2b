package gum

import (
	"fmt"
	"math"
)

// Estimate is a result with its standard uncertainty to first order.
type Estimate struct {
	Y    float64
	U    float64
	Sens []float64 // sensitivity to each input: what a [Budget] asks for
}

// Propagate carries estimates x with standard uncertainties u through f to first order (JCGM
// 100:2008, 5.1 and 5.2). corr is their correlation matrix; nil: independent. The sensitivities are
// five-point central differences over a thousandth of u, so f has to be smooth about x and defined a
// little to both sides. f must not keep or change its argument.
func Propagate(f func(x []float64) float64, x, u []float64, corr [][]float64) (Estimate, error) {
	if len(x) == 0 || len(u) != len(x) || corr != nil && len(corr) != len(x) {
		return Estimate{}, fmt.Errorf("found %d estimates, %d uncertainties and %d rows of correlation, expected as many of each",
			len(x), len(u), len(corr))
	}
	for i := range x {
		if !finite(x[i], u[i]) || u[i] < 0 {
			return Estimate{}, fmt.Errorf("input %d: found %g with standard uncertainty %g, expected numbers, the second 0 or more", i+1, x[i], u[i])
		}
	}
	e := Estimate{Sens: make([]float64, len(x))}
	at := append([]float64(nil), x...)
	e.Y = f(at)
	for i := range x {
		e.Sens[i] = slope(f, at, i, u[i])
		if !finite(e.Sens[i], e.Y) {
			return Estimate{}, fmt.Errorf("the result is not a number at or beside %g, the estimate of input %d", x[i], i+1)
		}
	}
	cov, err := covariance(u, corr)
	if err != nil {
		return Estimate{}, err
	}
	e.U, err = Combined(e.Sens, cov)
	return e, err
}

// slope is the derivative of f by input i at x; x is left as it was.
func slope(f func([]float64) float64, x []float64, i int, u float64) float64 {
	at := x[i]
	h := max(1e-3*u, 1e-6*math.Abs(at)) // the second keeps the step above the rounding of x
	if h == 0 {
		h = 1e-6
	}
	d := func(h float64) float64 {
		x[i] = at + h
		up := f(x)
		x[i] = at - h
		down := f(x)
		x[i] = at
		return (up - down) / ((at + h) - (at - h))
	}
	return (4*d(h) - d(2*h)) / 3
}

// covariance joins standard uncertainties and correlations, each of the latter within ±1.
func covariance(u []float64, corr [][]float64) ([][]float64, error) {
	cov := make([][]float64, len(u))
	for i := range u {
		cov[i] = make([]float64, len(u))
		if corr == nil {
			cov[i][i] = u[i] * u[i]
			continue
		}
		if len(corr[i]) != len(u) || corr[i][i] != 1 {
			return nil, fmt.Errorf("correlation row %d: found %v, expected %d columns with 1 on the diagonal", i+1, corr[i], len(u))
		}
		for j, r := range corr[i] {
			if !(math.Abs(r) <= 1) {
				return nil, fmt.Errorf("correlation %d,%d: found %g, expected it from -1 to 1", i+1, j+1, r)
			}
			cov[i][j] = r * u[i] * u[j]
		}
	}
	return cov, nil
}
