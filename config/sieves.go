package config

import (
	"fmt"
	"math"
)

// Sieve is a standard opening.
type Sieve struct {
	OpeningMM float64
	US        string // designation by ASTM E11
}

// Sieves lists the standard openings from 25 mm to 1.18 mm. Source: ASTM E11 Table 1 for the
// designations, ISO 565 and ISO 3310-1 for the series; testdata/reference/sieves.csv holds it line by
// line, and a test compares the two.
var Sieves = []Sieve{
	{25, "1.00 in."}, {22.4, "7/8 in."}, {19, "3/4 in."}, {16, "5/8 in."}, {13.2, "0.530 in."}, {12.5, "1/2 in."},
	{11.2, "7/16 in."}, {9.5, "3/8 in."}, {8, "5/16 in."}, {6.7, "0.265 in."}, {6.3, "1/4 in."}, {5.6, "No. 3-1/2"},
	{4.75, "No. 4"}, {4, "No. 5"}, {3.35, "No. 6"}, {2.8, "No. 7"}, {2.36, "No. 8"}, {2, "No. 10"}, {1.7, "No. 12"},
	{1.4, "No. 14"}, {1.18, "No. 16"},
}

// SieveWords names an opening as the standards do.
func SieveWords(mm float64) string {
	for _, s := range Sieves {
		if math.Abs(s.OpeningMM-mm) < 0.005*s.OpeningMM {
			return fmt.Sprintf("%g~mm (ISO 3310-1; ASTM E11 %s)", s.OpeningMM, s.US)
		}
	}
	return fmt.Sprintf("%g~mm (no standard opening from 1.18 to 25 mm)", mm)
}
