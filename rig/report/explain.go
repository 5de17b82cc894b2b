package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"quern/rig"
	"quern/rig/score"
)

// Explain traces every number of a unit: the whole to categories, tests and criteria with their weights,
// points to the stretch of a curve, measures to weighings, events and corrections, and all of it to the
// checksums of rules, settings and sessions.
func Explain(w io.Writer, c *score.Campaign, u *score.Unit, day string, sums []string) error {
	var b bytes.Buffer
	line := func(depth int, format string, args ...any) {
		b.WriteString(strings.Repeat("  ", depth) + fmt.Sprintf(format, args...) + "\n")
	}
	if u.Overall.OK {
		line(0, "%s: %s points (unrounded %s)", Clean(u.Unit.Shown(day)), points(u.Overall), unrounded(u.Overall.V))
	} else {
		line(0, "%s: no points", Clean(u.Unit.Shown(day)))
	}
	for _, k := range u.Categories {
		line(1, "category %s, weight %g: %s points", titled(k.Category.ID, k.Category.Title), k.Category.Weight, points(k.Points))
	}
	if u.Overall.OK {
		line(1, "%s", sumText(u))
	}
	for _, ts := range u.Tests {
		explainTest(&b, line, ts)
	}
	line(0, "")
	line(0, "Rules and recordings")
	for _, s := range sums {
		line(1, "%s", s)
	}
	for _, r := range c.Runs {
		if r.Unit != u.Unit.ID {
			continue
		}
		for _, m := range r.Remarks {
			line(1, "%s: %s", Clean(r.Name()), Clean(m))
		}
		line(1, "session %s: manifest SHA-256 %s, settings SHA-256 %s, %s", Clean(r.Record.Session), orNone(r.Record.Sealed), orNone(r.Record.Settings), Clean(r.Record.Tool))
	}
	_, err := w.Write(b.Bytes())
	return err
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func unrounded(v float64) string {
	return fmt.Sprintf("%.9g", v)
}

// given prints a value as a person gave it in the rules, in its unit and unrounded.
func given(measure string, v float64) string {
	m, _ := rig.FindMeasure(measure)
	switch {
	case m.Share():
		return unrounded(100*v) + " %"
	case m.Unit != "":
		return unrounded(v) + " " + m.Unit
	}
	return unrounded(v)
}

// sumText writes the whole as the sum that it is.
func sumText(u *score.Unit) string {
	var parts []string
	for _, ts := range u.Tests {
		for _, k := range ts.Criteria {
			if k.Weight > 0 {
				parts = append(parts, fmt.Sprintf("%.5g x %.5g", k.Weight, k.Points.V))
			}
		}
	}
	return strings.Join(parts, " + ") + fmt.Sprintf(" = %.9g", u.Overall.V)
}

func explainTest(b *bytes.Buffer, line func(int, string, ...any), ts *score.TestScore) {
	line(0, "")
	line(0, "Test %s, weight %g: %s, %s points", titled(ts.Test.ID, ts.Test.Title), ts.Test.Weight, OutcomeWords(ts), points(ts.Points))
	if ts.Why != "" {
		line(1, "%s", Clean(ts.Why))
	}
	for _, g := range ts.Gates {
		line(1, "gate: %s", strings.ReplaceAll(g.Gate.Words(), "~", " "))
		for i, res := range g.Runs {
			line(2, "%s: %s", Clean(ts.Runs[i].Name()), gateText(res))
		}
		if g.Mean != nil {
			line(2, "mean: %s", gateText(*g.Mean))
		}
	}
	for _, k := range ts.Criteria {
		line(1, "criterion %s: %s, weight %g in its test, %.5g of the whole: earned %s, counts %s", k.Title(), k.Criterion.Measure, k.Criterion.Weight, k.Weight, points(k.Earned), points(k.Points))
		for _, p := range k.PerRun {
			explainPoints(line, k, p)
		}
	}
	for _, r := range ts.Aside {
		line(1, "%s does not count: %s %s", Clean(r.Name()), r.Status, Clean(r.Why))
	}
}

func explainPoints(line func(int, string, ...any), k *score.CriterionScore, p score.RunPoints) {
	of := "entered by hand"
	if p.Run != nil {
		of = Clean(p.Run.Name())
	}
	switch {
	case !p.Value.OK:
		line(2, "%s: not measured (%s)", of, WhyWords(p.Value.Why))
	case !p.Points.OK:
		line(2, "%s: %s, no points: %s", of, ValueWords(k.Criterion.Measure, p.Value), WhyWords(p.Points.Why))
	case p.On.Outside != 0:
		line(2, "%s: %s lies beyond the curve: %s points of its end", of, ValueWords(k.Criterion.Measure, p.Value), unrounded(p.Points.V))
	default:
		line(2, "%s: %s lies between %s (%g points) and %s (%g points), %s: %s points", of, ValueWords(k.Criterion.Measure, p.Value), given(k.Criterion.Measure, p.On.X0), p.On.Y0, given(k.Criterion.Measure, p.On.X1), p.On.Y1, k.Criterion.Shape, unrounded(p.Points.V))
	}
	if p.Floor {
		line(3, "the run failed a gate and earns the points of a failed test instead")
	}
	if p.Value.Note != "" {
		line(3, "%s", Clean(p.Value.Note))
	}
	for _, t := range p.Value.From {
		line(3, "%s", TraceWords(t))
	}
}
