package frame

import (
	"math"
	"strings"
)

// Grams in one unit: exact, by the definition of the pound, 0.453 592 37 kg (NIST SP 811 Appendix B; NIST
// Handbook 44 Appendix C).
const (
	gramsPerPound = 453.59237
	gramsPerOunce = 28.349523125
)

// Grams turns a number in a unit as readings name it into grams, rounded to a microgram, which is far below
// any scale. The value of lb-oz is in ounces. ok is false for words that are no unit of mass.
func Grams(value float64, unit string) (grams float64, ok bool) {
	factor := 0.0
	switch unitWord(unit) {
	case "g":
		factor = 1
	case "kg":
		factor = 1000
	case "lb":
		factor = gramsPerPound
	case "oz", "lb-oz":
		factor = gramsPerOunce
	default:
		return 0, false
	}
	return math.Round(value*factor*1e6) / 1e6, true
}

// unitWord brings the ways of writing a unit of mass to one; other words stay as they are.
func unitWord(word string) string {
	switch low := strings.ToLower(word); low {
	case "g", "kg", "oz", "lb", "lb-oz":
		return low
	case "lbs":
		return "lb"
	case "lb:oz", "lboz":
		return "lb-oz"
	}
	return word
}
