package report

import (
	"fmt"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
)

// MassUnit is the unit in which masses are printed. They are kept, and decided on, in grams.
type MassUnit string

const (
	Grams  MassUnit = "g"
	Ounces MassUnit = "oz"
)

// gramsPerOunce is the avoirdupois ounce, a sixteenth of a pound of 453.59237 g: exact by the international
// agreement of 1959 (NIST Handbook 44, appendix C; from memory).
const gramsPerOunce = 28.349523125

// Style is how figures are printed. The zero Style prints grams.
type Style struct{ Mass MassUnit }

// grams prints a mass given in g: whole grams, or hundredths of an ounce, which are finer (0.28 g).
func (s Style) grams(v float64) string {
	if s.Mass == Ounces {
		return fixed(v/gramsPerOunce, 2) + " oz"
	}
	return fixed(v, 0) + " g"
}

// Weighed prints a mass given in g as it was weighed, one digit finer than a sum.
func (s Style) Weighed(v float64) string {
	if s.Mass == Ounces {
		return fixed(v/gramsPerOunce, 3) + " oz"
	}
	return fixed(v, 1) + " g"
}

// Measure prints a value of a measure with its unit and no more digits than it has.
func (s Style) Measure(name string, v float64) string {
	if m, _ := rig.FindMeasure(name); m.Unit == "g" {
		return s.grams(v)
	}
	return MeasureWords(name, v)
}

// Half prints an uncertainty of a measure in its unit, "±0.34 %"; "" if there is none.
func (s Style) Half(name string, u float64) string {
	if m, _ := rig.FindMeasure(name); m.Unit == "g" && s.Mass == Ounces {
		if text, ok := strings.CutSuffix(HalfWords(name, u/gramsPerOunce), "g"); ok {
			return text + "oz"
		}
		return ""
	}
	return HalfWords(name, u)
}

// Value prints a measure with its uncertainty, or why there is none.
func (s Style) Value(name string, v score.Value) string {
	if !v.OK {
		return NoValue(v.Why)
	}
	out := s.Measure(name, v.V)
	if u := s.Half(name, v.Total()); u != "" {
		out += " " + u
	}
	switch {
	case v.Old.OK:
		out += " (corrected from " + s.Measure(name, v.Old.V) + ")"
	case v.Typed:
		out += " (typed)"
	}
	return out
}

// NoValue prints that there is no value, and why.
func NoValue(why string) string {
	if why == "" {
		return "-"
	}
	return "- (" + WhyWords(why) + ")"
}

// WhyWords puts the reason of an absent value into words, if it is a code: no-run.
func WhyWords(why string) string {
	return Clean(rig.WhyWords(why))
}

// Limit prints what a gate asks: "at most 5.00 %".
func (s Style) Limit(g *config.Gate) string {
	return strings.ReplaceAll(g.Side, "-", " ") + " " + s.Measure(g.Measure, g.Limit)
}

// Mean prints the mean of a criterion's measure, "-" if there is none.
func (s Style) Mean(k *score.CriterionScore) string { return s.Means([]*score.CriterionScore{k})[0] }

// Means prints the means of a criterion's measure that stand below each other, one a unit. Counts and what was entered by
// hand have decimals where one of them needs some: 7.00 below 6.90.
func (s Style) Means(units []*score.CriterionScore) []string {
	places := 0
	for _, k := range units {
		if v, ok := k.Mean.Value(); ok {
			places = max(places, decimals(v))
		}
	}
	out := make([]string, len(units))
	for i, k := range units {
		m, _ := rig.FindMeasure(k.Criterion.Measure)
		switch v, ok := k.Mean.Value(); {
		case !ok:
			out[i] = "-"
		case m.Unit == "" && (m.Counted() || m.Part == rig.OfHand):
			out[i] = fixed(v, places)
		default:
			out[i] = s.Measure(k.Criterion.Measure, v)
		}
	}
	return out
}

// MeansOf prints the means of all criteria of a test, by its place in the scorecard: of each unit, criterion by criterion.
func (s Style) MeansOf(test int, lines []score.Standing) [][]string {
	out := make([][]string, len(lines))
	if len(lines) == 0 {
		return out
	}
	for i := range lines {
		out[i] = make([]string, len(lines[i].Tests[test].Criteria))
	}
	for j := range lines[0].Tests[test].Criteria {
		column := make([]*score.CriterionScore, len(lines))
		for i := range lines {
			column[i] = lines[i].Tests[test].Criteria[j]
		}
		for i, text := range s.Means(column) {
			out[i][j] = text
		}
	}
	return out
}

// Gated prints the value that a gate was decided on. Gates are decided on full values: where the usual digits
// would read like the limit although the value is not, as many more are printed as tell the two apart.
func (s Style) Gated(g score.GateResult) string {
	name, v := g.Gate.Measure, g.Value.V
	text := s.Value(name, g.Value)
	if !g.Value.OK || v == g.Gate.Limit || s.Measure(name, v) != s.Measure(name, g.Gate.Limit) {
		return text
	}
	scale, unit, places := 1.0, "", 2
	m, _ := rig.FindMeasure(name)
	switch {
	case isShare(name):
		scale, unit, places = 100, " %", 3
	case m.Unit == "g" && s.Mass == Ounces:
		scale, unit, places = 1/gramsPerOunce, " oz", 3
	case m.Unit != "":
		unit = " " + m.Unit
	}
	for ; places < 12; places++ {
		a, b := fixed(scale*v, places), fixed(scale*g.Gate.Limit, places)
		if a != b {
			return fmt.Sprintf("%s (in full %s%s)", text, a, unit)
		}
	}
	return text
}

// Curve says where on the curve of a criterion a run's points come from.
func (s Style) Curve(k *score.CriterionScore, p score.RunPoints) string {
	at := func(x float64) string { return s.Measure(k.Criterion.Measure, x) }
	switch {
	case !p.Value.OK:
		return "not measured: " + WhyWords(p.Value.Why)
	case !p.Points.OK:
		return "no points: " + WhyWords(p.Points.Why)
	case p.On.Outside != 0:
		return "beyond the end of the curve: the end's points"
	}
	between := "straight line"
	if k.Criterion.Shape != "linear" {
		between = "smooth curve"
	}
	return fmt.Sprintf("on the %s from %s (%s points) to %s (%s points)", between, at(p.On.X0), trimmed(p.On.Y0), at(p.On.X1), trimmed(p.On.Y1))
}
