package review

import (
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// verdictJSON is what a run came to, with where each number came from.
type verdictJSON struct {
	Run      int           `json:"run"`
	Status   score.Status  `json:"status"`
	Outcome  score.Outcome `json:"outcome"`
	Cause    string        `json:"cause,omitempty"`
	Why      string        `json:"why,omitempty"`
	Measures []measureJSON `json:"measures"`
	Gates    []gateJSON    `json:"gates"`
	Items    []itemJSON    `json:"items"`
	Remarks  []string      `json:"remarks"`
	Applied  []int         `json:"applied"` // numbers of the corrections
	Points   []pointsJSON  `json:"points"`
}

type measureJSON struct {
	report.MeasureJSON
	Unit string `json:"unit,omitempty"`
}

type gateJSON struct {
	Measure     string   `json:"measure"`
	Side        string   `json:"side"`
	Limit       float64  `json:"limit"`
	Rule        string   `json:"rule"`
	Value       *float64 `json:"value"`
	U           float64  `json:"u,omitempty"`
	Verdict     string   `json:"verdict"`
	Close       bool     `json:"close"` // another weighing or run may turn it
	Conformance *float64 `json:"conformance"`
	Why         string   `json:"why,omitempty"`
	Words       string   `json:"words"`
}

type itemJSON struct {
	Item   string     `json:"item"`
	MassG  float64    `json:"mass_g"`
	NetG   rig.Figure `json:"net_g"`
	Within bool       `json:"within"` // its tolerance
}

// pointsJSON is what a run earns by one criterion. Curve holds the two points of the curve between which
// its measure lies: x and points of each.
type pointsJSON struct {
	Test      string     `json:"test"`
	Criterion string     `json:"criterion"`
	Title     string     `json:"title"`
	Measure   string     `json:"measure"`
	Value     *float64   `json:"value"`
	Points    rig.Figure `json:"points"`
	Weight    float64    `json:"weight"` // share of the whole
	Curve     [4]float64 `json:"curve"`
	Outside   int        `json:"outside"` // -1: before the first point of the curve, 1: past the last
	Floor     bool       `json:"floor"`   // the run failed by itself and earns the failed points
	Why       string     `json:"why,omitempty"`
}

func present(f rig.Figure) *float64 {
	if !f.OK {
		return nil
	}
	return &f.V
}

// verdictOf tells of a run; its points come from the campaign, if that has the same run.
func verdictOf(r *score.Run, c *score.Campaign) verdictJSON {
	out := verdictJSON{Run: r.N, Status: r.Status, Outcome: r.Outcome, Cause: r.Cause, Why: r.Why, Measures: []measureJSON{}, Gates: []gateJSON{}, Items: []itemJSON{},
		Remarks: append([]string{}, r.Remarks...), Applied: []int{}, Points: []pointsJSON{}}
	for _, k := range r.Applied {
		out.Applied = append(out.Applied, k.Fact)
	}
	for _, m := range rig.Measures {
		out.Measures = append(out.Measures, measureJSON{report.OfMeasure(m.Name, r.Measure(m.Name)), m.Unit})
	}
	for _, g := range r.Gates {
		j := gateJSON{Measure: g.Gate.Measure, Side: g.Gate.Side, Limit: g.Gate.Limit, Rule: g.Gate.Rule, Value: present(g.Value.Figure), U: g.Value.Total(),
			Verdict: string(score.NotMeasurable), Why: g.Why, Words: strings.ReplaceAll(g.Gate.Words(), "~", " ")}
		if g.Decided() {
			j.Verdict, j.Close, j.Conformance = string(g.Verdict), g.Close(), &g.Conformance
		}
		out.Gates = append(out.Gates, j)
	}
	for _, i := range r.Items() {
		out.Items = append(out.Items, itemJSON{i.Name, i.MassG, i.Net, !i.Off})
	}
	if c == nil {
		return out
	}
	unit := c.Unit(r.Unit)
	if unit == nil {
		return out
	}
	for _, t := range unit.Tests {
		for _, k := range t.Criteria {
			for _, p := range k.PerRun {
				if p.Run == nil || p.Run.N != r.N || p.Run.Record.Session != r.Record.Session {
					continue
				}
				out.Points = append(out.Points, pointsJSON{t.Test.ID, k.Criterion.ID, k.Title(), k.Criterion.Measure, present(p.Value.Figure), p.Points, k.Weight,
					[4]float64{p.On.X0, p.On.Y0, p.On.X1, p.On.Y1}, p.On.Outside, p.Floor, p.Points.Why})
			}
		}
	}
	// What counts, how often, is a matter of all runs of the unit together.
	for _, x := range c.Runs {
		if x.N == r.N && x.Record.Session == r.Record.Session {
			out.Status = x.Status
		}
	}
	return out
}
