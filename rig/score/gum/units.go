package gum

import (
	"fmt"
	"strings"
)

// massUnit is num/den grams, exactly: two whole numbers, so that whole pounds and ounces come out
// rounded once.
type massUnit struct {
	name     string
	num, den float64
}

// massUnits returns the units by NIST SP 811, Appendix B: 1 lb = 0.453 592 37 kg = 16 oz = 7000 gr,
// 1 ozt = 480 gr; ct is the metric carat.
func massUnits() [8]massUnit {
	return [8]massUnit{
		{"g", 1, 1}, {"kg", 1000, 1}, {"mg", 1, 1000},
		{"oz", 45359237, 1600000}, {"lb", 45359237, 100000}, {"gr", 6479891, 100000000},
		{"ozt", 19439673, 625000}, {"ct", 1, 5},
	}
}

// Grams turns a mass in unit into grams; the error names the units known: g, kg, mg, oz, lb, gr, ozt, ct.
func Grams(value float64, unit string) (float64, error) {
	u, err := findUnit(value, unit)
	if err != nil {
		return 0, err
	}
	return inRange(value*u.num/u.den, value, unit)
}

// FromGrams turns grams into unit.
func FromGrams(grams float64, unit string) (float64, error) {
	u, err := findUnit(grams, unit)
	if err != nil {
		return 0, err
	}
	return inRange(grams*u.den/u.num, grams, "g")
}

func findUnit(value float64, unit string) (massUnit, error) {
	var names []string
	for _, u := range massUnits() {
		if u.name == unit {
			_, err := inRange(value, value, unit)
			return u, err
		}
		names = append(names, u.name)
	}
	return massUnit{}, fmt.Errorf("found unit of mass %q, expected one of %s", unit, strings.Join(names, ", "))
}

func inRange(result, value float64, unit string) (float64, error) {
	if !finite(result) {
		return 0, fmt.Errorf("found mass %g %s, expected a number that can be converted", value, unit)
	}
	return result, nil
}
