package live

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// A bench that has nothing but a scale weighs all the same, and its session ends by hand.
func TestScaleAlone(t *testing.T) {
	onTable(t, weighSetup(), false, func(b *bench, d *table) {
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.put(700)
		d.put(0)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, Vessel: "bowl-1"}})
		d.put(240)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last == nil || s.Last.Role != rig.Chamber || s.Last.NetG.V != 40 {
			t.Errorf("got %+v", s)
		}
		b.do(Ask{Act: End})
		d.put(0)
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Empty, Vessel: "pot"}})
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, Vessel: "pot"}})
		d.put(690)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Empty || s.Capture.Why != "the load became less" {
			t.Errorf("what the button took is taken again: %+v, %+v", s.Last, s.Capture)
		}
	})
}

// A session that only weighings hold open ends when it is full, although no clamp tells the time.
func TestScaleAloneIsFull(t *testing.T) {
	set := weighSetup()
	set.Bench.Record.LongestS = 100
	onTable(t, set, false, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		time.Sleep(110 * time.Second)
		if b.sessions() != 1 {
			t.Errorf("%d sessions closed", b.sessions())
		}
	})
}

// What was weighed is on the disk when the act is answered: a loss of power right after it loses nothing.
func TestFactsSurviveACrash(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &table{clamp: true}
		b := start(t, weighSetup(), nil, acquire.Source{Device: d, SilentS: 2})
		d.put(700)
		w := b.do(Ask{Act: Weigh, Expect: charge("carrot")}).Weighing
		b.do(Ask{Act: Undo, Who: "ann"})
		left := filepath.Join(t.TempDir(), "left")
		if err := os.CopyFS(left, os.DirFS(b.dir)); err != nil { // as the disk is at this instant
			t.Fatal(err)
		}
		b.stop()
		if _, err := RecoverAll(left, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		f := facts(t, filepath.Join(left, w.Session))
		if len(f.Weighings) != 1 || f.Weighings[0].NetG.V != 500 || f.Weighings[0].AtS != w.AtS.V || len(f.Corrections) != 1 {
			t.Errorf("recovered: %+v", f)
		}
	})
}

// Once the clamp is gone in a run nobody knows whether the motor runs: nothing is taken but by force.
func TestMotorUnknown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, _ := simulatedSource(t, light(t, "plain"))
		h := newHub(d)
		b := start(t, d.Setup(), nil, h.sources()...)
		ctx, cancel := context.WithCancel(context.Background())
		b.wait.Add(1)
		go func() { defer b.wait.Done(); h.run(ctx) }()
		defer b.stop()
		defer cancel()
		time.Sleep(10 * time.Second)
		h.plug(rig.Clamp).pull()
		time.Sleep(3 * time.Second)
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge}}, "whether the motor runs is not known")
		if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge}, Force: true}).Weighing; !w.Shaken {
			t.Errorf("got %+v", w)
		}
	})
}

func TestTakerSettings(t *testing.T) {
	b := config.DefaultBench()
	if s := takerSettings(&b); s.MinStepG != 5 || s.RestS != 1.5 || s.Readings != 5 || s.DripGPerMin != 60 || s.SlopeLimitGPerMin != 6 || s.GapS != 2 {
		t.Errorf("by default %+v", s)
	}
	b.Scale.DivisionG, b.Scale.VerificationG, b.Scale.Take.LeastG = 2, 4, 3
	b.Scale.Device.Kind, b.Scale.Device.Mode, b.Scale.Device.IntervalS = "serial", "request", 2
	if s := takerSettings(&b); s.MinStepG != 10 || s.DivisionG != 2 || s.VerificationG != 4 || s.GapS != 5 {
		t.Errorf("a coarse scale that is asked: %+v", s)
	}
}
