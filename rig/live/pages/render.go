package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
	"quern/rig/live/gate"
	"quern/rig/report"
)

//go:embed *.html
var sources embed.FS

// sheets are the templates of the pages by the names of their files. Each is layout.html and the parts
// (part_*.html) with its own file, which defines "main", and may define "head".
type sheets map[string]*template.Template

func (s *Site) parse() (sheets, error) {
	base, err := template.New("layout.html").Funcs(s.funcs()).ParseFS(sources, "layout.html")
	if err != nil {
		return nil, err
	}
	entries, err := sources.ReadDir(".")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "part_") {
			if base, err = base.ParseFS(sources, e.Name()); err != nil {
				return nil, err
			}
		}
	}
	all := sheets{}
	for _, e := range entries {
		n := e.Name()
		if n == "layout.html" || strings.HasPrefix(n, "part_") {
			continue
		}
		t, err := base.Clone()
		if err == nil {
			t, err = t.ParseFS(sources, n)
		}
		if err != nil {
			return nil, err
		}
		all[n] = t
	}
	return all, nil
}

func (s *Site) funcs() template.FuncMap {
	return template.FuncMap{
		"asset":    s.assets.url,
		"figure":   shown,
		"clock":    clock,
		"together": report.Together,
	}
}

// absentSign stands where nothing was measured.
const absentSign = "\u2013"

// shown is a figure with so many decimals; a dash where it is absent.
func shown(f rig.Figure, decimals int) string {
	if !f.OK {
		return absentSign
	}
	return strconv.FormatFloat(f.V, 'f', decimals, 64)
}

// clock is a time as m:ss, cut off, as clocks show it.
func clock(f rig.Figure) string {
	if !f.OK {
		return absentSign
	}
	t := int(max(0, f.V))
	return fmt.Sprintf("%d:%02d", t/60, t%60)
}

// View is what a page hands to its template.
type View struct {
	Title string
	At    string // address of the page in the navigation: "/", "/air", "/sessions", "/standings"; "": none
	Name  string // of its own style and script, if they exist: NAME.css, NAME.js
	Bare  bool   // nothing but the page itself: to be filmed
	Class string // of the body
	Body  any    // the page's own; .Body in the template
}

// frame is what layout.html sees.
type frame struct {
	View
	Theme   string // "light", "dark"; "": the device's
	Back    string // this page, to come back to
	Visitor gate.Visitor
	Tool    string
	Nav     []link
}

type link struct{ At, Words string }

// navOf returns the pages that one goes to by themselves, of those that exist.
func navOf(list []page) (nav []link) {
	for _, l := range links {
		if slices.ContainsFunc(list, func(p page) bool { return p.pattern == "GET "+l.At || p.pattern == "GET "+l.At+"{$}" }) {
			nav = append(nav, l)
		}
	}
	return nav
}

var links = []link{{"/", "Bench"}, {"/air", "On camera"}, {"/sessions", "Sessions"}, {"/standings", "Standings"}}

// MayAct says whether buttons that change something are to be shown.
func (f frame) MayAct() bool { return f.Visitor.Role >= gate.Operator }

// Paired says that this browser was let in by a code, and can leave.
func (f frame) Paired() bool { return f.Visitor.Firm }

// Remote says that this browser would have to pair to act.
func (f frame) Remote() bool { return f.Visitor.Role < gate.Operator }

// render answers with a page. It is made whole first: an error in it leaves no half.
func (s *Site) render(w http.ResponseWriter, r *http.Request, status int, sheet string, v View) {
	f := frame{View: v, Theme: themeOf(r), Back: r.URL.RequestURI(), Visitor: gate.Who(r.Context()), Tool: s.opts.Tool, Nav: s.nav}
	var b bytes.Buffer
	t, ok := s.sheets[sheet]
	err := fmt.Errorf("there is no template %s", sheet)
	if ok {
		err = t.ExecuteTemplate(&b, "layout.html", f)
	}
	if err != nil {
		s.opts.Log.Error("a page cannot be made", "page", r.URL.Path, "err", err)
		http.Error(w, "this page cannot be made: the daemon's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // whoever has gone does not need it
}

// refuse tells what stands against a request: as a page to who reads pages, else as a line.
func (s *Site) refuse(w http.ResponseWriter, r *http.Request, status int, text string) {
	if !strings.Contains(r.Header.Get("Accept"), "text/html") {
		http.Error(w, text, status)
		return
	}
	s.render(w, r, status, "error.html", View{Title: http.StatusText(status), Body: struct {
		Status int
		Text   string
	}{status, text}})
}
