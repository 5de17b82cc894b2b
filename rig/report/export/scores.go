package export

import (
	"strings"

	"quern/rig"
	"quern/rig/score"
)

var measureColumn = isKey(word("measure", "name of the measure"))

// ofMeasure marks a number whose unit stands in another column.
func ofMeasure(c Column, unitAt int) Column { c.unitFrom = unitAt + 1; return c }

// measures lists the names of the measures that a campaign speaks of: the fixed set, and those that its rules add.
func (in *input) measures(r *score.Run) []rig.Measure {
	out := append([]rig.Measure{}, rig.Measures...)
	add := func(name string) {
		if !strings.HasPrefix(name, rig.ExtraMeasure) {
			return
		}
		for _, m := range out {
			if m.Name == name {
				return
			}
		}
		if m, ok := rig.FindMeasure(name); ok {
			out = append(out, m)
		}
	}
	for _, k := range in.Campaign.Lab.Scorecard.Criteria {
		add(k.Measure)
	}
	for _, g := range r.Procedure.Gates {
		add(g.Measure)
	}
	return out
}

// eachMeasure calls f for all measures of all runs.
func (in *input) eachMeasure(f func(*score.Run, rig.Measure, score.Value) error) error {
	for _, r := range in.Campaign.Runs {
		for _, m := range in.measures(r) {
			if err := f(r, m, r.Measure(m.Name)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (in *input) startOf(r *score.Run) Cell {
	if d := r.Detected(); d != nil && d.StartS.OK {
		return utc(r.Record.Started, d.StartS.V)
	}
	return utc(r.Record.Started, 0)
}

var measuresTable = Table{Name: "measures", What: "a measure of a run after corrections, with its uncertainty", Columns: []Column{
	sessionColumn, runColumn, isKey(unitColumn), procedureColumn, utcColumn, measureColumn, word("measure_unit", "unit of the values; absent: a count or a share"),
	ofMeasure(num("value", "", 6, "the measure"), 6), ofMeasure(num("u", "", 6, "standard uncertainty of this value alone"), 6), ofMeasure(num("u_common", "", 6, "standard uncertainty that all units on the bench share"), 6),
	word("why", "code of the reason why it is absent"), yesno("typed", "by a person"), ofMeasure(num("was", "", 6, "what was measured before a person said otherwise"), 6), word("note", "what has to be known beside it"), minutes("reading", "of a time, for reading"), word("what", "its definition"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachMeasure(func(r *score.Run, m rig.Measure, v score.Value) error {
		u, common, reading := Cell{}, Cell{}, Cell{}
		if v.OK {
			u, common = number(v.U), number(v.UCommon)
		}
		if m.Unit == "s" {
			reading = clock(v.Figure)
		}
		return emit([]Cell{text(r.Record.Session), whole(r.N), text(r.Unit), text(r.Procedure.ID), in.startOf(r), text(m.Name), text(m.Unit), figure(v.Figure), u, common, text(v.Why), yes(v.Typed), figure(v.Old), text(v.Note), reading, text(m.What)})
	})
}}

var tracesTable = Table{Name: "traces", What: "one thing that a measure was computed from", Columns: []Column{
	sessionColumn, runColumn, measureColumn, isKey(count("number", "of the measure, from 1")), utcColumn, word("from", "weighing, event, figure, correction, setting or measure"), count("fact", "number of the weighing or correction"), num("at_s", "s", 3, "its instant"), word("what", "in words"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachMeasure(func(r *score.Run, m rig.Measure, v score.Value) error {
		for i, t := range v.From {
			if err := emit([]Cell{text(r.Record.Session), whole(r.N), text(m.Name), whole(i + 1), instantOf(r.Record, t.AtS), text(t.What), counted(t.Fact), figure(t.AtS), text(t.Text)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var gatesTable = Table{Name: "gates", What: "a gate decided on one run", Columns: []Column{
	sessionColumn, runColumn, isKey(unitColumn), procedureColumn, isKey(count("gate", "number in the procedure, from 1")), utcColumn, word("measure", "what must hold the limit"), word("measure_unit", "unit of limit and value"), word("side", "at-most or at-least"), ofMeasure(num("limit", "", 6, "it belongs to the side that passes"), 7),
	word("rule", "four-way, guarded or simple"), num("band", "", 6, "half-width of the band, in standard uncertainties"), word("repeats", "any, majority or mean: how runs make the test's verdict"),
	ofMeasure(num("value", "", 6, "the measure"), 7), ofMeasure(num("u", "", 6, "its standard uncertainty against the limit"), 7), word("verdict", "pass, pass (close), fail (close), fail, or not measurable"), num("conformance", "", 6, "probability that the true value holds the limit"), word("why", "why there is no verdict"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, r := range in.Campaign.Runs {
		for i, g := range r.Gates {
			verdict, conformance, u := text(score.NotMeasurable), Cell{}, Cell{}
			if g.Decided() {
				verdict, conformance, u = text(g.Verdict), number(g.Conformance), number(g.Value.Total())
			}
			m, _ := rig.FindMeasure(g.Gate.Measure)
			if err := emit([]Cell{text(r.Record.Session), whole(r.N), text(r.Unit), text(r.Procedure.ID), whole(i + 1), in.startOf(r), text(g.Gate.Measure), text(m.Unit), text(g.Gate.Side), number(g.Gate.Limit),
				text(g.Gate.Rule), number(g.Gate.Band), text(g.Gate.Repeats), figure(g.Value.Figure), u, verdict, conformance, text(g.Why)}); err != nil {
				return err
			}
		}
	}
	return nil
}}

var pointsTable = Table{Name: "points", What: "what one run of a unit earns by one criterion", Columns: []Column{
	isKey(unitColumn), shownColumn, isKey(word("test", "id of the test")), isKey(word("criterion", "id of the criterion")), isKey(word("session", "absent: entered by hand")), isKey(count("run", "number of the run in its session")), utcColumn, word("measure", "what is judged"), word("measure_unit", "its unit"),
	ofMeasure(num("value", "", 6, "the measure"), 8), ofMeasure(num("u", "", 6, "its standard uncertainty"), 8), num("points", "", 6, "0 to 10, by the curve"), yesno("floor", "the run failed by itself and earns the failed points"),
	num("curve_at_0", "", 6, "the points of the curve between which it lies: measure of the first"), num("curve_points_0", "", 6, "points of the first"), num("curve_at_1", "", 6, "measure of the second"), num("curve_points_1", "", 6, "points of the second"), count("outside", "-1: before the first point of the curve, 1: past the last"), word("why", "why there are no points"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachCriterion(func(u *score.Unit, t *score.TestScore, k *score.CriterionScore) error {
		m, _ := rig.FindMeasure(k.Criterion.Measure)
		for _, p := range k.PerRun {
			session, n, at, uncertain := Cell{}, Cell{}, Cell{}, Cell{}
			if p.Run != nil {
				session, n, at = text(p.Run.Record.Session), whole(p.Run.N), in.startOf(p.Run)
			}
			if p.Value.OK {
				uncertain = number(p.Value.Total())
			}
			why := p.Points.Why
			if why == "" && !p.Points.OK {
				why = p.Value.Why
			}
			if err := emit([]Cell{text(u.Unit.ID), in.released(u.Unit.ID), text(t.Test.ID), text(k.Criterion.ID), session, n, at, text(k.Criterion.Measure), text(m.Unit), figure(p.Value.Figure), uncertain,
				figure(p.Points), yes(p.Floor), number(p.On.X0), number(p.On.Y0), number(p.On.X1), number(p.On.Y1), whole(p.On.Outside), text(why)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

func (in *input) eachCriterion(f func(*score.Unit, *score.TestScore, *score.CriterionScore) error) error {
	for _, u := range in.Campaign.Units {
		for _, t := range u.Tests {
			for _, k := range t.Criteria {
				if err := f(u, t, k); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

var criteriaTable = Table{Name: "criteria", What: "what a unit earned by one criterion, over its runs", Columns: []Column{
	isKey(unitColumn), shownColumn, isKey(word("test", "id of the test")), isKey(word("criterion", "id of the criterion")), word("title", "in print"), word("measure", "what is judged"), word("measure_unit", "its unit"),
	ofMeasure(num("mean", "", 6, "mean over the runs that count"), 6), ofMeasure(num("sd", "", 6, "standard deviation of the unit's own runs"), 6), ofMeasure(num("half_width", "", 6, "of the interval of the mean, by the deviation pooled over units"), 6), count("runs", "how many runs count"),
	num("earned", "", 6, "points by the curve"), num("points", "", 6, "points that count"), num("weight", "", 6, "share of the whole, missing ones left out"), word("why", "why there are no points"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachCriterion(func(u *score.Unit, t *score.TestScore, k *score.CriterionScore) error {
		m, _ := rig.FindMeasure(k.Criterion.Measure)
		sd, half := Cell{}, Cell{}
		if k.Repeats.Summary.SD.OK {
			sd = number(k.Repeats.Summary.SD.V)
		}
		if k.Repeats.Half.OK {
			half = number(k.Repeats.Half.V)
		}
		return emit([]Cell{text(u.Unit.ID), in.released(u.Unit.ID), text(t.Test.ID), text(k.Criterion.ID), text(k.Title()), text(k.Criterion.Measure), text(m.Unit), figure(k.Mean.Figure), sd, half, whole(len(k.PerRun)),
			figure(k.Earned), figure(k.Points), number(k.Weight), text(k.Points.Why)})
	})
}}

var testsTable = Table{Name: "tests", What: "what a unit came to in one test", Columns: []Column{
	isKey(unitColumn), shownColumn, isKey(word("test", "id of the test")), word("title", "in print"), word("category", "where it belongs"), word("outcome", "passed, failed, void, not tested or not measurable"), word("why", "beside the outcome"),
	count("runs", "how many count"), count("aside", "how many do not"), num("earned", "", 6, "what its criteria would have earned without the gates"), num("points", "", 6, "what it counts"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, u := range in.Campaign.Units {
		for _, t := range u.Tests {
			if err := emit([]Cell{text(u.Unit.ID), in.released(u.Unit.ID), text(t.Test.ID), text(t.Title()), text(t.Test.Category), text(t.Outcome), text(t.Why), whole(len(t.Runs)), whole(len(t.Aside)), figure(t.Earned), figure(t.Points)}); err != nil {
				return err
			}
		}
	}
	return nil
}}

var unitsTable = Table{Name: "units", What: "a unit, and what it came to", Columns: []Column{
	isKey(unitColumn), shownColumn, num("overall", "", 6, "points of the whole, 0 to 10"), yesno("ranked", "it has a place in the standings"), word("motor", "kind of motor"), num("rated_current_a", "A", 3, "nameplate, RMS"), num("locked_rotor_a", "A", 3, "with the rotor locked, RMS"),
	word("missing", "what was missing, and what was done about it"), word("failed", "titles of the tests it failed"), word("why", "code of the reason why there is no whole"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, u := range in.Campaign.Units {
		if err := emit([]Cell{text(u.Unit.ID), in.released(u.Unit.ID), figure(u.Overall), yes(u.Ranked), text(u.Unit.Motor), some(u.Unit.RatedCurrentA), some(u.Unit.LockedRotorA),
			text(strings.Join(u.Missing, "; ")), text(strings.Join(u.Failed, "; ")), text(u.Overall.Why)}); err != nil {
			return err
		}
	}
	return nil
}}
