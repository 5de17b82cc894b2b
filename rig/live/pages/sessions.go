package pages

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/rig/report"
	"quern/rig/session/index"
)

// pageRows is how many sessions a page of the list holds.
const pageRows = 50

// filter is what the list is asked for. An empty field asks for all.
type filter struct {
	Query, Unit, Procedure, Day, Verdict string
}

func filterOf(q url.Values) filter {
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	return filter{get("q"), get("unit"), get("procedure"), get("day"), get("verdict")}
}

// link returns the address of a page of the list under this filter.
func (f filter) link(page int) string {
	q := url.Values{}
	for _, x := range []struct{ name, v string }{{"q", f.Query}, {"unit", f.Unit}, {"procedure", f.Procedure}, {"day", f.Day}, {"verdict", f.Verdict}} {
		if x.v != "" {
			q.Set(x.name, x.v)
		}
	}
	if page > 1 {
		q.Set("page", strconv.Itoa(page))
	}
	if len(q) == 0 {
		return "/sessions"
	}
	return "/sessions?" + q.Encode()
}

// holds tells whether a session is asked for. All words of a search must be found.
func (f filter) holds(x *row) bool {
	if f.Day != "" && x.Day != f.Day {
		return false
	}
	for _, w := range strings.Fields(strings.ToLower(f.Query)) {
		if !strings.Contains(x.found, w) {
			return false
		}
	}
	return slices.ContainsFunc(x.Runs, func(k runRow) bool {
		return (f.Unit == "" || k.Unit == f.Unit) && (f.Procedure == "" || k.Procedure == f.Procedure) &&
			(f.Verdict == "" || k.Verdict == f.Verdict || f.Verdict == "close" && k.Close)
	})
}

// choice is an entry of a list to choose from.
type choice struct {
	Value, Words string
	Chosen       bool
}

// dayRows is the sessions of a day.
type dayRows struct {
	Day   string
	Words string // Monday, 2 March 2026
	Rows  []shownRow
}

type shownRow struct {
	Name, Clock string
	Runs        []shownRun
}

type shownRun struct {
	runRow
	First bool // of its session
	Of    int  // how many the session has
	Strip template.HTML
}

// sessionsPage is the list.
type sessionsPage struct {
	Filter                            filter
	Units, Procedures, Days, Verdicts []choice
	Groups                            []dayRows
	Found, All                        int
	Page, Pages                       int
	Newer, Older                      string // addresses; "": there is none
	Patterns                          template.HTML
	Skipped                           []index.Skipped
	Zone                              string   // of which clock the times are
	Waiting                           []string // still to be analysed
	Bench                             bool     // there is one, whose sessions these are
	State
}

// State is what stands above every page that shows what is read in the background.
type State struct {
	Progress Progress
	Behind   bool   // something newer is being read
	Wrong    string // with the lab or the folder
	Nothing  bool   // nothing was read yet
}

func (c *Catalogue) state(r *reading, behind bool) State {
	s := State{Progress: c.Working(), Behind: behind, Nothing: r == nil}
	if r != nil {
		s.Wrong = r.wrong
	}
	return s
}

// Sessions serves the list of all sessions.
func (c *Catalogue) Sessions(w http.ResponseWriter, req *http.Request) {
	r, behind := c.current(req.Context())
	p := sessionsPage{Filter: filterOf(req.URL.Query()), Page: 1, Pages: 1, Patterns: report.StripPatterns, State: c.state(r, behind), Bench: c.site.opts.Engine != nil}
	if r != nil {
		c.list(&p, r, req.URL.Query().Get("page"))
	}
	c.site.render(w, req, http.StatusOK, "sessions.html", View{Title: "Sessions", At: "/sessions", Name: "sessions", Body: p})
}

func (c *Catalogue) list(p *sessionsPage, r *reading, page string) {
	p.All, p.Zone = len(r.rows), r.zoneWords()
	for _, s := range r.skipped {
		p.Skipped = append(p.Skipped, index.Skipped{Session: s.Session, Why: c.whySkipped(s)})
	}
	for _, l := range r.lacking {
		p.Waiting = append(p.Waiting, l.name)
	}
	p.choices(r)
	var found []*row
	for i := range r.rows {
		if p.Filter.holds(&r.rows[i]) {
			found = append(found, &r.rows[i])
		}
	}
	p.Found = len(found)
	p.Pages = max(1, (len(found)+pageRows-1)/pageRows)
	if n, err := strconv.Atoi(page); err == nil {
		p.Page = min(max(n, 1), p.Pages)
	}
	if p.Page > 1 {
		p.Newer = p.Filter.link(p.Page - 1)
	}
	if p.Page < p.Pages {
		p.Older = p.Filter.link(p.Page + 1)
	}
	from := (p.Page - 1) * pageRows
	for _, x := range found[from:min(from+pageRows, len(found))] {
		if n := len(p.Groups); n == 0 || p.Groups[n-1].Day != x.Day {
			p.Groups = append(p.Groups, dayRows{Day: x.Day, Words: dayWords(x.Day)})
		}
		g := &p.Groups[len(p.Groups)-1]
		g.Rows = append(g.Rows, c.shown(r, x))
	}
}

func (c *Catalogue) shown(r *reading, x *row) shownRow {
	out := shownRow{Name: x.Name, Clock: x.Clock}
	rec := r.record(x.Name)
	whole := c.result(rec)
	for i, k := range x.Runs {
		s := shownRun{runRow: k, First: i == 0, Of: len(x.Runs)}
		if n := k.N - 1; n < len(whole.Runs) {
			s.Strip = report.Strip(&whole.Runs[n], k.LimitS)
		}
		out.Runs = append(out.Runs, s)
	}
	return out
}

// choices lists what there is to choose from: only what some session has.
func (p *sessionsPage) choices(r *reading) {
	units, procedures, days, verdict := map[string]string{}, map[string]string{}, []string{}, map[string]bool{}
	for i := range r.rows {
		x := &r.rows[i]
		if len(days) == 0 || days[len(days)-1] != x.Day {
			days = append(days, x.Day)
		}
		for _, k := range x.Runs {
			units[k.Unit], procedures[k.Procedure], verdict[k.Verdict] = k.Shown, k.Title, true
			if k.Close {
				verdict["close"] = true
			}
		}
	}
	of := func(m map[string]string, chosen string) []choice {
		var out []choice
		for id, words := range m {
			out = append(out, choice{id, words, id == chosen})
		}
		slices.SortFunc(out, func(a, b choice) int { return strings.Compare(a.Value, b.Value) })
		return out
	}
	p.Units, p.Procedures = of(units, p.Filter.Unit), of(procedures, p.Filter.Procedure)
	for _, d := range days {
		p.Days = append(p.Days, choice{d, dayWords(d), d == p.Filter.Day})
	}
	for _, v := range verdicts {
		if verdict[v.ID] {
			p.Verdicts = append(p.Verdicts, choice{v.ID, v.Words, v.ID == p.Filter.Verdict})
		}
	}
}

// dayWords writes a day out.
func dayWords(day string) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return t.Format("Monday, 2 January 2006")
}
