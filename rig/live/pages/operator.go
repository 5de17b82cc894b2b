package pages

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/live/gate"
	"quern/rig/live/guide"
)

// operatorPages are the operator's page, what it asks for, and what its buttons do.
func (s *Site) operatorPages() []page {
	return []page{
		watch("GET /{$}", s.operator),
		watch("GET /guide", s.guideNow),
		operate("POST /do", s.do),
	}
}

// procedure returns the procedure in force, by what the engine shows.
func (s *Site) procedure(now live.Snapshot) config.Procedure {
	if s.opts.Lab != nil {
		if p := s.opts.Lab.Procedure(now.Procedure); p != nil {
			return *p
		}
	}
	if p := s.opts.Setup.Procedure; p.ID == now.Procedure {
		return p
	}
	return config.Procedure{ID: now.Procedure, TimeLimitS: now.LimitS}
}

// benchNow is the bench and the work at it, as a page shows it.
type benchNow struct {
	Guide      guide.Guide `json:"guide"`
	Undo       string      `json:"undo"` // what would be taken back; "": nothing
	Inspecting bool        `json:"inspecting"`
	MayAct     bool        `json:"may_act"`
	Clock      string      `json:"clock"` // motor-on or elapsed
	ClockS     rig.Figure  `json:"clock_s"`
	LimitS     float64     `json:"limit_s"`
	StepsHTML  string      `json:"steps_html,omitempty"` // as the page shows them
	OffersHTML string      `json:"offers_html,omitempty"`
}

func (s *Site) benchNow(r *http.Request) (benchNow, live.Snapshot) {
	now := s.opts.Engine.Now()
	p := s.procedure(now)
	in := s.bench.observe(now, &p)
	out := benchNow{Guide: guide.Steps(p, in), MayAct: gate.Who(r.Context()).Role >= gate.Operator, Clock: p.Clock, ClockS: in.ClockS, LimitS: p.TimeLimitS}
	if u, ok := s.bench.last(); ok {
		out.Undo = u.what
	}
	s.bench.mu.Lock()
	out.Inspecting = s.bench.inspecting
	s.bench.mu.Unlock()
	return out, now
}

func (s *Site) guideNow(w http.ResponseWriter, r *http.Request) {
	var b operatorBody
	b.benchNow, b.Now = s.benchNow(r)
	b.vessels(s.opts.Setup)
	for part, to := range map[string]*string{"steps": &b.StepsHTML, "offers": &b.OffersHTML} {
		var html strings.Builder
		if err := s.sheets["operator.html"].ExecuteTemplate(&html, part, b); err != nil {
			s.opts.Log.Error("a part of the page cannot be made", "part", part, "err", err)
		}
		*to = html.String()
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(b.benchNow) // whoever has gone does not need it
}

// operatorBody is what the template of the operator's page sees.
type operatorBody struct {
	benchNow
	Now        live.Snapshot
	Zone       string // of the bench's wall clock
	Filming    bool
	Wrong      string // why the last act came to nothing
	Step       int    // number of the one to do now
	Vessels    []config.Vessel
	Vessel     string // that was used last for what is weighed now
	Units      []choice
	Procedures []choice
	Sources    []sourceRow
	Events     []eventRow
}

// sourceRow is a source in words.
type sourceRow struct{ Channel, Words, Device, Note string }

// eventRow is an event in words.
type eventRow struct{ At, Words, Evidence string }

const filmingCookie = "quern-filming"

func (s *Site) operator(w http.ResponseWriter, r *http.Request) {
	s.showOperator(w, r, http.StatusOK, "")
}

func (s *Site) showOperator(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	b := operatorBody{Wrong: wrong, Zone: s.opts.Setup.Bench.TimeZone}
	b.benchNow, b.Now = s.benchNow(r)
	if c, err := r.Cookie(filmingCookie); err == nil && c.Value == "1" {
		b.Filming = true
	}
	b.Step = 1 + slices.IndexFunc(b.Guide.Steps, func(x guide.Step) bool { return x.State == guide.Now })
	b.choices(s.opts.Lab, s.bench.today())
	b.vessels(s.opts.Setup)
	for _, x := range b.Now.Sources {
		b.Sources = append(b.Sources, sourceRow{string(x.Channel), sourceWords(x), x.Device, strings.TrimSpace(x.Reason + " " + x.Note)})
	}
	for _, e := range slices.Backward(b.Now.Events) {
		b.Events = append(b.Events, eventRow{clock(e.AtS), e.Kind.Words(), e.Evidence})
	}
	class := "bench"
	if b.Filming {
		class += " filming"
	}
	s.render(w, r, status, "operator.html", View{Title: "Bench", At: "/", Name: "operator", Class: class, Body: b})
}

// choices lists the units and procedures of the lab. In filming mode only blind codes stand there.
func (b *operatorBody) choices(l *config.Lab, day string) {
	if l == nil {
		return
	}
	for i := range l.Units {
		u := &l.Units[i]
		words := u.Shown(day)
		if b.Filming {
			words = u.ID
		}
		b.Units = append(b.Units, choice{u.ID, words, u.ID == b.Now.Unit})
	}
	for _, p := range l.Procedures {
		words := p.Title
		if words == "" {
			words = p.ID
		}
		b.Procedures = append(b.Procedures, choice{p.ID, words, p.ID == b.Now.Procedure})
	}
}

// vessels lists in what the next thing can be weighed.
func (b *operatorBody) vessels(set config.Setup) {
	b.Vessels = set.Bench.Vessels
	b.Vessel = lastVessel(b.Now, b.Guide.Offer.Role)
	if b.Vessel != "" {
		return
	}
	// A vessel that is named after what is weighed is meant for it; a sieve is meant for nothing else.
	for _, v := range b.Vessels {
		if strings.Contains(v.ID, string(b.Guide.Offer.Role)) {
			b.Vessel = v.ID
			return
		}
	}
	for _, v := range b.Vessels {
		if !strings.Contains(v.ID, "sieve") {
			b.Vessel = v.ID
			return
		}
	}
}

// lastVessel is in what something of a role was weighed last.
func lastVessel(s live.Snapshot, role rig.Role) string {
	if s.Scale != nil && s.Scale.Expect != nil && s.Scale.Expect.Role == role && s.Scale.Expect.Vessel != "" {
		return s.Scale.Expect.Vessel
	}
	for _, w := range slices.Backward(weighings(s)) {
		if w.Role == role {
			return w.Vessel
		}
	}
	return ""
}

func sourceWords(x live.SourceNow) string {
	words := map[string]string{"starting": "waiting for it", "live": "live", "late": "late", "lost": "lost"}[string(x.State)]
	if words == "" {
		words = string(x.State)
	}
	if x.AgeS.OK && x.AgeS.V >= 1 {
		words += ", last " + shown(x.AgeS, 0) + " s ago"
	}
	return words
}

// StateWords is the motor's state in a word.
func (b operatorBody) StateWords() string { return b.Now.State.Words() }

// Limit is the procedure's limit as m:ss.
func (b operatorBody) Limit() string { return seconds(b.LimitS) }

// Used is what of the limit has run.
func (b operatorBody) Used() string { return seconds(b.ClockS.V) }

// Left is what of the limit is left.
func (b operatorBody) Left() string {
	if !b.ClockS.OK {
		return b.Limit()
	}
	return seconds(max(0, b.LimitS-b.ClockS.V))
}

// seconds is a time as m:ss.
func seconds(s float64) string { return clock(rig.Fig(s)) }

// StepWords tells how far a step is.
func (b operatorBody) StepWords(st guide.Status) string {
	return map[guide.Status]string{guide.Done: "done", guide.Now: "now", guide.Later: "", guide.Skipped: "left out"}[st]
}

// Percent is how much of a count has run.
func (b operatorBody) Percent(c *guide.Count) float64 { return min(100, 100*c.AtS/c.OfS) }

// offerView is an offer with what its form needs.
type offerView struct {
	guide.Offer
	Main    bool
	Vessels []config.Vessel
	Vessel  string
}

// Offers are the buttons of the step to do now, the main one first.
func (b operatorBody) Offers() []offerView {
	var out []offerView
	for i, o := range append([]guide.Offer{b.Guide.Offer}, b.Guide.Also...) {
		if o.Act == guide.None {
			continue
		}
		v := offerView{Offer: o, Main: i == 0}
		if o.Act == guide.Weigh || o.Act == guide.Await {
			v.Vessels, v.Vessel = b.Vessels, b.Vessel
		}
		out = append(out, v)
	}
	return out
}

// Time is a time in seconds as m:ss.
func (b operatorBody) Time(s float64) string { return seconds(s) }
