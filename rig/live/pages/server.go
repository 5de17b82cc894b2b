// Package pages is what a browser sees of the daemon: the bench now, what was recorded, what came of it. Every
// page is made here and says what it has to say without a script; scripts keep it fresh.
package pages

import (
	"context"
	"log/slog"
	"net/http"
	"slices"
	"time"

	"quern/config"
	"quern/rig/live"
	"quern/rig/live/gate"
	"quern/rig/live/stream"
)

// Options is what the pages are made of.
type Options struct {
	Engine *live.Engine // nil: there is no bench here, only what was recorded
	Lab    *config.Lab  // nil: the bench is simulated
	LabDir string       // from where Lab was read; "": the bench is simulated
	Setup  config.Setup // in force when the daemon began
	Dir    string       // folder of the sessions
	Gate   *gate.Gate
	Hub    *stream.Hub
	Zone   string // this machine's time zone, for a lab that names none; "": UTC
	Tool   string // the program and its version
	Log    *slog.Logger
}

// Site answers every request to the daemon.
type Site struct {
	opts    Options
	assets  assets
	sheets  sheets
	kick    <-chan struct{}
	bench   *bench
	record  *record
	engine  http.Handler // what the engine answers by itself
	nav     []link
	handler http.Handler
}

// New returns the daemon's pages. kick tells that the engine has published something.
func New(o Options, kick <-chan struct{}) (*Site, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s := &Site{opts: o, kick: kick, bench: newBench(time.Now, o.Setup.Bench.TimeZone)}
	if o.Engine != nil {
		s.engine = o.Engine.Handler(o.Lab)
	}
	var err error
	if s.assets, err = readAssets(); err != nil {
		return nil, err
	}
	if s.sheets, err = s.parse(); err != nil {
		return nil, err
	}
	s.record = newRecord(s)
	mux := http.NewServeMux()
	list := s.pages()
	s.nav = navOf(list)
	if o.Engine == nil { // there is no bench to be seen
		s.nav = slices.DeleteFunc(s.nav, func(l link) bool { return l.At == "/" })
	}
	for _, p := range list {
		mux.Handle(p.pattern, o.Gate.Allow(p.least, s.named(p.handler)))
	}
	o.Gate.RefuseBy(s.refuse)
	s.handler = o.Gate.Handler(s.found(mux))
	return s, nil
}

func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Run keeps open pages told, and reads what was recorded, until ctx ends.
func (s *Site) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	read := make(chan error, 1)
	go func() {
		defer cancel()
		read <- s.record.run(ctx)
	}()
	if s.opts.Engine != nil {
		s.feed(ctx)
	}
	return <-read
}

// Close gives back what the pages hold, once nobody asks any more.
func (s *Site) Close() error { return s.record.close() }

// pages lists every page. What is not here does not exist.
func (s *Site) pages() []page {
	if s.opts.Engine == nil {
		return slices.Concat(s.record.pages(), s.commonPages(), s.pairingPages(), []page{
			open("GET /{$}", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/sessions", http.StatusSeeOther) }),
		})
	}
	return slices.Concat(
		s.enginePages(),
		s.operatorPages(),
		s.airPages(),
		s.record.pages(),
		s.commonPages(),
		s.pairingPages(),
	)
}

// page is an address, who may ask for it, and the answer.
type page struct {
	pattern string // of http.ServeMux
	least   gate.Role
	handler http.Handler
}

// open is for anyone, even who may not watch.
func open(pattern string, h http.HandlerFunc) page { return page{pattern, gate.Anyone, h} }

// watch is for who may see the bench.
func watch(pattern string, h http.HandlerFunc) page { return page{pattern, gate.Viewer, h} }

// operate is for who may change something.
func operate(pattern string, h http.HandlerFunc) page { return page{pattern, gate.Operator, h} }

// console is for who sits at the machine.
func console(pattern string, h http.HandlerFunc) page { return page{pattern, gate.Console, h} }

// enginePages are those without a look of their own.
func (s *Site) enginePages() []page {
	h := s.engine
	return []page{
		open("GET /health", h.ServeHTTP),
		watch("GET /status", h.ServeHTTP),
		watch("GET /metrics", h.ServeHTTP),
		operate("POST /act", s.act),
		watch("GET /stream", s.opts.Hub.ServeHTTP),
	}
}

// act hands an act to the engine, in the name of who asks.
func (s *Site) act(w http.ResponseWriter, r *http.Request) {
	v := gate.Who(r.Context())
	s.engine.ServeHTTP(w, r.WithContext(live.By(r.Context(), v.Name, v.Firm)))
}

// named refuses what cannot be the name of anything in a folder.
func (s *Site) named(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if name := r.PathValue("name"); name != "" && !gate.SafeName(name) {
			s.refuse(w, r, http.StatusNotFound, "nothing can have this name")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// found answers what no page is for as a page of its own.
func (s *Site) found(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, pattern := mux.Handler(r); pattern != "" {
			mux.ServeHTTP(w, r)
			return
		}
		told := probe{header: http.Header{}}
		mux.ServeHTTP(&told, r) // no page: this tells a method apart that is not for this address
		if told.status == http.StatusMethodNotAllowed {
			w.Header().Set("Allow", told.header.Get("Allow"))
			s.refuse(w, r, told.status, "this address is not for "+r.Method)
			return
		}
		s.refuse(w, r, http.StatusNotFound, "there is no such page")
	})
}

// probe notes a status and drops the rest.
type probe struct {
	header http.Header
	status int
}

func (p *probe) Header() http.Header         { return p.header }
func (p *probe) Write(b []byte) (int, error) { return len(b), nil }
func (p *probe) WriteHeader(status int)      { p.status = status }
