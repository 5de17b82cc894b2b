package live

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"

	"quern/acquire"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// settled starts a daemon on a simulated bench and lets it come to 20 s.
func settled(t *testing.T, change func(*Options), set func(*config.Setup)) *bench {
	d, src := simulatedSource(t, light(t, "plain"))
	s := d.Setup()
	s.Bench.Record.CloseAfter = 5
	if set != nil {
		set(&s)
	}
	b := start(t, s, change, src)
	time.Sleep(20 * time.Second)
	return b
}

// ask sends one request to the daemon's handler.
func (b *bench) ask(method, path, body string, change func(*http.Request)) (int, string) {
	r := httptest.NewRequest(method, "http://127.0.0.1:8750"+path, strings.NewReader(body))
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	b.engine.Handler(nil).ServeHTTP(w, r)
	text, _ := io.ReadAll(w.Result().Body)
	return w.Code, string(text)
}

func TestMetricsAreWellNamed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := settled(t, nil, nil)
		defer b.stop()
		code, text := b.ask("GET", "/metrics", "", nil)
		if code != 200 {
			t.Fatalf("%d %s", code, text)
		}
		problems, err := promlint.New(strings.NewReader(text)).Lint() // the same rules as promtool check metrics
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range problems {
			t.Errorf("%s: %s", p.Metric, p.Text)
		}
		for _, want := range []string{
			`quern_source_state{channel="microphone",state="live"} 1`, `quern_motor_state{state="off"}`,
			"quern_runs_total 1", "quern_session_open 1", `quern_events_total{kind="motor_start"} 1`, "quern_disk_free_bytes",
			"quern_sync_duration_seconds_count", "quern_queue_blocks", "quern_current_amperes", "quern_sound_level_decibels", "quern_mass_grams",
		} {
			if !strings.Contains(text, want) {
				t.Errorf("no %s", want)
			}
		}
	})
}

func TestStatusAndHealth(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := settled(t, nil, nil)
		defer b.stop()
		if code, text := b.ask("GET", "/health", "", nil); code != 200 {
			t.Errorf("health: %d %s", code, text)
		}
		_, text := b.ask("GET", "/status", "", nil)
		var s Snapshot
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			t.Fatal(err)
		}
		if !s.Ready || s.Session == "" || s.Unit != "unit-a" || len(s.Sources) != 3 || s.Run != 1 || !s.LevelDB.OK {
			t.Errorf("got %+v", s)
		}
		var screen strings.Builder
		if err := s.Print(&screen); err != nil || !strings.Contains(screen.String(), "motor_start") {
			t.Errorf("%v\n%s", err, &screen)
		}
	})
}

func TestAnswersToActs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := settled(t, nil, nil)
		defer b.stop()
		for name, c := range map[string]struct {
			method, path, body string
			change             func(*http.Request)
			code               int
		}{
			"an act that is none": {"POST", "/act", `{"act":"explode"}`, nil, 409},
			"a key that is none":  {"POST", "/act", `{"act":"end","note":"x"}`, nil, 400},
			"a mark without text": {"POST", "/act", `{"act":"mark"}`, nil, 400},
			"too much":            {"POST", "/act", `{"act":"mark","text":"` + strings.Repeat("x", 100<<10) + `"}`, nil, 400},
			"reading with a verb": {"POST", "/status", "", nil, 405},
			"a second session":    {"POST", "/act", `{"act":"begin"}`, nil, 409},
			"a choice in a run":   {"POST", "/act", `{"act":"choose","unit":"unit-b"}`, nil, 409},
			"a mark":              {"POST", "/act", `{"act":"mark","text":"held back piece is in"}`, nil, 200},
			"something else":      {"GET", "/../../etc/passwd", "", nil, 404},
		} {
			if code, text := b.ask(c.method, c.path, c.body, c.change); code != c.code && !(name == "something else" && code == 307) {
				t.Errorf("%s: %d %s, want %d", name, code, text, c.code)
			}
		}
	})
}

// A session begun and ended by hand holds its marks, and one is kept although nothing ran in it.
func TestActs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "plain"))
		b := start(t, d.Setup(), nil, src)
		time.Sleep(time.Second)
		ctx := context.Background()
		for _, a := range []Ask{{Act: Begin}, {Act: Mark, Text: "sieve is wet"}, {Act: End}} {
			if _, err := b.engine.Ask(ctx, a); err != nil {
				t.Errorf("%s: %v", a.Act, err)
			}
		}
		if _, err := b.engine.Ask(ctx, Ask{Act: End}); err == nil {
			t.Error("a session is ended that is not open")
		}
		b.stop()
		if len(b.closed) < 1 {
			t.Fatal("no session was kept")
		}
		b.same()
		s, err := session.Open(b.closed[0].dir)
		if err != nil {
			t.Fatal(err)
		}
		if text := journalText(t, s); !strings.Contains(text, "sieve is wet") {
			t.Errorf("the mark is not in the journal:\n%s", text)
		}
	})
}

// A disk that fills is told early; then the waveforms go, and the journal stays.
func TestFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var free atomic.Uint64
		free.Store(1500 << 20)
		b := settled(t, func(o *Options) { o.Free = func(string) (uint64, error) { return free.Load(), nil } }, nil)
		s := b.engine.Now()
		if s.Ready || !strings.Contains(s.Say, "disk: 1500 MB left") {
			t.Errorf("a disk that fills says %q", s.Say)
		}
		free.Store(100 << 20)
		b.run(60 * time.Second)
		if len(b.closed) == 0 {
			t.Fatal("no session")
		}
		if s := b.engine.Now(); s.Ready || !strings.Contains(s.Say, "disk: 100 MB left: no waveforms are kept now") {
			t.Errorf("a full disk says %q", s.Say)
		}
		c := b.closed[0]
		found := false
		for _, w := range c.res.Warnings {
			found = found || w.Code == "waveforms-dropped"
		}
		if !found {
			t.Errorf("nothing says that waveforms were dropped: %v", c.res.Warnings)
		}
		ses, err := session.Open(c.dir)
		if err != nil {
			t.Fatal(err)
		}
		text := journalText(t, ses)
		if !strings.Contains(text, "motor_stop") || !strings.Contains(text, "laf_db") {
			t.Error("the journal does not go on to the stop")
		}
		if problems, err := session.Verify(c.dir); err != nil || len(problems) > 0 {
			t.Errorf("%v %v", problems, err)
		}
	})
}

// The wall clock steps in mid-session, by years or back and forth: instants stay, and each step is on record.
func TestClockStep(t *testing.T) {
	const hour = int64(time.Hour)
	for name, steps := range map[string][]struct {
		by   int64 // off the true time from now on
		says string
	}{
		"by years":       {{20 * 365 * 24 * hour, "630720000.000 s"}},
		"back and forth": {{-3 * hour, "-10800.000 s"}, {0, "10800.000 s"}},
		"forth and back": {{3 * hour, "10800.000 s"}, {0, "-10800.000 s"}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var by atomic.Int64
				b := settled(t, func(o *Options) { o.Wall = func() time.Time { return time.Now().Add(time.Duration(by.Load())) } }, nil)
				for _, s := range steps {
					by.Store(s.by)
					time.Sleep(5 * time.Second)
				}
				b.run(60 * time.Second)
				if len(b.closed) == 0 {
					t.Fatal("no session")
				}
				b.same()
				var told []string
				for _, w := range b.closed[0].res.Warnings {
					if w.Code == "clock-stepped" {
						told = append(told, w.Text)
					}
				}
				if len(told) != len(steps) {
					t.Fatalf("%d steps are told as %q", len(steps), told)
				}
				for i, s := range steps {
					if !strings.HasPrefix(told[i], "the wall clock stepped by "+s.says) {
						t.Errorf("a step by %s is told as %q", s.says, told[i])
					}
				}
				if r := b.closed[0].res.Runs; len(r) == 0 || r[0].ElapsedS.V > 60 {
					t.Errorf("got runs %+v", r)
				}
			})
		})
	}
}

// A daemon whose only source is gone says which and what to do.
func TestSaysWhatIsWrong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, _ := simulatedSource(t, light(t, "plain"))
		h := newHub(d)
		h.plug(rig.Clamp).pull()
		b := start(t, d.Setup(), nil, h.sources()...)
		time.Sleep(3 * time.Second)
		s := b.engine.Now()
		if s.Ready || !strings.HasPrefix(s.Say, "clamp: no such device") {
			t.Errorf("says %q", s.Say)
		}
		b.stop()
	})
}

func TestNoSources(t *testing.T) {
	sup, err := acquire.New(time.Now, time.Now(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(sup, Options{Setup: config.Setup{Bench: config.DefaultBench()}}); err == nil || !strings.Contains(err.Error(), "quern devices") {
		t.Errorf("a bench without devices: %v", err)
	}
}

// Load is looked for again and again while a run goes on: what has moved is shown once, where it is now,
// and counted once.
func TestLoadIsToldOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "lull"))
		b := start(t, d.Setup(), nil, src)
		time.Sleep(30 * time.Second)
		synctest.Wait()
		moved := 0
		for _, x := range b.told {
			if x.Event.Kind == rig.LoadEnd {
				moved++
			}
		}
		s := b.engine.Now()
		shown := map[rig.Kind]int{}
		last := 0.0
		for _, e := range s.Events {
			shown[e.Kind]++
			if e.AtS.V < last {
				t.Errorf("%s at %v s stands behind an event at %g s", e.Kind, e.AtS, last)
			}
			last = e.AtS.V
		}
		if shown[rig.LoadStart] != 1 || shown[rig.LoadEnd] != 1 {
			t.Errorf("shown: %v, want one load_start and one load_end", shown)
		}
		if moved < 2 {
			t.Errorf("load_end was told %d times: this session does not try what it is for", moved)
		}
		if n := s.eventCount[rig.LoadEnd]; n != 1 {
			t.Errorf("load_end is counted %d times", n)
		}
		b.stop()
	})
}
