package sheet

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// testView is a test with where its points come from.
type testView struct {
	Title, Weight, Outcome, Verdict, Points, Why string
	Earned                                       string   // what its measures would have earned; "": what counts
	Columns                                      []string // its runs
	Gates                                        []testGateView
	Criteria                                     []criterionView
}

type testGateView struct {
	Name, Limit, Note string
	Words             string // what it asks, in a sentence
	Runs              []gateView
	Mean              *gateView
}

type criterionView struct {
	Title, Measure, Weight, Share, Mean, Half, Earned, Points string
	Scatter                                                   string
	Best, Worst                                               bool
	Runs                                                      []pointsView
}

type pointsView struct {
	Of, Value, Points, How string
	Floor                  string
	From                   []string
	Far                    bool
}

func (b *book) testView(ts *score.TestScore) testView {
	v := testView{Title: ts.Title(), Weight: fmt.Sprintf("%g", ts.Test.Weight), Outcome: report.OutcomeWords(ts), Verdict: verdictOf(ts), Points: report.PointsWords(ts.Points), Why: report.PlainWords(ts.Why)}
	if ts.Outcome == score.Failed && ts.Earned.OK {
		v.Earned = report.PointsWords(ts.Earned)
	}
	for i := range ts.Runs {
		v.Columns = append(v.Columns, fmt.Sprintf("run %d", i+1))
	}
	if ts.Test.Procedure == "" {
		v.Columns = []string{"entered"}
	}
	for _, g := range ts.Gates {
		x := testGateView{Name: report.NameWords(g.Gate.Measure), Limit: b.Style.Limit(g.Gate), Note: g.Gate.Note, Words: report.PlainWords(strings.ReplaceAll(g.Gate.Words(), "~", " "))}
		for _, res := range g.Runs {
			x.Runs = append(x.Runs, b.gateViewOf(res))
		}
		if g.Mean != nil {
			m := b.gateViewOf(*g.Mean)
			x.Mean = &m
		}
		v.Gates = append(v.Gates, x)
	}
	for _, k := range ts.Criteria {
		v.Criteria = append(v.Criteria, b.criterionView(ts, k))
	}
	return v
}

func (b *book) criterionView(ts *score.TestScore, k *score.CriterionScore) criterionView {
	v := criterionView{Title: report.CriterionWords(k.Criterion), Measure: report.NameWords(k.Criterion.Measure), Weight: fmt.Sprintf("%g", k.Criterion.Weight), Share: fmt.Sprintf("%.1f %%", 100*k.Weight),
		Mean: b.Style.Mean(k), Earned: report.PointsWords(k.Earned), Points: report.PointsWords(k.Points), Half: "-"}
	if !b.Masked {
		v.Best, v.Worst = k.Best, k.Worst
	}
	if k.Repeats.Half.OK {
		v.Half = cmp.Or(b.Style.Half(k.Criterion.Measure, k.Repeats.Half.V), "-")
	}
	if own := k.Repeats.Summary.SD; own.OK && k.Repeats.Dof > 0 {
		v.Scatter = fmt.Sprintf("its own runs scatter by %s (standard deviation), all units' runs by %s",
			cmp.Or(b.Style.Half(k.Criterion.Measure, own.V), "nothing"), cmp.Or(b.Style.Half(k.Criterion.Measure, k.Repeats.SD), "nothing"))
		v.Scatter = strings.ReplaceAll(v.Scatter, "±", "")
	}
	for i, p := range k.PerRun {
		x := pointsView{Of: "entered by hand", Value: b.Style.Value(k.Criterion.Measure, p.Value), Points: report.PointsWords(p.Points), How: b.Style.Curve(k, p)}
		if p.Run != nil {
			x.Of = fmt.Sprintf("run %d", i+1)
		}
		if p.Floor {
			x.Floor = "the run failed a gate: the points of a failed test, " + report.PointsWords(rig.Fig(ts.Test.FailedPoints)) + ", count instead"
		}
		if p.Value.Note != "" {
			x.From = append(x.From, p.Value.Note)
		}
		for _, t := range p.Value.From {
			x.From = append(x.From, traceWords(t))
		}
		for _, o := range k.Repeats.Outliers {
			x.Far = x.Far || o == i
		}
		v.Runs = append(v.Runs, x)
	}
	return v
}

// traceWords tells where a number came from, events in words.
func traceWords(t score.Trace) string { return kinds.Replace(report.TraceWords(t)) }

var kinds = func() *strings.Replacer {
	var all []string
	for _, k := range rig.Kinds {
		all = append(all, string(k)+":", report.KindWords(k)+":")
	}
	return strings.NewReplacer(all...)
}()

// sumText writes a unit's points as the sum that they are.
func sumText(u *score.Unit) string {
	if !u.Overall.OK {
		return ""
	}
	var parts []string
	for _, ts := range u.Tests {
		for _, k := range ts.Criteria {
			if k.Weight > 0 {
				parts = append(parts, fmt.Sprintf("%.5g × %.5g", k.Weight, k.Points.V))
			}
		}
	}
	return strings.Join(parts, " + ") + fmt.Sprintf(" = %.9g", u.Overall.V)
}

func orNaN(f rig.Figure) float64 {
	if !f.OK {
		return math.NaN()
	}
	return f.V
}
