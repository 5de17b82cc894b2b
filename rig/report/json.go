package report

import (
	"encoding/json"
	"io"

	"quern/rig"
	"quern/rig/score"
)

// The JSON forms. Figures have three decimals, shares six; what could not be measured is null, with
// the reason beside it.

type share float64

// MeasureJSON is a measure of a run, with where it came from.
type MeasureJSON struct {
	Measure string     `json:"measure"`
	Value   *float64   `json:"value"`
	U       float64    `json:"u,omitempty"`
	Why     string     `json:"why,omitempty"`
	Typed   bool       `json:"typed,omitempty"`
	Was     *float64   `json:"was,omitempty"`
	Note    string     `json:"note,omitempty"`
	From    []FromJSON `json:"from,omitempty"`
}

// FromJSON is one of the things that a measure came from.
type FromJSON struct {
	What string     `json:"what"`
	Fact int        `json:"fact,omitempty"`
	AtS  rig.Figure `json:"at_s"`
	Text string     `json:"text"`
}

type gateJSON struct {
	Measure     string   `json:"measure"`
	Side        string   `json:"side"`
	Limit       float64  `json:"limit"`
	Rule        string   `json:"rule"`
	Verdict     string   `json:"verdict"`
	Conformance *float64 `json:"conformance"`
	Why         string   `json:"why,omitempty"`
}

type runJSON struct {
	Session  string        `json:"session"`
	Run      int           `json:"run"`
	Status   string        `json:"status"`
	Outcome  string        `json:"outcome"`
	Cause    string        `json:"cause,omitempty"`
	Why      string        `json:"why,omitempty"`
	Measures []MeasureJSON `json:"measures"`
	Gates    []gateJSON    `json:"gates"`
	Remarks  []string      `json:"remarks"`
	Sealed   string        `json:"manifest_sha256"`
	Settings string        `json:"settings_sha256"`
}

type criterionJSON struct {
	Criterion string     `json:"criterion"`
	Measure   string     `json:"measure"`
	Mean      *float64   `json:"mean"`
	SD        *float64   `json:"sd"`
	Half      *float64   `json:"half_width"`
	Earned    rig.Figure `json:"earned"`
	Points    rig.Figure `json:"points"`
	Weight    share      `json:"weight"`
	Why       string     `json:"why,omitempty"`
	Best      bool       `json:"best"`
	Worst     bool       `json:"worst"`
}

type testJSON struct {
	Test     string          `json:"test"`
	Outcome  string          `json:"outcome"`
	Why      string          `json:"why,omitempty"`
	Points   rig.Figure      `json:"points"`
	Earned   rig.Figure      `json:"earned"`
	Criteria []criterionJSON `json:"criteria"`
	Runs     []runJSON       `json:"runs,omitempty"`
}

type unitJSON struct {
	Unit    string     `json:"unit"`
	Shown   string     `json:"shown"`
	Overall rig.Figure `json:"overall"`
	Tests   []testJSON `json:"tests"`
	Missing []string   `json:"missing"`
	Failed  []string   `json:"failed"`
}

type lineJSON struct {
	Place     int        `json:"place"` // 0: not ranked
	Range     [2]int     `json:"range"`
	Alike     string     `json:"alike"`
	U         rig.Figure `json:"u"`
	Half      rig.Figure `json:"half_width"`
	Simulated stableJSON `json:"simulated"`
	Weights   stableJSON `json:"weights_varied"`
	unitJSON
}

type stableJSON struct {
	Draws int   `json:"draws"`
	Top1  share `json:"top_1"`
	Top3  share `json:"top_3"`
	Top5  share `json:"top_5"`
	Low   int   `json:"low"`
	High  int   `json:"high"`
}

func present(f rig.Figure) *float64 {
	if v, ok := f.Value(); ok {
		return &v
	}
	return nil
}

// OfMeasure puts a measure in its JSON form.
func OfMeasure(name string, v score.Value) MeasureJSON {
	out := MeasureJSON{Measure: name, Value: present(v.Figure), U: v.Total(), Why: v.Why, Typed: v.Typed, Was: present(v.Old), Note: v.Note}
	for _, t := range v.From {
		out.From = append(out.From, FromJSON{t.What, t.Fact, t.AtS, t.Text})
	}
	return out
}

func ofRun(r *score.Run) runJSON {
	out := runJSON{Session: r.Record.Session, Run: r.N, Status: string(r.Status), Outcome: string(r.Outcome), Cause: r.Cause, Why: r.Why,
		Measures: []MeasureJSON{}, Gates: []gateJSON{}, Remarks: append([]string{}, r.Remarks...), Sealed: r.Record.Sealed, Settings: r.Record.Settings}
	for _, m := range rig.Measures {
		if v := r.Measure(m.Name); v.OK || v.Why != "not-weighed" {
			out.Measures = append(out.Measures, OfMeasure(m.Name, v))
		}
	}
	for _, g := range r.Gates {
		j := gateJSON{Measure: g.Gate.Measure, Side: g.Gate.Side, Limit: g.Gate.Limit, Rule: g.Gate.Rule, Verdict: string(g.Verdict), Why: g.Why}
		if g.Decided() {
			j.Conformance = &g.Conformance
		} else {
			j.Verdict = string(score.NotMeasurable)
		}
		out.Gates = append(out.Gates, j)
	}
	return out
}

func ofUnit(u *score.Unit, day string, runs bool) unitJSON {
	out := unitJSON{Unit: u.Unit.ID, Shown: u.Unit.Shown(day), Overall: u.Overall, Tests: []testJSON{}, Missing: append([]string{}, u.Missing...), Failed: append([]string{}, u.Failed...)}
	for i, ts := range u.Tests {
		t := testJSON{Test: ts.Test.ID, Outcome: string(ts.Outcome), Why: ts.Why, Points: ts.Points, Earned: ts.Earned, Criteria: []criterionJSON{}}
		for _, k := range ts.Criteria {
			c := criterionJSON{Criterion: k.Criterion.ID, Measure: k.Criterion.Measure, Mean: present(k.Mean.Figure), Earned: k.Earned, Points: k.Points,
				Weight: share(k.Weight), Why: k.Points.Why, Best: k.Best, Worst: k.Worst}
			if k.Repeats.Summary.SD.OK {
				c.SD = &k.Repeats.Summary.SD.V
			}
			if k.Repeats.Half.OK {
				c.Half = &k.Repeats.Half.V
			}
			t.Criteria = append(t.Criteria, c)
		}
		if runs && first(u.Tests, i) {
			for _, r := range ts.Runs {
				t.Runs = append(t.Runs, ofRun(r))
			}
			for _, r := range ts.Aside {
				t.Runs = append(t.Runs, ofRun(r))
			}
		}
		out.Tests = append(out.Tests, t)
	}
	return out
}

func encode(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// UnitsJSON writes units with all runs, their measures and where they came from, as one JSON object.
func UnitsJSON(w io.Writer, c *score.Campaign, units []*score.Unit, day string, sums []string) error {
	out := struct {
		Units []unitJSON    `json:"units"`
		Loose []score.Loose `json:"left_out"`
		Rules []string      `json:"rules"`
	}{Units: []unitJSON{}, Loose: append([]score.Loose{}, c.Loose...), Rules: sums}
	for _, u := range units {
		out.Units = append(out.Units, ofUnit(u, day, true))
	}
	return encode(w, out)
}

// StandingsJSON writes a ranking as one JSON object.
func StandingsJSON(w io.Writer, s *score.Standings, day string, sums []string) error {
	out := struct {
		Title   string          `json:"title"`
		Lines   []lineJSON      `json:"standings"`
		Without []score.Without `json:"without"`
		Loose   []score.Loose   `json:"left_out"`
		Rules   []string        `json:"rules"`
	}{Title: s.Campaign.Lab.Scorecard.Title, Lines: []lineJSON{}, Without: s.Without, Loose: append([]score.Loose{}, s.Campaign.Loose...), Rules: sums}
	for _, l := range s.Lines {
		out.Lines = append(out.Lines, lineJSON{Place: l.Place, Range: [2]int{l.Range.Best, l.Range.Worst}, Alike: l.Groups, U: l.U, Half: l.Half,
			Simulated: stableJSON{l.Stability.Draws, share(l.Stability.Top1), share(l.Stability.Top3), share(l.Stability.Top5), l.Stability.Low, l.Stability.High},
			Weights:   stableJSON{l.Weights.Draws, share(l.Weights.Top1), share(l.Weights.Top3), share(l.Weights.Top5), l.Weights.Low, l.Weights.High},
			unitJSON:  ofUnit(l.Unit, day, false)})
	}
	return encode(w, out)
}

// MovesJSON writes a comparison of two rankings as one JSON object.
func MovesJSON(w io.Writer, moves []score.Move, oldSums, newSums []string) error {
	type partJSON struct {
		Criterion string  `json:"criterion"`
		Cause     string  `json:"cause"`
		Points    float64 `json:"points"`
	}
	type moveJSON struct {
		Unit     string     `json:"unit"`
		OldPlace int        `json:"old_place"`
		NewPlace int        `json:"new_place"`
		Old      *float64   `json:"old"`
		New      *float64   `json:"new"`
		Parts    []partJSON `json:"parts"`
	}
	out := struct {
		Moves    []moveJSON `json:"moves"`
		OldRules []string   `json:"old_rules"`
		NewRules []string   `json:"new_rules"`
	}{Moves: []moveJSON{}, OldRules: oldSums, NewRules: newSums}
	for _, m := range moves {
		j := moveJSON{Unit: m.Unit, OldPlace: m.OldPlace, NewPlace: m.NewPlace, Old: present(m.Old), New: present(m.New), Parts: []partJSON{}}
		for _, p := range m.Parts {
			j.Parts = append(j.Parts, partJSON{p.ID, string(p.Cause), p.Points})
		}
		out.Moves = append(out.Moves, j)
	}
	return encode(w, out)
}

// ChartsJSON writes control charts as one JSON object.
func ChartsJSON(w io.Writer, charts []score.Chart) error {
	type pointJSON struct {
		Day     string   `json:"day"`
		Session string   `json:"session"`
		Value   *float64 `json:"value"`
		State   string   `json:"state"`
		Rule    string   `json:"rule,omitempty"`
	}
	type chartJSON struct {
		Measure string      `json:"measure"`
		Centre  *float64    `json:"centre"`
		SD      *float64    `json:"sd"`
		Why     string      `json:"why,omitempty"`
		Points  []pointJSON `json:"points"`
	}
	out := struct {
		Charts []chartJSON `json:"charts"`
	}{Charts: []chartJSON{}}
	for _, ch := range charts {
		j := chartJSON{Measure: ch.Measure, Why: ch.Why, Points: []pointJSON{}}
		if ch.Why == "" {
			j.Centre, j.SD = &ch.Chart.Centre, &ch.Chart.S
		}
		for _, p := range ch.Points {
			state := string(p.State)
			if state == "" {
				state = "baseline"
			}
			j.Points = append(j.Points, pointJSON{p.Run.Day(), p.Run.Record.Session, present(p.Value.Figure), state, string(p.Verdict.Rule)})
		}
		out.Charts = append(out.Charts, j)
	}
	return encode(w, out)
}
