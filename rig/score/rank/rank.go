// Package rank holds the statistics of a comparison: what repeated runs say about a unit, where each
// unit stands, how sure that is, why a total moved, and whether the bench itself has moved.
//
// It knows nothing of measures or procedures: scores are points, values are in whatever unit the
// caller keeps. A number that is not finite is taken as absent. Same input, same bytes out.
package rank

import "math"

// Value is a number that may be absent; the zero Value is absent, never 0.
type Value struct {
	V  float64
	OK bool
}

// Val returns a present value; a number that is not finite is absent.
func Val(v float64) Value {
	if !finite(v) {
		return Value{}
	}
	return Value{V: v, OK: true}
}

// Better says which end of a scale is the good one.
type Better int

const (
	High Better = iota // points, grade: more is better
	Low                // seconds, decibels, grams left: less is better
)

const (
	tieRel = 1e-9  // of the larger magnitude: a million times what the order of a sum of 600 terms can do
	tieAbs = 1e-12 // points, for totals about 0
)

// tied reports whether two unrounded scores are the same number but for the order of summation.
func tied(x, y float64) bool {
	return math.Abs(x-y) <= max(tieRel*max(math.Abs(x), math.Abs(y)), tieAbs)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// present returns the finite values of vs in their order.
func present(vs []float64) []float64 {
	out := make([]float64, 0, len(vs))
	for _, v := range vs {
		if finite(v) {
			out = append(out, v)
		}
	}
	return out
}
