// Package gum is the arithmetic between a weighing and a published point: uncertainty budgets and
// their propagation (JCGM 100), Monte Carlo (JCGM 101), decisions at a limit (JCGM 106), points
// curves, permissible errors of scales (OIML R 76-1), sieve analysis in the manner of ASTM C136, and
// units of mass.
//
// It is pure: no clock, file or outside randomness; the same arguments give the same answer. Masses
// are in grams, openings in millimetres, percentages in percent, uncertainties are standard
// uncertainties in the unit of what they belong to. Nothing here rounds.
package gum

import "math"

// finite says whether all of vs are numbers.
func finite(vs ...float64) bool {
	for _, v := range vs {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
