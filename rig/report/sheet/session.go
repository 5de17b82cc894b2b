package sheet

import (
	"cmp"
	"context"
	"fmt"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/session"
)

// sessionPage is the page of one session.
type sessionPage struct {
	Title, Heading      string
	Session, Day, Clock string
	Bench, Origin, Tool string
	Loose               string
	Runs                []runView
	Points              [][]earnedView // by run
	Spectrum            *figure
	Balance             *figure
	Items               []itemRow
	Columns             []string
	Weighings           []weighingView
	Checks              []checkedView
	Corrections         []correctionView
	Remarks             []remarkView
	Warnings            []rig.Warning
	Conditions          []conditionRow
	Instruments         []string
	How                 []string
	Sums                []pair
	Files               []session.FileEntry
}

// earnedView is what a run earns by one criterion.
type earnedView struct{ Test, Criterion, Value, Points, How string }

func (b *book) session(ctx context.Context, name string) (*sessionPage, error) {
	var runs []*score.Run
	for _, r := range b.c.Runs {
		if r.Record.Session == name {
			runs = append(runs, r)
		}
	}
	if len(runs) == 0 {
		for _, l := range b.c.Loose {
			if l.Session == name {
				return nil, fmt.Errorf("report: session %s: %s", name, l.Why)
			}
		}
		return nil, fmt.Errorf("report: session %s: %w", name, errNoRun)
	}
	of, err := b.exhibits(ctx, runs)
	if err != nil {
		return nil, err
	}
	x, rec := of[name], runs[0].Record
	first := runs[0]
	p := &sessionPage{Session: name, Day: first.Day(), Clock: rec.Clock() + " " + rec.Zone(), Bench: rec.Bench, Origin: report.OriginWords(rec.Origin), Tool: rec.Tool}
	p.Heading = b.shown(first.Unit) + ", " + procedureTitle(first)
	p.Title = p.Heading + ", " + p.Day
	stem := fileStem(b.veil.Text(name))
	for i, r := range runs {
		heading := "the run"
		if len(runs) > 1 {
			heading = fmt.Sprintf("run %d of %d", i+1, len(runs))
		}
		v := b.runView(x, r, fmt.Sprintf("run-%d", r.N), heading, fmt.Sprintf("%s-run-%d", stem, r.N))
		for _, g := range r.Gates {
			v.Gates = append(v.Gates, b.gateViewOf(g))
		}
		v.Measures = b.measures(r)
		v.Warnings, v.Remarks = nil, nil // those of the session stand below
		p.Runs = append(p.Runs, v)
		p.Points = append(p.Points, b.earned(r))
		p.Columns = append(p.Columns, fmt.Sprintf("run %d", r.N))
	}
	exhibits := make([]*exhibit, len(runs))
	for i := range runs {
		exhibits[i] = x
	}
	p.Spectrum = b.spectrum(exhibits, runs, p.Title, stem+"-spectrum")
	p.Balance = b.balance(runs, p.Title+": where the charge was found", stem+"-balance")
	p.Items = b.items(first.Procedure, runs)
	p.Weighings, p.Checks, p.Corrections = b.weighings(rec, first.Nets()), checksOf(rec), correctionsOf(rec)
	for _, m := range rec.Facts.Remarks {
		p.Remarks = append(p.Remarks, remarkView{report.AtWords(m.AtS), m.Text, m.Who})
	}
	p.Warnings = warningsOf(x)
	p.Conditions, p.Instruments = b.conditions(runs, of), b.instruments()
	p.How = plain(first.Procedure.Steps())
	p.Sums = append(b.sums(), pair{"session as sealed (manifest SHA-256)", orNone(rec.Sealed)}, pair{"with all facts added since (chain)", orNone(rec.Chain)},
		pair{"settings of the analysis (SHA-256)", orNone(rec.Settings)}, pair{"recorded by", cmp.Or(rec.Tool, "unknown")})
	p.Files = x.manifest.Files
	return p, nil
}

// warningsOf lists the warnings of a session, each once.
func warningsOf(x *exhibit) (out []rig.Warning) {
	seen := map[rig.Warning]bool{}
	for _, w := range x.rec.Warnings {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	for _, w := range x.result.Warnings {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// earned says what a run earns, by which stretch of which curve.
func (b *book) earned(r *score.Run) (out []earnedView) {
	u := b.c.Unit(r.Unit)
	if u == nil {
		return nil
	}
	for _, ts := range u.Tests {
		for _, k := range ts.Criteria {
			for _, x := range k.PerRun {
				if x.Run != r {
					continue
				}
				v := earnedView{Test: ts.Title(), Criterion: report.CriterionWords(k.Criterion), Value: b.Style.Value(k.Criterion.Measure, x.Value), Points: report.PointsWords(x.Points), How: b.Style.Curve(k, x)}
				if x.Floor {
					v.How = "the run failed a gate: the points of a failed test count; its measure would have earned " + v.Points
					v.Points = report.PointsWords(rig.Fig(ts.Test.FailedPoints))
				}
				out = append(out, v)
			}
		}
	}
	return out
}
