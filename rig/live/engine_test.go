package live

import (
	"context"
	"encoding/json"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/acquire/simulated"
	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/line"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// bench is a daemon over simulated sources, in a bubble whose time runs as fast as it can.
type bench struct {
	t      *testing.T
	dir    string
	epoch  time.Time
	sup    *acquire.Supervisor
	engine *Engine
	cancel context.CancelFunc
	wait   sync.WaitGroup

	told   []Told
	closed []closed
}

type closed struct {
	dir string
	res rig.Result
}

// start begins a daemon over devices under the settings.
func start(t *testing.T, set config.Setup, change func(*Options), sources ...acquire.Source) *bench {
	t.Helper()
	b := &bench{t: t, dir: t.TempDir(), epoch: time.Now()}
	var err error
	if b.sup, err = acquire.New(time.Now, b.epoch, sources); err != nil {
		t.Fatal(err)
	}
	o := Options{Dir: b.dir, Setup: set, Tool: "quern test", Log: slog.New(slog.NewTextHandler(t.Output(), nil)),
		Told:   func(x Told) { b.told = append(b.told, x) },
		Closed: func(dir string, res rig.Result) { b.closed = append(b.closed, closed{dir, res}) }}
	if change != nil {
		change(&o)
	}
	if b.engine, err = New(b.sup, o); err != nil {
		t.Fatal(err)
	}
	var ctx context.Context
	ctx, b.cancel = context.WithCancel(context.Background())
	b.wait.Add(2)
	go func() { defer b.wait.Done(); b.sup.Run(ctx) }()
	go func() {
		defer b.wait.Done()
		if err := b.engine.Run(ctx); err != nil {
			t.Error(err)
		}
	}()
	return b
}

// run lets a time pass, then stops the daemon.
func (b *bench) run(d time.Duration) {
	time.Sleep(d) // of the bubble: it costs nothing
	b.stop()
}

func (b *bench) stop() {
	b.cancel()
	b.wait.Wait()
}

// again analyses a session as it lies on the disk.
func again(t *testing.T, dir string) rig.Result {
	t.Helper()
	s, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	res, err := replay.Analyse(s, s.Setup(), detect.Trace{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func text(t *testing.T, res rig.Result) string {
	t.Helper()
	b, err := json.MarshalIndent(res, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// same holds every closed session to its replay, byte for byte.
func (b *bench) same() {
	b.t.Helper()
	for _, c := range b.closed {
		if live, later := text(b.t, c.res), text(b.t, again(b.t, c.dir)); live != later {
			_ = os.WriteFile(filepath.Join(os.TempDir(), "live.json"), []byte(live), 0o644)
			_ = os.WriteFile(filepath.Join(os.TempDir(), "again.json"), []byte(later), 0o644)
			b.t.Errorf("%s: live and replay differ, see live.json and again.json", filepath.Base(c.dir))
		}
		if problems, err := session.Verify(c.dir); err != nil || len(problems) > 0 {
			b.t.Errorf("%s does not verify: %v %v", c.dir, problems, err)
		}
	}
}

// scenario draws one named scenario for every seed.
func scenario(t *testing.T, name string) func(seed uint64) sim.Scenario {
	return func(seed uint64) sim.Scenario {
		sc, ok := sim.Named(name, seed)
		if !ok {
			t.Fatalf("no scenario %q", name)
		}
		return sc
	}
}

// light is a scenario at low rates, for tests that are not about sound.
func light(t *testing.T, name string) func(seed uint64) sim.Scenario {
	full := scenario(t, name)
	return func(seed uint64) sim.Scenario {
		sc := full(seed)
		sc.Sound.RateHz, sc.Current.RateHz = 12000, 4000
		return sc
	}
}

func simulatedSource(t *testing.T, draw func(uint64) sim.Scenario) (*simulated.Bench, acquire.Source) {
	t.Helper()
	d, err := simulated.New(time.Now, 1, draw)
	if err != nil {
		t.Fatal(err)
	}
	return d, acquire.Source{Device: d, SilentS: 2}
}

func TestLiveEqualsReplay(t *testing.T) {
	names := []string{"stall-and-trip", "plain"}
	if testing.Short() {
		names = names[:1]
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d, src := simulatedSource(t, scenario(t, name))
				set := d.Setup()
				set.Bench.Record.CloseAfter = 6
				b := start(t, set, nil, src)
				if testing.Short() {
					b.run(75 * time.Second)
				} else {
					b.run(3 * time.Minute)
				}
				if len(b.closed) == 0 {
					t.Fatal("no session was closed")
				}
				for _, c := range b.closed {
					if len(c.res.Runs) == 0 {
						t.Errorf("%s holds no run", c.dir)
					}
				}
				b.same()
			})
		})
	}
}

func journalText(t *testing.T, s *session.Session) string {
	t.Helper()
	var out []byte
	err := s.Journal(func(p line.Point) error {
		var err error
		out, err = line.Append(out, p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// TestShownStateIsSteady wants a motor that is loaded shown as loaded until it is something else, though load is
// looked for only now and then.
func TestShownStateIsSteady(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "stall-and-trip"))
		var engine atomic.Pointer[Engine]
		var shown []rig.State
		b := start(t, d.Setup(), func(o *Options) {
			o.Published = func() {
				if engine.Load() == nil {
					return
				}
				if s := engine.Load().Now().State; len(shown) == 0 || shown[len(shown)-1] != s {
					shown = append(shown, s)
				}
			}
		}, src)
		engine.Store(b.engine)
		b.run(time.Minute)
		loaded := 0
		for _, s := range shown {
			if s == rig.Loaded {
				loaded++
			}
		}
		// It is loaded, stalls, trips, is reset and loaded again.
		if loaded < 1 || loaded > 3 {
			t.Errorf("found %d stretches of load in %v, expected 1 to 3", loaded, shown)
		}
	})
}

// TestLatency holds the time from an event on the bench to its being told to what the definitions leave.
// In the bubble the machine costs no time: this is how far ahead the analysis has to look.
func TestLatency(t *testing.T) {
	if testing.Short() {
		t.Skip("it is about the analysis, which other tests try for races")
	}
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, scenario(t, "stall-and-trip"))
		set := d.Setup()
		set.Bench.Record.CloseAfter = 6
		heard := map[rig.Kind][]float64{}
		epoch := time.Now()
		b := start(t, set, func(o *Options) {
			o.Told = func(x Told) {
				heard[x.Event.Kind] = append(heard[x.Event.Kind], time.Since(epoch).Seconds()-x.EpochS)
			}
		}, src)
		b.run(4 * time.Minute)
		// What must be waited for by definition: the on hold, the stall hold, the off hold.
		for kind, hold := range map[rig.Kind]float64{rig.MotorStart: set.Bench.Detect.Motor.OnHoldS, rig.StallStart: set.Bench.Detect.Motor.StallHoldS,
			rig.StallEnd: set.Bench.Detect.Motor.OffHoldS, rig.Trip: set.Bench.Detect.Motor.OffHoldS, rig.MotorStop: set.Bench.Detect.Motor.OffHoldS} {
			if len(heard[kind]) == 0 {
				t.Errorf("no %s was told", kind)
			}
			for _, s := range heard[kind] {
				if s > hold+0.25 {
					t.Errorf("%s was told %.3f s after it happened, want at most %.3f s", kind, s, hold+0.25)
				}
			}
			t.Logf("%-12s told after %.3f s", kind, heard[kind])
		}
	})
}
