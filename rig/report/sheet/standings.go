package sheet

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"slices"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// standingsPage is the page of a ranking.
type standingsPage struct {
	Title, Version string
	Alone          string
	Lines          []lineView
	Categories     []categoryView
	Level, Vary    string
	Draws          int
	Starred, OneOf bool
	Once           string // why ranges are not told; "": they are
	Places         *figure
	Ribbons        []*figure
	Tests          []testTable
	Remarks        []unitRemark
	Left           []score.Loose
	Robust         []pair
	Against        string
	Moves          []moveView
	OldSums        []pair
	Checks         int
	Method         methodView
	How            []howView
	Instruments    []string
	Sums           []pair
	Sessions       int
	Dates          string
}

type lineView struct {
	Place, Shown, Points, Half, Range, Groups string
	Starred, MakerSupplied                    bool
	Samples                                   int
	RangeBar                                  template.HTML
	Categories                                []string
	First, Simulated, Varied                  string
	Failed, Missing                           int
	Strips                                    []template.HTML
}

type testTable struct {
	Title, What string
	Criteria    []string
	Rows        []testRow
}

type testRow struct {
	Shown, Outcome, Verdict, Points, Why string
	Cells                                []cell
}

type cell struct{ Value, Half, Points, Mark string }

type unitRemark struct{ Shown, Text string }

type moveView struct {
	Shown, Place, Was, Points, Were, Move string
	Parts                                 []pair
}

type howView struct {
	Title, Beyond string
	Steps         []string
}

func (b *book) standings(ctx context.Context, s, old *score.Standings, moves []score.Move, against string) (*standingsPage, error) {
	card := &b.c.Lab.Scorecard
	p := &standingsPage{Title: cmp.Or(card.Title, "Standings"), Version: card.Version, Alone: report.AloneWords(s), Level: fmt.Sprintf("%.3g %%", 100*card.Level),
		Vary: fmt.Sprintf("%.0f %%", 100*card.Vary), Draws: card.Draws, Left: b.c.Loose, Against: against, Sums: b.sums(), Instruments: b.instruments(),
		Sessions: len(recordsOf(b.c.Runs)), Dates: dates(b.c.Runs), Method: b.method(b.c.Runs, b.c.Units)}
	p.Once = report.OnceWords(s)
	sum := 0.0
	for _, k := range card.Categories {
		sum += k.Weight
	}
	for _, k := range card.Categories {
		p.Categories = append(p.Categories, categoryView{Title: cmp.Or(k.Title, k.ID), Weight: fmt.Sprintf("%.0f %%", 100*k.Weight/sum)})
	}
	of, err := b.results(ctx)
	if err != nil {
		return nil, err
	}
	b.lines(p, s)
	b.ribbons(p, s, of)
	b.tests(p, s)
	b.remarks(p, s)
	b.robust(p, s)
	if old != nil {
		for _, m := range moves {
			p.Moves = append(p.Moves, b.moveView(m))
		}
		p.OldSums = []pair{{"rules before (SHA-256)", old.Campaign.Lab.RulesSum()}, {"sessions, facts and settings before (SHA-256)", old.Campaign.FactsSum()}}
	}
	for i := range b.c.Lab.Procedures {
		pr := &b.c.Lab.Procedures[i]
		if slices.ContainsFunc(b.c.Runs, func(r *score.Run) bool { return r.Procedure == pr }) {
			h := howView{Title: cmp.Or(pr.Title, pr.ID), Steps: plain(pr.Steps())}
			if pr.Beyond {
				h.Beyond = "Beyond instructions: it asks what the makers' instructions exclude."
			}
			p.How = append(p.How, h)
		}
	}
	return p, nil
}

// results reads the whole results of all runs that count, for their ribbons.
func (b *book) results(ctx context.Context) (map[*score.Run]*rig.Run, error) {
	var runs []*score.Run
	for _, u := range b.c.Units {
		for _, ts := range u.Tests {
			for _, r := range ts.Runs {
				if !slices.Contains(runs, r) {
					runs = append(runs, r)
				}
			}
		}
	}
	found := make([]*rig.Run, len(runs))
	err := each(len(runs), func(i int) error {
		x := &exhibit{rec: runs[i].Record}
		if err := b.open(ctx, x, false); err != nil {
			return err
		}
		if n := runs[i].N; n <= len(x.result.Runs) {
			found[i] = &x.result.Runs[n-1]
		}
		return ctx.Err()
	})
	out := map[*score.Run]*rig.Run{}
	for i, r := range runs {
		out[r] = found[i]
	}
	return out, err
}

func (b *book) lines(p *standingsPage, s *score.Standings) {
	ranked := 0
	for _, l := range s.Lines {
		if l.Ranked {
			ranked++
		}
	}
	places := report.Places{Title: p.Title}
	for _, l := range s.Lines {
		u := l.Unit.Unit
		v := lineView{Place: "-", Shown: u.Shown(b.Day), Points: report.PointsWords(l.Overall), Half: report.PointsWords(l.Half), Groups: l.Groups, Range: "-", First: "-", Simulated: "-", Varied: "-",
			MakerSupplied: u.MakerSupplied, Samples: u.Samples, Failed: len(l.Failed), Missing: len(l.Missing)}
		p.OneOf = p.OneOf || u.Samples == 1
		k := report.PlacesLine{Place: l.Place, Name: u.Shown(b.Day), Points: l.Overall, Half: l.Half}
		if l.Place > 0 {
			v.Place, v.Starred = fmt.Sprint(l.Place), len(l.Missing) > 0
			p.Starred = p.Starred || v.Starred
		}
		if l.Range.Best > 0 && l.Half.OK {
			v.Range, v.RangeBar = placesText(l.Range.Best, l.Range.Worst), report.RangeBar(l, ranked)
			k.Best, k.Worst = l.Range.Best, l.Range.Worst
		}
		for _, c := range l.Categories {
			v.Categories = append(v.Categories, report.PointsWords(c.Points))
		}
		if l.Ranked {
			v.First = fmt.Sprintf("%.0f %%", 100*l.Stability.Top1)
			v.Simulated, v.Varied = placesText(l.Stability.Low, l.Stability.High), placesText(l.Weights.Low, l.Weights.High)
			k.Low, k.High = l.Stability.Low, l.Stability.High
		}
		p.Lines = append(p.Lines, v)
		if l.Place > 0 {
			places.Lines = append(places.Lines, k)
		}
	}
	if len(places.Lines) > 0 {
		places.Title = p.Title + ": how sure the places are"
		p.Places = b.figure("standings-places", places.Title, "Points with the interval from the scatter of repeated runs, and the places that each unit may have.", places)
	}
}

func placesText(a, b int) string {
	if a == b {
		return fmt.Sprint(a)
	}
	return fmt.Sprintf("%d to %d", a, b)
}

// ribbons draws the runs of all units under each procedure, in the order of places.
func (b *book) ribbons(p *standingsPage, s *score.Standings, of map[*score.Run]*rig.Run) {
	for i := range b.c.Lab.Procedures {
		pr := &b.c.Lab.Procedures[i]
		title := cmp.Or(pr.Title, pr.ID)
		plot := report.Ribbons{Title: title, LimitS: pr.TimeLimitS}
		for _, l := range s.Lines {
			for _, ts := range l.Tests {
				if ts.Test.Procedure != pr.ID || len(ts.Runs) == 0 {
					continue
				}
				row := report.RibbonRow{Name: l.Unit.Unit.Shown(b.Day)}
				for _, r := range ts.Runs {
					row.Runs = append(row.Runs, of[r])
					note := string(r.Outcome)
					if v := r.Measure("run_time_s"); v.OK {
						note += ", " + b.Style.Measure("run_time_s", v.V)
					}
					row.Note = append(row.Note, note)
				}
				plot.Rows = append(plot.Rows, row)
				break
			}
		}
		if len(plot.Rows) > 0 {
			p.Ribbons = append(p.Ribbons, b.figure("standings-"+pr.ID+"-ribbons", title+": the ribbons of all runs that count, unit by unit", "One scale of time for all; units in the order of their places.", plot))
		}
	}
}
