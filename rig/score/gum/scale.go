package gum

import "fmt"

// accuracyClass is a column of OIML R 76-1:2006, 3.5.1, Table 6: the loads, in verification scale
// intervals e, up to which 0.5 e, 1 e and 1.5 e are permitted. The last is the most a class allows.
type accuracyClass struct {
	name  string
	steps [3]float64
}

// accuracyClasses returns all four; class I has no upper end.
func accuracyClasses() [4]accuracyClass {
	return [4]accuracyClass{
		{"I", [3]float64{50_000, 200_000, 1e300}},
		{"II", [3]float64{5_000, 20_000, 100_000}},
		{"III", [3]float64{500, 2_000, 10_000}},
		{"IIII", [3]float64{50, 200, 1_000}},
	}
}

// MPE returns the maximum permissible error, plus or minus, in grams, of a scale of accuracy class "I",
// "II", "III" or "IIII" with verification scale interval eG at loadG: OIML R 76-1:2006, 3.5.1, Table 6
// at initial verification, twice that in service (3.5.2). As a standard uncertainty: [FromHalfWidth].
func MPE(class string, eG, loadG float64, inService bool) (float64, error) {
	if !finite(eG, loadG) || eG <= 0 || loadG < 0 {
		return 0, fmt.Errorf("found interval e %g g and load %g g, expected e above 0 and a load of 0 or more", eG, loadG)
	}
	factor := 0.5
	if inService {
		factor = 1
	}
	for _, c := range accuracyClasses() {
		if c.name != class {
			continue
		}
		for i, to := range c.steps {
			if loadG/eG <= to*(1+1e-9) { // a bound is included, and a load in e is a rounded quotient
				return float64(i+1) * factor * eG, nil
			}
		}
		return 0, fmt.Errorf("found load %g g on a scale of class %s with e %g g, expected at most %g g (%g e)",
			loadG, class, eG, c.steps[2]*eG, c.steps[2])
	}
	return 0, fmt.Errorf("found accuracy class %q, expected I, II, III or IIII", class)
}
