package sheet

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// unitPage is the page of a unit.
type unitPage struct {
	Title, Heading  string
	Comparison      string // title of the scorecard
	Version         string
	Summary         []string
	Points, Half    string
	Place           string // "" on a masked page, or without a place
	Sum             string
	Categories      []categoryView
	Tests           []testView
	Procedures      []procedureView
	ByHand          []testView // tests without a procedure
	Missing         []string
	Corrections     []correctionView
	Typed           []string
	Voids           []voidView
	Left            []score.Loose // sessions that no run could be made of
	Conditions      []conditionRow
	Checks          []checkedView
	Instruments     []string
	Disputes        []disputeRow
	Method          methodView
	Sums            []pair
	Sessions        []sessionSums
	Masked, Blinded bool
	Dates           string
}

type categoryView struct{ Title, Weight, Points string }

type voidView struct {
	Session, Day, Procedure, Status, Why string
	Values                               string
}

type sessionSums struct{ Session, Sealed, Chain, Settings, Tool, Origin string }

func (b *book) unit(ctx context.Context, s *score.Standings, line *score.Standing) (*unitPage, error) {
	u := line.Unit
	runs := b.runsOf(u.Unit.ID)
	of, err := b.exhibits(ctx, runs)
	if err != nil {
		return nil, err
	}
	card := &b.c.Lab.Scorecard
	p := &unitPage{Heading: u.Unit.Shown(b.Day), Comparison: cmp.Or(card.Title, "Standings"), Version: card.Version, Masked: b.Masked, Blinded: !u.Unit.Released(b.Day),
		Points: report.PointsWords(line.Overall), Half: report.PointsWords(line.Half), Sum: sumText(u), Missing: plain(line.Missing)}
	p.Title = p.Heading + ": report"
	if !b.Masked && line.Place > 0 {
		p.Place = placeText(s, line)
	}
	for _, k := range u.Categories {
		p.Categories = append(p.Categories, categoryView{cmp.Or(k.Category.Title, k.Category.ID), fmt.Sprintf("%g", k.Category.Weight), report.PointsWords(k.Points)})
	}
	for _, ts := range u.Tests {
		v := b.testView(ts)
		p.Tests = append(p.Tests, v)
		if ts.Test.Procedure == "" {
			p.ByHand = append(p.ByHand, v)
		}
	}
	p.Procedures = b.procedures(u, of)
	p.Voids = b.voids(runs)
	for _, l := range b.c.Loose {
		if !b.Masked || strings.Contains(l.Session, u.Unit.ID) {
			p.Left = append(p.Left, l)
		}
	}
	for _, rec := range recordsOf(runs) {
		p.Corrections = append(p.Corrections, correctionsOf(rec)...)
		p.Sessions = append(p.Sessions, sessionSums{rec.Session, orNone(rec.Sealed), orNone(rec.Chain), orNone(rec.Settings), rec.Tool, report.OriginWords(rec.Origin)})
	}
	p.Typed = typed(runs)
	p.Conditions = b.conditions(runs, of)
	p.Checks = b.checks(runs)
	p.Instruments = b.instruments()
	p.Method = b.method(runs, []*score.Unit{u})
	p.Sums = b.sums()
	p.Disputes = b.disputes(s, line, runs, of)
	p.Dates = dates(runs)
	p.Summary = b.summary(s, line, p)
	return p, nil
}

// runsOf returns all runs of a unit, in order of time.
func (b *book) runsOf(id string) (out []*score.Run) {
	for _, r := range b.c.Runs {
		if r.Unit == id {
			out = append(out, r)
		}
	}
	return out
}

// recordsOf returns the records that runs are of, each once.
func recordsOf(runs []*score.Run) (out []*rig.Record) {
	for _, r := range runs {
		if !slices.Contains(out, r.Record) {
			out = append(out, r.Record)
		}
	}
	return out
}

func plain(texts []string) (out []string) {
	for _, t := range texts {
		out = append(out, report.PlainWords(t))
	}
	return out
}

// noGate gathers tests that are called passed without a gate that could have failed.
const noGate score.Outcome = "no gate"

func orNone(s string) string { return cmp.Or(s, "none") }

// placeText says where a unit stands and how surely.
func placeText(s *score.Standings, l *score.Standing) string {
	n := 0
	for _, o := range s.Lines {
		if o.Place > 0 {
			n++
		}
	}
	text := fmt.Sprintf("place %d of %d", l.Place, n)
	if l.Range.Best > 0 && l.Half.OK && l.Range.Best != l.Range.Worst {
		text += fmt.Sprintf("; by the scatter of repeated runs it may be any from %d to %d", l.Range.Best, l.Range.Worst)
	}
	return text
}

// summary is what one would tell an editor, with the caveats that the figures ask for.
func (b *book) summary(s *score.Standings, l *score.Standing, p *unitPage) []string {
	u := l.Unit
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	switch {
	case len(b.c.Lab.Scorecard.Criteria) == 0:
		say("%s has no points: the scorecard has no criterion.", p.Heading)
	case !l.Overall.OK:
		say("%s has no points: %s.", p.Heading, cmp.Or(rig.WhyWords(l.Overall.Why), "nothing was measured"))
	case l.Half.OK:
		say("%s earned %s ±%s of 10 points.", p.Heading, p.Points, p.Half)
	default:
		say("%s earned %s of 10 points; without repeats nothing can be said of how sure that is.", p.Heading, p.Points)
	}
	if p.Place != "" {
		say("It stands in %s.", p.Place)
	}
	of := map[score.Outcome][]string{}
	for _, ts := range u.Tests {
		o := ts.Outcome
		if ts.NoGate() {
			o = noGate
		}
		of[o] = append(of[o], ts.Title())
	}
	for _, o := range []struct {
		outcome score.Outcome
		words   string
	}{{score.Passed, "Passed"}, {noGate, "Scored, with no gate to check"}, {score.Failed, "Failed"}, {score.NotTested, "Not tested"}, {score.NotMeasurable, "Not measurable"}, {score.IsVoid, "Void, to be repeated"}} {
		if t := of[o.outcome]; len(t) > 0 {
			say("%s: %s.", o.words, strings.Join(t, ", "))
		}
	}
	closeCalls := 0
	for _, ts := range u.Tests {
		for _, g := range ts.Gates {
			for _, r := range g.Runs {
				if r.Close() {
					closeCalls++
				}
			}
		}
	}
	if closeCalls > 0 {
		say("%s %s too close to call; another weighing or run may turn %s.", rig.Count(closeCalls, "gate decision"), agree(closeCalls, "was", "were"), agree(closeCalls, "it", "them"))
	}
	if u.Unit.Samples <= 1 {
		say("One sample was tested, which says nothing of the spread from sample to sample.")
	} else {
		say("%d samples were bought.", u.Unit.Samples)
	}
	if u.Unit.MakerSupplied {
		say("The sample came from its maker.")
	}
	if len(p.Missing) > 0 {
		say("Something is missing; below is what, and what was done about it.")
	}
	return out
}

// voids lists the runs that do not count, with their reasons and values.
func (b *book) voids(runs []*score.Run) (out []voidView) {
	for _, r := range runs {
		if r.Status == score.Counts {
			continue
		}
		v := voidView{Session: r.Name(), Day: r.Day(), Procedure: procedureTitle(r), Status: string(r.Status), Why: r.Why}
		if r.Status == score.Void {
			v.Status = "void (" + r.Cause + ")"
		}
		var values []string
		for _, m := range b.few(r) {
			values = append(values, m.Name+" "+m.Value)
		}
		v.Values = cmp.Or(strings.Join(values, ", "), "none was measured")
		out = append(out, v)
	}
	return out
}

// typed lists what a person typed in place of a reading.
func typed(runs []*score.Run) (out []string) {
	for _, rec := range recordsOf(runs) {
		if rec.Origin == rig.ByHand {
			out = append(out, rec.Session+": all values were taken by hand and typed in")
		}
		for _, w := range rec.Facts.Weighings {
			if w.Typed {
				out = append(out, fmt.Sprintf("%s: weighing %d (%s) was typed in by %s", rec.Session, w.Fact, w.Role, cmp.Or(w.Who, "nobody that is named")))
			}
		}
	}
	return out
}

// sums is what the numbers can be checked by.
func (b *book) sums() []pair {
	return []pair{
		{"rules: scorecard, procedures, uncertainties (SHA-256)", b.c.Lab.RulesSum()},
		{"sessions, facts and settings (SHA-256)", b.c.FactsSum()},
		{"analysed under", b.Rules},
		{"computed by", b.Tool},
	}
}

// dates says from when to when runs were made.
func dates(runs []*score.Run) string {
	if len(runs) == 0 {
		return "no run"
	}
	first, last := runs[0].Day(), runs[0].Day()
	for _, r := range runs {
		first, last = min(first, r.Day()), max(last, r.Day())
	}
	if first == last {
		return first
	}
	return first + " to " + last
}
