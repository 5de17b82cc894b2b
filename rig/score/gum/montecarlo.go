package gum

import (
	"fmt"
	"math"
	"slices"
)

// Interval is a closed range of values.
type Interval struct{ From, To float64 }

// Summary is what a Monte Carlo run says of a result; the intervals hold 95 % of the draws.
type Summary struct {
	N         int
	Mean, SD  float64
	Shortest  Interval // JCGM 101:2008, 5.3.4
	Symmetric Interval // probabilistically symmetric, 5.3.3
}

const (
	minDraws = 100        // fewer say nothing about a 95 % interval
	maxDraws = 20_000_000 // 160 MB of results are held and sorted
	coverage = 0.95
)

// MonteCarlo draws the inputs n times (100 to 2e7; JCGM 101 advises 1e6), puts them through f and
// sums up what comes out (JCGM 101:2008, clause 7). f must not keep or change its argument.
func MonteCarlo(n int, f func(x []float64) float64, inputs []Input, seed uint64) (Summary, error) {
	if n < minDraws || n > maxDraws {
		return Summary{}, fmt.Errorf("found %d draws, expected %d to %d", n, minDraws, maxDraws)
	}
	for i, in := range inputs {
		if err := in.Check(); err != nil {
			return Summary{}, fmt.Errorf("input %d: %w", i+1, err)
		}
	}
	src, x, ys := NewPCG(seed, 0), make([]float64, len(inputs)), make([]float64, n)
	for k := range ys {
		for i := range inputs {
			x[i] = inputs[i].Draw(src)
		}
		ys[k] = f(x)
		if !finite(ys[k]) {
			return Summary{}, fmt.Errorf("draw %d: the result is %g for inputs %v", k+1, ys[k], x)
		}
	}
	return Summarise(ys)
}

// Summarise sums up draws of a result, at least 100 of them; it sorts them in place.
func Summarise(ys []float64) (Summary, error) {
	n := len(ys)
	if n < minDraws {
		return Summary{}, fmt.Errorf("found %d draws, expected at least %d", n, minDraws)
	}
	slices.Sort(ys) // NaN first
	if !finite(ys[0], ys[n-1]) {
		return Summary{}, fmt.Errorf("found draws from %g to %g, expected numbers", ys[0], ys[n-1])
	}
	s := Summary{N: n}
	for _, y := range ys {
		s.Mean += y / float64(n)
	}
	sum := 0.0
	for _, y := range ys {
		sum += (y - s.Mean) * (y - s.Mean)
	}
	s.SD = math.Sqrt(sum / float64(n-1))
	q := int(coverage*float64(n) + 0.5) // JCGM 101:2008, 7.7.2
	r := (n-q+1)/2 - 1
	s.Symmetric = Interval{ys[r], ys[r+q]}
	s.Shortest = Interval{ys[0], ys[q]}
	for i := 1; i+q < n; i++ {
		if ys[i+q]-ys[i] < s.Shortest.To-s.Shortest.From {
			s.Shortest = Interval{ys[i], ys[i+q]}
		}
	}
	return s, nil
}
