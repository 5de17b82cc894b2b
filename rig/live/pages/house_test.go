package pages

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/acquire/simulated"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/live/gate"
	"quern/rig/live/stream"
)

// house is a daemon on a simulated bench, with its pages.
type house struct {
	*Site
	t      *testing.T
	gate   *gate.Gate
	engine *live.Engine
	stop   func()

	mu   sync.Mutex
	told map[rig.Kind]time.Time // when the engine told it
}

// newHouse builds one; with run its bench turns, which wants a bubble.
func newHouse(t *testing.T, o gate.Options, run bool) *house {
	t.Helper()
	d, err := simulated.New(time.Now, 1, func(seed uint64) sim.Scenario {
		sc, _ := sim.Named("plain", seed)
		sc.Sound.RateHz, sc.Current.RateHz = 12000, 4000
		return sc
	})
	if err != nil {
		t.Fatal(err)
	}
	sup, err := acquire.New(time.Now, time.Now(), []acquire.Source{{Device: d, SilentS: 2}})
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, told: map[rig.Kind]time.Time{}}
	kick := make(chan struct{}, 1)
	dir := t.TempDir()
	log := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelError}))
	h.engine, err = live.New(sup, live.Options{Dir: dir, Setup: d.Setup(), Log: log,
		Told: func(x live.Told) {
			h.mu.Lock()
			defer h.mu.Unlock()
			if _, ok := h.told[x.Event.Kind]; !ok {
				h.told[x.Event.Kind] = time.Now()
			}
		},
		Published: func() {
			select {
			case kick <- struct{}{}:
			default:
			}
		}})
	if err != nil {
		t.Fatal(err)
	}
	o.Log = log
	if h.gate, err = gate.New(o); err != nil {
		t.Fatal(err)
	}
	hub := stream.New()
	if h.Site, err = New(Options{Engine: h.engine, Setup: d.Setup(), Dir: dir, Gate: h.gate, Hub: hub, Tool: "quern test", Log: log}, kick); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var parts sync.WaitGroup
	if run {
		parts.Go(func() { sup.Run(ctx) })
		parts.Go(func() {
			if err := h.engine.Run(ctx); err != nil {
				t.Error(err)
			}
		})
		parts.Go(func() {
			if err := h.Run(ctx); err != nil {
				t.Error(err)
			}
		})
	}
	h.stop = sync.OnceFunc(func() {
		hub.Close()
		cancel()
		parts.Wait()
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	})
	if !run {
		t.Cleanup(h.stop)
	}
	return h
}

// ask sends one request. A body that is a form says so.
func (h *house) ask(peer, method, target, body string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://192.0.2.1:8750"+target, strings.NewReader(body))
	r.RemoteAddr = peer
	if peer == onMachine {
		r.Host = "127.0.0.1:8750"
	}
	if body != "" && !strings.HasPrefix(body, "{") {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func browser(r *http.Request) { r.Header.Set("Accept", "text/html,application/xhtml+xml,*/*;q=0.8") }

func with(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }
