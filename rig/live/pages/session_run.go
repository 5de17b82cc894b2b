package pages

import (
	"fmt"
	"html/template"
	"slices"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// runPage is a run with everything that came of it.
type runPage struct {
	N, Of    int
	Row      runRow
	Strip    template.HTML
	Detected bool
	Events   []eventPage
	Measures []measurePage
	Gates    []gatePage
	Points   []pointsPage
	Notes    []string
}

type eventPage struct {
	Kind, At, Words, Within, Sure, Evidence string
	AtS                                     float64
}

type measurePage struct {
	Name, What, Value, Short string
	Key, Absent              bool
	From                     []string
}

type gatePage struct {
	Name, Limit, Value, Verdict, Words, Surely, Note string
	Close                                            bool
}

type pointsPage struct {
	Test, Criterion, Value, Points, How, Weight string
	Floor                                       bool
}

func runPageOf(r *reading, run *score.Run, of runRow, whole *rig.Result, n int) runPage {
	p := runPage{N: run.N, Of: n, Row: of}
	for _, m := range run.Remarks {
		p.Notes = append(p.Notes, report.PlainWords(m))
	}
	if run.N <= len(whole.Runs) {
		found := &whole.Runs[run.N-1]
		p.Detected = true
		p.Strip = report.Strip(found, of.LimitS)
		for _, e := range found.Events {
			p.Events = append(p.Events, eventPageOf(e))
		}
	}
	for _, m := range rig.Measures {
		v := run.Measure(m.Name)
		if !v.OK && (v.Why == "not-weighed" || v.Why == "not-recorded") {
			continue
		}
		x := measurePage{Name: report.NameWords(m.Name), What: m.What, Value: report.ValueWords(m.Name, v), Absent: !v.OK}
		if x.Key = v.OK && slices.Contains(keyMeasures, m.Name); x.Key {
			x.Short = report.MeasureWords(m.Name, v.V)
		}
		for _, t := range v.From {
			x.From = append(x.From, report.TraceWords(t))
		}
		p.Measures = append(p.Measures, x)
	}
	for _, g := range run.Gates {
		x := gatePage{Name: report.NameWords(g.Gate.Measure), Limit: report.LimitWords(g.Gate), Words: report.VerdictWords(g), Surely: report.SurelyWords(g),
			Note: g.Gate.Note, Close: g.Close(), Value: report.ValueWords(g.Gate.Measure, g.Value), Verdict: "passed"}
		switch {
		case !g.Decided():
			x.Verdict = "not-measurable"
		case g.Fails():
			x.Verdict = "failed"
		}
		p.Gates = append(p.Gates, x)
	}
	p.points(r, run)
	return p
}

// keyMeasures are those that are seen before all others.
var keyMeasures = []string{"run_time_s", "motor_on_s", "stalls", "trips", "input_g", "left_share", "coarse_share", "laeq_db", "lafmax_db", "idle_a", "mean_a", "max_a"}

func eventPageOf(e rig.Event) eventPage {
	out := eventPage{Kind: string(e.Kind), Words: report.KindWords(e.Kind), Evidence: e.Evidence, At: "-"}
	if e.AtS.OK {
		out.At, out.AtS = report.TimeWords(e.AtS.V), e.AtS.V
	}
	if e.WithinS.OK {
		out.Within = fmt.Sprintf("±%.2g s", e.WithinS.V)
	}
	if e.Sure.OK {
		out.Sure = fmt.Sprintf("%.0f %%", 100*e.Sure.V)
	}
	return out
}

// points says what the run earns, by which stretch of which curve, and how much of the whole hangs on it.
func (p *runPage) points(r *reading, run *score.Run) {
	u := r.campaign.Unit(run.Unit)
	if u == nil {
		return
	}
	for _, ts := range u.Tests {
		for _, k := range ts.Criteria {
			for _, x := range k.PerRun {
				if x.Run != run {
					continue
				}
				row := pointsPage{Test: ts.Title(), Criterion: report.CriterionWords(k.Criterion), Value: report.ValueWords(k.Criterion.Measure, x.Value),
					Points: report.PointsWords(x.Points), How: report.CurveWords(k, x), Weight: fmt.Sprintf("%.1f %%", 100*k.Weight), Floor: x.Floor}
				if x.Floor {
					row.Points = report.PointsWords(rig.Fig(ts.Test.FailedPoints))
					row.How = "the run failed a gate: the points of a failed test count; its measure would have earned " + report.PointsWords(x.Points)
				}
				p.Points = append(p.Points, row)
			}
		}
	}
}
