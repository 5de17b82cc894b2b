package pages

import (
	"cmp"
	"html/template"
	"net/http"
	"path/filepath"
	"slices"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/session"
)

// load reads the stored analysis of a record.
func (c *Catalogue) load(rec *rig.Record) *rig.Result {
	a, err := session.LoadAnalysis(filepath.Join(c.dir, rec.Session), session.KeyOf(rec.Settings))
	if err != nil {
		return &rec.Result // without states; the next reading says what is wrong
	}
	return &a.Result
}

// sessionPage is one session.
type sessionPage struct {
	Name, Day, Clock, Zone, Bench, Tool string
	Heading                             string
	Origin                              string
	Newer, Older                        string // names of the neighbours in the list
	Patterns                            template.HTML
	Runs                                []runPage
	Weighings                           []weighingPage
	Checks                              []checkPage
	Remarks                             []remarkPage
	Corrections                         []correctionPage
	Warnings                            []rig.Warning
	Loose                               string
	Sums                                []pair
	Files                               []session.FileEntry
	ByHand                              bool
	Waiting                             bool     // for its analysis
	Heard                               bool     // there is sound
	Beside                              []choice // sessions to lay beside it
	Other                               *besidePage
	Units, Procedures                   []choice // to correct to
	Measures                            []choice
	Keys                                []keyPage // what an analysis can be asked to do otherwise
	DetectText                          string
	State
}

type pair struct{ Name, Value string }

// besidePage is a session laid beside this one.
type besidePage struct {
	Name, Heading string
}

type weighingPage struct {
	Fact, Run                                int
	At, What, Net, Gross, Tare, Drained, How string
	Who, Note, Corrected                     string
	From                                     string // where a tare is from that was not given with it
	NetG                                     rig.Figure
	Withdrawn                                bool
}

type remarkPage struct {
	Fact          int
	At, Text, Who string
	AtS           float64
}

type correctionPage struct {
	Fact, Run                     int
	Target, Words, Who, Why, When string
	Back                          string // what takes it back; "": it is no longer in force, or cannot be
}

type keyPage struct{ Key, Value, Range, Why string }

// Session serves one session.
func (c *Catalogue) Session(w http.ResponseWriter, req *http.Request) {
	name := req.PathValue("name")
	r, behind := c.current(req.Context())
	if r == nil {
		c.site.render(w, req, http.StatusOK, "session.html", View{Title: name, At: "/sessions", Name: "review", Body: sessionPage{Name: name, State: c.state(r, behind)}})
		return
	}
	rec := r.record(name)
	if rec == nil {
		c.notYet(w, req, r, name)
		return
	}
	p := c.page(r, rec)
	p.State = c.state(r, behind)
	if other := r.record(req.URL.Query().Get("beside")); other != nil && other != rec {
		p.Other = &besidePage{Name: other.Session}
		for _, x := range r.rows {
			if x.Name == other.Session {
				p.Other.Heading = x.Day + " " + x.Clock + ", " + x.Runs[0].Shown + ", " + x.Runs[0].Title
			}
		}
	}
	for i := range p.Beside {
		p.Beside[i].Chosen = p.Other != nil && p.Other.Name == p.Beside[i].Value
	}
	c.site.render(w, req, http.StatusOK, "session.html", View{Title: p.Heading, At: "/sessions", Name: "review", Body: p})
}

// notYet shows what there is of a session that waits for its analysis: its recordings, and what people put on
// record. Of one that cannot be shown it says why.
func (c *Catalogue) notYet(w http.ResponseWriter, req *http.Request, r *reading, name string) {
	for _, s := range r.skipped {
		if s.Session == name {
			c.site.refuse(w, req, http.StatusConflict, "This session cannot be reviewed now: "+c.whySkipped(s))
			return
		}
	}
	if !slices.ContainsFunc(r.lacking, func(l lacking) bool { return l.name == name }) {
		c.site.refuse(w, req, http.StatusNotFound, "There is no session of that name.")
		return
	}
	b, err := session.OpenFacts(filepath.Join(c.dir, name))
	if err != nil {
		c.site.refuse(w, req, http.StatusConflict, "This session cannot be reviewed: "+err.Error())
		return
	}
	m := b.Manifest
	rec := b.Record()
	k := unplaced(r, &rec, c.day(r))
	p := sessionPage{Name: name, Bench: m.Bench, Tool: m.Tool, Origin: report.OriginWords(m.Origin), Heading: k.Shown + ", " + k.Title,
		Day: dayWords(rec.Day()), Clock: rec.Clock(), Zone: rec.Zone(), Warnings: b.Warnings, Waiting: true, State: c.state(r, false)}
	p.facts(c, &rec, nil)
	p.sums(c.dir, &rec, r.lab)
	c.site.render(w, req, http.StatusOK, "session.html", View{Title: p.Heading, At: "/sessions", Name: "review", Body: p})
}

func (c *Catalogue) page(r *reading, rec *rig.Record) sessionPage {
	whole := c.result(rec)
	p := sessionPage{Name: rec.Session, Bench: rec.Bench, Tool: rec.Tool, Patterns: report.StripPatterns, ByHand: rec.Origin == rig.ByHand,
		Origin: report.OriginWords(rec.Origin), Warnings: append(slices.Clone(rec.Warnings), missingFrom(rec.Warnings, whole.Warnings)...)}
	var of *row
	for i := range r.rows {
		if r.rows[i].Name == rec.Session {
			of = &r.rows[i]
			if i > 0 {
				p.Newer = r.rows[i-1].Name
			}
			if i+1 < len(r.rows) {
				p.Older = r.rows[i+1].Name
			}
		}
	}
	p.Day, p.Clock, p.Zone, p.Loose = dayWords(of.Day), of.Clock, of.Zone, of.Loose
	p.Heading = of.Runs[0].Shown + ", " + of.Runs[0].Title
	runs := r.runs(rec.Session)
	for i, run := range runs {
		p.Runs = append(p.Runs, runPageOf(r, run, of.Runs[i], whole, len(runs)))
	}
	p.facts(c, rec, runs)
	p.sums(c.dir, rec, r.lab)
	p.beside(r, of)
	p.choices(r)
	p.keys(c.dir, rec)
	return p
}

// missingFrom returns the warnings of the second list that the first does not hold.
func missingFrom(have, more []rig.Warning) []rig.Warning {
	var out []rig.Warning
	for _, w := range more {
		if !slices.Contains(have, w) {
			out = append(out, w)
		}
	}
	return out
}

// sums lists what proves the session, and what it was computed under.
func (p *sessionPage) sums(dir string, rec *rig.Record, lab *config.Lab) {
	add := func(name, v string) { p.Sums = append(p.Sums, pair{name, cmp.Or(v, "none")}) }
	add("session as sealed (manifest SHA-256)", rec.Sealed)
	add("with all facts added since (chain)", rec.Chain)
	add("settings of the analysis (SHA-256)", rec.Settings)
	add("rules: scorecard and procedures (SHA-256)", lab.RulesSum())
	if b, err := session.OpenFacts(filepath.Join(dir, rec.Session)); err == nil {
		p.Files = b.Manifest.Files
		p.Heard = slices.ContainsFunc(b.Manifest.Streams, func(e session.StreamEntry) bool { return e.Channel == rig.Microphone })
	}
}

// beside lists sessions to lay beside this one: those of the same procedure first, newest first.
func (p *sessionPage) beside(r *reading, of *row) {
	const most = 80
	for _, same := range []bool{true, false} {
		for i := range r.rows {
			x := &r.rows[i]
			if x == of || len(p.Beside) >= most || len(x.Runs) == 0 || x.key == "" || (x.Runs[0].Procedure == of.Runs[0].Procedure) != same {
				continue
			}
			p.Beside = append(p.Beside, choice{Value: x.Name, Words: x.Day + " " + x.Clock + ", " + x.Runs[0].Shown + ", " + x.Runs[0].Title})
		}
	}
}

// choices lists what can be corrected to what.
func (p *sessionPage) choices(r *reading) {
	for i := range r.lab.Units {
		p.Units = append(p.Units, choice{Value: r.lab.Units[i].ID, Words: r.lab.Units[i].ID})
	}
	for i := range r.lab.Procedures {
		p.Procedures = append(p.Procedures, choice{Value: r.lab.Procedures[i].ID, Words: cmp.Or(r.lab.Procedures[i].Title, r.lab.Procedures[i].ID)})
	}
	for _, m := range rig.Measures {
		p.Measures = append(p.Measures, choice{Value: m.Name, Words: m.Name})
	}
}
