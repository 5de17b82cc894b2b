package rank

import "math"

// Rule is what is done about a missing value in a weighted mean.
type Rule int

const (
	Refuse  Rule = iota // the mean is absent too
	Exclude             // left out, the other weights making up for it
	CountAs             // counts as Missing.As
)

// Missing is a stated rule for values that are missing.
type Missing struct {
	Rule Rule
	As   float64 // in the values' unit, for CountAs: the worst there is
}

// Shares returns the weight with which each value enters its mean: they sum to 1, and a value that is
// left out has 0. They are nil where there is no mean: every value missing (whatever the rule), one
// missing under Refuse, a weight negative or not finite, no weight left, or unequal lengths.
func Shares(values []Value, weights []float64, missing Missing) []float64 {
	if len(values) != len(weights) {
		return nil
	}
	top, any := 0.0, false
	for i, w := range weights {
		if w < 0 || !finite(w) || !values[i].OK && missing.Rule == Refuse {
			return nil
		}
		any = any || values[i].OK
		if values[i].OK || missing.Rule == CountAs {
			top = max(top, w)
		}
	}
	if !any || top == 0 {
		return nil
	}
	shares, sum := make([]float64, len(weights)), 0.0
	for i, w := range weights {
		if values[i].OK || missing.Rule == CountAs {
			shares[i] = w / top // the sum of large weights does not overflow
			sum += shares[i]
		}
	}
	for i := range shares {
		shares[i] /= sum
	}
	return shares
}

// Mean returns the weighted mean of values, in their unit; weights need not sum to 1. It is absent
// where [Shares] says so.
func Mean(values []Value, weights []float64, missing Missing) Value {
	shares := Shares(values, weights, missing)
	if shares == nil {
		return Value{}
	}
	sum := 0.0
	for i, s := range shares {
		v := missing.As
		if values[i].OK {
			v = values[i].V
		}
		if s > 0 { // a weight of 0 takes no part, whatever its value
			sum += s * v
		}
	}
	return Val(sum)
}

// mean is the plain mean of at least one value.
func mean(vs []float64) float64 {
	sum := 0.0
	for _, v := range vs {
		sum += v
	}
	return sum / float64(len(vs))
}

// squares is the sum of squared deviations from the mean.
func squares(vs []float64) float64 {
	m, ss := mean(vs), 0.0
	for _, v := range vs {
		ss += (v - m) * (v - m)
	}
	return ss
}

func ownSD(vs []float64) float64 { return math.Sqrt(squares(vs) / float64(len(vs)-1)) }
