package live

import (
	"context"
	"io"
	"os"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/rig"
)

// loop is a device that plays one recorded channel for ever.
type loop struct {
	stream rig.Stream
	x      []float64
	r      []rig.Reading
}

func (l *loop) Name() string          { return "loop" }
func (l *loop) Streams() []rig.Stream { return []rig.Stream{l.stream} }
func (l *loop) Run(ctx context.Context, to acquire.Sink) error {
	const stepS = 0.1
	t := time.NewTicker(stepS * 1e9)
	defer t.Stop()
	n := int(l.stream.RateHz * stepS)
	for i := 0; ; i++ {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		if l.stream.Form == rig.Waveform {
			at := i * n % (len(l.x) - len(l.x)%n)
			to.Samples(l.stream.Channel, time.Now(), 0, l.x[at:at+n])
			continue
		}
		r := l.r[i%len(l.r)]
		to.Reading(l.stream.Channel, time.Now(), r.Value, r.Stable)
	}
}

// loops records a scenario once, at low rates so that a day of it is cheap.
func loops(t *testing.T, name string) ([]acquire.Source, *sim.Bench) {
	t.Helper()
	sc, _ := sim.Named(name, 1)
	sc.Sound.RateHz, sc.Current.RateHz = 8000, 1000
	b, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	of := map[rig.Channel]*loop{}
	var out []acquire.Source
	for _, s := range b.Streams() {
		of[s.Channel] = &loop{stream: s}
		out = append(out, acquire.Source{Device: of[s.Channel], SilentS: 2})
	}
	for {
		blk, err := b.Next()
		if err == io.EOF {
			return out, b
		}
		if err != nil {
			t.Fatal(err)
		}
		l := of[blk.Channel]
		l.x = append(l.x, blk.Samples...)
		l.r = append(l.r, blk.Readings...)
	}
}

// TestDay lets a day pass, with a run nearly every minute: the heap must not grow. Half an hour of it
// unless QUERN_DAY is set.
func TestDay(t *testing.T) {
	if testing.Short() {
		t.Skip("half an hour of the bench takes some seconds")
	}
	quarters := 2
	if os.Getenv("QUERN_DAY") != "" {
		quarters = 4 * 24
	}
	synctest.Test(t, func(t *testing.T) {
		sources, d := loops(t, "plain")
		set := d.Setup()
		set.Bench.Record.CloseAfter, set.Bench.Record.PreRollS = 4, 10
		sessions := 0
		b := start(t, set, func(o *Options) {
			o.Log = nil
			o.Told = nil
			o.Closed = func(dir string, res rig.Result) {
				sessions++
				if err := os.RemoveAll(dir); err != nil {
					t.Error(err)
				}
			}
		}, sources...)
		heap := func() float64 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			return float64(m.HeapAlloc) / (1 << 20)
		}
		const quarter = 15 * time.Minute
		time.Sleep(quarter)
		first, routines := heap(), runtime.NumGoroutine()
		t.Logf("after 15 min: %.1f MiB, %d goroutines, %d sessions", first, routines, sessions)
		most := 0.0
		for i := range quarters - 1 {
			time.Sleep(quarter)
			h := heap()
			most = max(most, h)
			if i%8 == 7 || i == 0 {
				t.Logf("after %.2f h: %.1f MiB, %d sessions", float64(i+2)/4, h, sessions)
			}
		}
		if most > first+6 {
			t.Errorf("the heap went from %.1f to %.1f MiB", first, most)
		}
		if n := runtime.NumGoroutine(); n > routines+1 {
			t.Errorf("%d goroutines, %d at first", n, routines)
		}
		if sessions < 5*quarters {
			t.Errorf("only %d sessions in %d quarters of an hour", sessions, quarters)
		}
		b.stop()
	})
}
