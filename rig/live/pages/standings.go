package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/config"
	"quern/rig/report"
	"quern/rig/score"
)

// standingsPage is the ranking.
type standingsPage struct {
	Title, Version string
	Computing      bool
	Err            string
	Lines          []linePage
	Categories     []weightPage
	Tests          []testPage
	Remarks        []remark
	Left           []score.Loose // sessions without a place
	Robust         []robustPage
	Alone          string
	Level, Vary    string
	Draws          int
	Starred        bool
	Once           string // why ranges are not told; "": they are
	OneSample      bool
	Against        string
	Days           []choice
	Moves          []movePage
	Sums           []pair
	Varied         bool // other weights than the scorecard's
	Refresh        bool
	State
}

type linePage struct {
	Place, Shown, ID, Points, Half  string
	Starred                         bool
	Range, Groups                   string
	RangeBar, PointsBar             template.HTML
	Categories                      []string
	First, Simulated, WeightsVaried string
	Failed, Missing                 int
	MakerSupplied                   bool
	Samples                         int
}

type weightPage struct {
	ID, Title string
	Weight    string // in force here
	Default   string
	Share     string
}

type remark struct{ Shown, Text string }

type robustPage struct{ Test, Text string }

type movePage struct {
	Shown, Place, Was, Points, Were, Move string
	Parts                                 []pair
}

// Standings serves the ranking; ?against=2026-03-31 says what moved since the end of that day, and
// ?w.ID=30 gives a category another weight.
func (c *Catalogue) Standings(w http.ResponseWriter, req *http.Request) {
	r, behind := c.current(req.Context())
	p := standingsPage{State: c.state(r, behind)}
	if r == nil {
		p.Computing, p.Refresh = true, true
		c.site.render(w, req, http.StatusOK, "standings.html", View{Title: "Standings", At: "/standings", Name: "standings", Body: p})
		return
	}
	card := &r.lab.Scorecard
	p.Title, p.Version = cmp.Or(card.Title, "Standings"), card.Version
	p.Level, p.Vary, p.Draws = fmt.Sprintf("%.3g %%", 100*card.Level), fmt.Sprintf("%.0f %%", 100*card.Vary), card.Draws
	q := question{of: r, against: req.URL.Query().Get("against"), weights: c.weights(&p, r, req)}
	if _, err := time.Parse(time.DateOnly, q.against); err != nil {
		q.against = ""
	}
	p.Against = q.against
	for i := range r.rows {
		if n := len(p.Days); n == 0 || p.Days[n-1].Value != r.rows[i].Day {
			p.Days = append(p.Days, choice{r.rows[i].Day, dayWords(r.rows[i].Day), r.rows[i].Day == q.against})
		}
	}
	if len(p.Days) > 0 {
		p.Days = p.Days[1:] // against the last day there is nothing to compare
	}
	a, ok := c.ranks.get(req.Context(), q)
	switch {
	case !ok:
		p.Computing, p.Refresh = true, true
	case a.err != nil:
		p.Err = a.err.Error()
	default:
		p.fill(a, c.day(r))
		p.Sums = []pair{{"scorecard and procedures SHA-256", a.standings.Campaign.Lab.RulesSum()},
			{"sessions, facts and settings SHA-256", a.standings.Campaign.FactsSum()},
			{"analysed under", "the settings stored in each session"}, {"computed by", c.tool}}
	}
	c.site.render(w, req, http.StatusOK, "standings.html", View{Title: p.Title, At: "/standings", Name: "standings", Body: p})
}

// weights reads the weights that are asked for; nil: those of the scorecard.
func (c *Catalogue) weights(p *standingsPage, r *reading, req *http.Request) map[string]float64 {
	out := map[string]float64{}
	sum := 0.0
	for _, k := range r.lab.Scorecard.Categories {
		if v, err := strconv.ParseFloat(req.URL.Query().Get("w."+k.ID), 64); err == nil && v > 0 && v <= 1e6 && v != k.Weight {
			out[k.ID] = v
			p.Varied = true
			sum += v
		} else {
			sum += k.Weight
		}
	}
	for _, k := range r.lab.Scorecard.Categories {
		v, ok := out[k.ID]
		if !ok {
			v = k.Weight
		}
		p.Categories = append(p.Categories, weightPage{k.ID, cmp.Or(k.Title, k.ID), fmt.Sprintf("%g", v), fmt.Sprintf("%g", k.Weight), fmt.Sprintf("%.0f %%", 100*v/sum)})
	}
	if !p.Varied {
		return nil
	}
	return out
}

func (p *standingsPage) fill(a ranking, day string) {
	s := a.standings
	p.Alone = report.AloneWords(s)
	p.Once = report.OnceWords(s)
	ranked := 0
	for _, l := range s.Lines {
		if l.Ranked {
			ranked++
		}
	}
	for _, l := range s.Lines {
		x := lineOf(l, day, ranked)
		p.Starred = p.Starred || x.Starred
		p.OneSample = p.OneSample || l.Unit.Unit.Samples == 1
		p.Lines = append(p.Lines, x)
	}
	p.tests(s, day)
	p.remarks(s, day)
	p.robust(s, day)
	for _, m := range a.moves {
		p.Moves = append(p.Moves, moveOf(m, s.Campaign, day))
	}
}

func lineOf(l score.Standing, day string, ranked int) linePage {
	x := linePage{Place: "-", Shown: l.Unit.Unit.Shown(day), ID: l.Unit.Unit.ID, Points: report.PointsWords(l.Overall), Half: report.PointsWords(l.Half),
		Groups: l.Groups, Failed: len(l.Failed), Missing: len(l.Missing), MakerSupplied: l.Unit.Unit.MakerSupplied, Samples: l.Unit.Unit.Samples,
		Range: "-", First: "-", Simulated: "-", WeightsVaried: "-"}
	if l.Place > 0 {
		x.Place, x.Starred = fmt.Sprint(l.Place), len(l.Missing) > 0
	}
	if l.Range.Best > 0 && l.Half.OK {
		x.Range = places(l.Range.Best, l.Range.Worst)
		x.RangeBar = report.RangeBar(l, ranked)
	}
	if l.Overall.OK {
		x.PointsBar = report.PointsBar(l.Overall.V, l.Half)
	}
	for _, k := range l.Categories {
		x.Categories = append(x.Categories, report.PointsWords(k.Points))
	}
	if l.Ranked {
		x.First = fmt.Sprintf("%.0f %%", 100*l.Stability.Top1)
		x.Simulated, x.WeightsVaried = places(l.Stability.Low, l.Stability.High), places(l.Weights.Low, l.Weights.High)
	}
	return x
}

func places(a, b int) string {
	if a == b {
		return fmt.Sprint(a)
	}
	return fmt.Sprintf("%d to %d", a, b)
}

func (p *standingsPage) remarks(s *score.Standings, day string) {
	for _, l := range s.Lines {
		say := func(text string) { p.Remarks = append(p.Remarks, remark{l.Unit.Unit.Shown(day), text}) }
		if l.Unit.Unit.MakerSupplied {
			say("the sample came from its maker")
		}
		seen := map[string]bool{}
		for _, ts := range l.Tests {
			if ts.Outcome == score.Failed {
				say(report.FailedWords(ts, report.PlainWords(ts.Why)))
			}
			if seen[ts.Test.Procedure] {
				continue
			}
			seen[ts.Test.Procedure] = true
			for _, run := range ts.Aside {
				if run.Status == score.Void {
					say(fmt.Sprintf("%s: run of %s void (%s): %s", ts.Title(), run.Day(), run.Cause, run.Why))
				}
			}
		}
		for _, m := range l.Missing {
			say(report.PlainWords(m))
		}
	}
	p.Left = s.Campaign.Loose
}

func (p *standingsPage) robust(s *score.Standings, day string) {
	card := &s.Campaign.Lab.Scorecard
	for _, o := range s.Without {
		var of []string
		for i, l := range s.Lines {
			if n := o.Places[i]; n > 0 && n != l.Place {
				of = append(of, fmt.Sprintf("%s %d to %d", l.Unit.Unit.Shown(day), l.Place, n))
			}
		}
		x := robustPage{Test: o.Test, Text: "no place changes"}
		if i := slices.IndexFunc(card.Tests, func(t config.Test) bool { return t.ID == o.Test }); i >= 0 {
			x.Test = cmp.Or(card.Tests[i].Title, o.Test)
		}
		if len(of) > 0 {
			x.Text = strings.Join(of, ", ")
		}
		p.Robust = append(p.Robust, x)
	}
}
