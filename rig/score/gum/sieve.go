package gum

import (
	"fmt"
	"math"
)

// Sieve is what one sieve of a nest kept.
type Sieve struct {
	OpeningMM float64
	RetainedG float64
}

// Fraction is a line of a sieve analysis. The pan, last, has the opening 0.
type Fraction struct {
	OpeningMM     float64
	RetainedG     float64
	RetainedPct   float64 // of the total of all fractions
	CumulativePct float64 // retained here and above
	PassingPct    float64 // 100 - CumulativePct
}

// Grading is a sieve analysis in the manner of ASTM C136, percentages of the total of the fractions.
type Grading struct {
	TotalG    float64
	Fractions []Fraction // coarse to fine, the pan last
}

// Analyse works out a sieve analysis; sieves from coarse to fine, panG is what went through all.
func Analyse(sieves []Sieve, panG float64) (Grading, error) {
	if len(sieves) == 0 {
		return Grading{}, fmt.Errorf("found no sieve, expected at least one above the pan")
	}
	var g Grading
	for i, s := range sieves {
		switch {
		case !finite(s.OpeningMM, s.RetainedG) || s.OpeningMM <= 0 || s.RetainedG < 0:
			return Grading{}, fmt.Errorf("sieve %d: found %g mm with %g g, expected an opening above 0 and a mass of 0 or more", i+1, s.OpeningMM, s.RetainedG)
		case i > 0 && s.OpeningMM >= sieves[i-1].OpeningMM:
			return Grading{}, fmt.Errorf("sieves %d and %d: found %g mm over %g mm, expected the coarser above", i, i+1, sieves[i-1].OpeningMM, s.OpeningMM)
		}
		g.TotalG += s.RetainedG
	}
	g.TotalG += panG
	if !finite(panG, g.TotalG) || panG < 0 || g.TotalG <= 0 {
		return Grading{}, fmt.Errorf("found %g g in the pan and %g g in all, expected 0 or more, and more than 0", panG, g.TotalG)
	}
	sum := 0.0
	for _, s := range append(sieves[:len(sieves):len(sieves)], Sieve{RetainedG: panG}) {
		sum += s.RetainedG
		g.Fractions = append(g.Fractions, Fraction{OpeningMM: s.OpeningMM, RetainedG: s.RetainedG,
			RetainedPct: s.RetainedG / g.TotalG * 100, CumulativePct: sum / g.TotalG * 100,
			PassingPct: (g.TotalG - sum) / g.TotalG * 100})
	}
	return g, nil
}

// LossPct returns how much of the dry mass before sieving is missing from the fractions, in percent of
// it; negative: gained. ASTM C136 asks for 0.3 % or better (from memory).
func (g Grading) LossPct(beforeG float64) (float64, error) {
	if !finite(beforeG) || beforeG <= 0 {
		return 0, fmt.Errorf("found %g g before sieving, expected more than 0", beforeG)
	}
	return (beforeG - g.TotalG) / beforeG * 100, nil
}

// Between is how sizes between two sieves are interpolated; they differ, so a report says which.
type Between string

const (
	LogSize    Between = "log"    // linear in the logarithm of the size: the usual grading curve
	LinearSize Between = "linear" // linear in the size
)

// NotBracketed is the error of a size that no two sieves enclose.
type NotBracketed struct {
	PassingPct float64 // asked for
	Finer      bool    // the size is below OpeningMM, the finest sieve; otherwise above, the coarsest
	OpeningMM  float64
	AtPct      float64 // what passes it
}

func (e *NotBracketed) Error() string {
	word, which := "above", "coarsest"
	if e.Finer {
		word, which = "below", "finest"
	}
	return fmt.Sprintf("size at %g %% passing lies %s %g mm, the %s sieve (%.2f %% passing): it cannot be interpolated",
		e.PassingPct, word, e.OpeningMM, which, e.AtPct)
}

// SizeAt returns the size in mm which passingPct of the mass passes. Past the sieves it is a
// *[NotBracketed].
func (g Grading) SizeAt(passingPct float64, how Between) (float64, error) {
	if how != LogSize && how != LinearSize {
		return 0, fmt.Errorf("found interpolation %q, expected %q or %q", how, LogSize, LinearSize)
	}
	if len(g.Fractions) < 2 || !(passingPct >= 0 && passingPct <= 100) {
		return 0, fmt.Errorf("found %g %% passing, expected 0 to 100 of an analysis", passingPct)
	}
	sieves := g.Fractions[:len(g.Fractions)-1]
	finest := sieves[len(sieves)-1]
	if finest.PassingPct == passingPct {
		return finest.OpeningMM, nil
	}
	if finest.PassingPct > passingPct {
		return 0, &NotBracketed{passingPct, true, finest.OpeningMM, finest.PassingPct}
	}
	for i := len(sieves) - 2; i >= 0; i-- {
		lo, hi := sieves[i+1], sieves[i]
		if hi.PassingPct < passingPct {
			continue
		}
		part := (passingPct - lo.PassingPct) / (hi.PassingPct - lo.PassingPct)
		if how == LinearSize {
			return lo.OpeningMM + part*(hi.OpeningMM-lo.OpeningMM), nil
		}
		return lo.OpeningMM * math.Pow(hi.OpeningMM/lo.OpeningMM, part), nil
	}
	return 0, &NotBracketed{passingPct, false, sieves[0].OpeningMM, sieves[0].PassingPct}
}
