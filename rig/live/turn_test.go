package live

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/acquire/simulated"
	"quern/config"
)

// TestTesterTurns plays a day of testing: every session is ended before the next begins, with its run whole, and is of the unit that
// was on the bench.
func TestTesterTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		full, ok := simulated.Playing(simulated.DayName)
		if !ok {
			t.Fatal("there is no day")
		}
		d, err := simulated.New(time.Now, 1, func(seed uint64) sim.Scenario {
			sc := full(seed)
			sc.Sound.RateHz, sc.Current.RateHz = 12000, 4000
			return sc
		})
		if err != nil {
			t.Fatal(err)
		}
		set := d.Setup()
		set.Bench.Record.CloseAfter = 60 // longer than anybody waits: only the tester ends sessions
		engine := make(chan *Engine, 1)
		d.Between(func(ctx context.Context, next config.Setup) {
			next.Bench = set.Bench
			e := <-engine
			defer func() { engine <- e }()
			if err := e.Turn(ctx, next); err != nil && ctx.Err() == nil {
				t.Error(err)
			}
		})
		b := start(t, set, nil, acquire.Source{Device: d, SilentS: 2})
		engine <- b.engine
		b.run(200 * time.Second)
		if len(b.closed) < 4 {
			t.Fatalf("%d sessions were closed, want 4 or more", len(b.closed))
		}
		var units []string
		for _, c := range b.closed[:4] {
			units = append(units, c.res.Unit)
			if len(c.res.Runs) != 1 || c.res.Runs[0].Events[0].Kind != "motor_start" || c.res.Runs[0].Events[len(c.res.Runs[0].Events)-1].Kind != "motor_stop" {
				t.Errorf("%s: want one run from start to stop, got %+v", c.dir, c.res.Runs)
			}
		}
		if want := []string{"unit-a", "unit-b", "unit-c", "unit-d"}; !slices.Equal(units, want) {
			t.Errorf("units %v, want %v", units, want)
		}
	})
}

// The next unit may be chosen before anything has come since the last session: the idle analysis begins with what comes then,
// and not with all the time since the daemon's start, which would cost memory and minutes after a day.
func TestChosenAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		set := weighSetup()
		b := start(t, set, nil, acquire.Source{Device: &table{clamp: true}, SilentS: 2})
		defer b.stop() // also when the test gives up
		time.Sleep(300 * time.Second)
		b.do(Ask{Act: Begin})
		time.Sleep(time.Second)
		if err := b.engine.Turn(t.Context(), set); err != nil { // ends the session and chooses in one
			t.Fatal(err)
		}
		time.Sleep(time.Second)
		b.stop()
		if b.engine.watch == nil || b.engine.watch.baseS < 300 {
			t.Errorf("the idle analysis is %+v, want one of what came after 300 s", b.engine.watch)
		}
	})
}
