package live

import (
	"math"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/detect/mass"
	"quern/rig"
	"quern/rig/score"
)

// While leftovers are outstanding a session waits for them, but not for ever.
func TestSessionWaitsForLeftovers(t *testing.T) {
	run := func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.turn(true, 30*time.Second)
		d.turn(false, 400*time.Second) // longer than the longest pause
	}
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		run(b, d)
		if b.sessions() != 0 {
			t.Fatal("it was closed with leftovers outstanding")
		}
		time.Sleep(210 * time.Second)
		if b.sessions() != 1 {
			t.Fatalf("%d sessions closed twice the longest pause after the run", b.sessions())
		}
	})
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		run(b, d)
		b.do(Ask{Act: End})
		if b.sessions() != 1 {
			t.Error("an end does not close at once")
		}
	})
	onTable(t, weighSetup(), true, func(b *bench, d *table) { // the charge waits for its run
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		time.Sleep(900 * time.Second)
		if b.sessions() != 0 {
			t.Error("a session with a charge was closed before its run")
		}
	})
	onTable(t, weighSetup(), true, func(b *bench, d *table) { // nothing was weighed in
		d.turn(true, 30*time.Second)
		d.turn(false, 310*time.Second)
		if b.sessions() != 1 {
			t.Error("a session without a charge waits for leftovers")
		}
	})
}

// The drain timer can be started by hand, and begins anew with each run.
func TestDrain(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.turn(true, 10*time.Second)
		d.turn(false, 10*time.Second)
		if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(0)}}).Weighing; w.DrainedS.OK || w.Timing != "not-started" {
			t.Errorf("before anything was placed: %+v", w)
		}
		if x := b.do(Ask{Act: Drain}).Drain; x.DrainedS.V != 0 || x.WaitS != 50 || x.Timing != "early" {
			t.Errorf("just started: %+v", x)
		}
		time.Sleep(25 * time.Second)
		if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(0)}}).Weighing; !(math.Abs(w.DrainedS.V-25) <= 0.5) || w.Timing != "early" {
			t.Errorf("after 25 s: %+v", w)
		}
		d.turn(true, 10*time.Second)
		if x := b.engine.Now().Scale.Drain; x != nil {
			t.Errorf("while the motor runs: %+v", x)
		}
		d.turn(false, 5*time.Second)
		if x := b.engine.Now().Scale.Drain; x == nil || x.DrainedS.OK {
			t.Errorf("after it stopped again: %+v", x)
		}
	})
}

// One press of the drain button is for all vessels: those that wait while others are weighed are not late.
func TestDrainOnceForAll(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.turn(true, 10*time.Second)
		d.turn(false, 10*time.Second)
		b.do(Ask{Act: Drain})
		weigh := func(r rig.Role, waitS time.Duration, timing mass.Timing) {
			time.Sleep(waitS * time.Second)
			// By force, for the same load stands for all of them.
			if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: r, TareG: rig.Fig(0)}, Force: true}).Weighing; w.Timing != timing {
				t.Errorf("%s: %s after %v s, want %s", r, w.Timing, w.DrainedS, timing)
			}
		}
		weigh(rig.Chamber, 65, mass.InTime)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Coarse, TareG: rig.Fig(0)}})
		time.Sleep(8 * time.Second)
		if x := b.engine.Now().Scale.Drain; x.Timing != mass.InTime || x.DrainedS.V < 72 {
			t.Errorf("while the coarse sieve is awaited: %+v", x)
		}
		weigh(rig.Coarse, 1, mass.InTime)
		weigh(rig.Fine, 9, mass.InTime)
		weigh(rig.Chamber, 1, mass.Late) // it had its turn
		weigh(rig.Passed, 15, mass.Late) // nothing was weighed meanwhile
		b.do(Ask{Act: End})
		// Who scores the session comes to the same.
		set := weighSetup()
		onRecord := facts(t, b.closed[0].dir)
		c, err := score.Score(&config.Lab{Bench: set.Bench, Units: []config.Unit{set.Unit}, Procedures: []config.Procedure{set.Procedure}},
			[]rig.Record{{Session: "s", Unit: set.Unit.ID, Procedure: set.Procedure.ID, Facts: onRecord, Result: rig.Result{Runs: make([]rig.Run, 1)}}}, nil)
		if err != nil || len(c.Runs) != 1 {
			t.Errorf("%+v, %v", c, err)
			return
		}
		var late []string
		for _, r := range c.Runs[0].Remarks {
			if strings.Contains(r, "read late") || strings.Contains(r, "read early") {
				late = append(late, strings.Fields(r)[2])
			}
		}
		if got := strings.Join(late, " "); got != "(chamber): (passed):" {
			t.Errorf("scored, %q are late; remarks %q", got, c.Runs[0].Remarks)
		}
	})
}

// A bowl of another vessel, and an empty pan, are no leftovers.
func TestLeftoversNeedTheirVessel(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.put(0)
		d.turn(true, 20*time.Second)
		d.turn(false, 20*time.Second)
		b.do(Ask{Act: Drain})
		time.Sleep(60 * time.Second)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Coarse, Vessel: "sieve-coarse"}})
		d.put(250)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge || !strings.Contains(s.Capture.Why, "it is not that vessel") {
			t.Errorf("a lighter bowl: %+v, %+v", s.Last, s.Capture)
		}
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Coarse, TareG: rig.Fig(0)}})
		d.put(0)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge || s.Capture.Why != "the pan is empty" {
			t.Errorf("an empty pan: %+v, %+v", s.Last, s.Capture)
		}
		d.put(12)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Coarse || s.Last.NetG.V != 12 {
			t.Errorf("leftovers: %+v, %+v", s.Last, s.Capture)
		}
		d.put(2)
		time.Sleep(10 * time.Second)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(0)}})
		d.put(30)
		time.Sleep(10 * time.Second)
		d.put(0)
		time.Sleep(10 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Chamber || len(s.Weighings) != 3 || len(s.Outstanding) != 0 {
			t.Errorf("leftovers: %+v, %+v", s.Last, s.Capture)
		}
		b.do(Ask{Act: Undo, Who: "ann"})
		if s := b.engine.Now().Scale; len(s.Outstanding) != 1 || s.Outstanding[0] != rig.Chamber {
			t.Errorf("outstanding after the undo: %v", s.Outstanding)
		}
	})
}

// Leftovers that are taken off again before they have drained are not read.
func TestTakenOffWhileItDrains(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.put(0)
		d.turn(true, 20*time.Second)
		d.turn(false, 20*time.Second)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, Vessel: "bowl-1"}})
		d.put(240)
		time.Sleep(15 * time.Second)
		if s := b.engine.Now().Scale; !strings.Contains(s.Capture.Why, "it drains") {
			t.Errorf("draining: %+v", s.Capture)
		}
		time.Sleep(35 * time.Second) // 56 s of 60 s
		d.put(0)
		time.Sleep(90 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge {
			t.Errorf("read without leftovers: %+v", s.Last)
		}
		b.do(Ask{Act: Drain})
		d.put(248)
		time.Sleep(15 * time.Second)
		d.put(240) // the spoon was still in it
		time.Sleep(60 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Chamber || s.Last.NetG.V != 40 || s.Last.Timing != "in-time" {
			t.Errorf("after the spoon was taken out: %+v, %+v", s.Last, s.Capture)
		}
	})
}

// Where leftovers need not drain for a time, they are read once they lose little enough.
func TestWetIsReadWhenItLosesLittle(t *testing.T) {
	set := weighSetup()
	set.Procedure.After.DrainS = 0
	onTable(t, set, true, func(b *bench, d *table) {
		d.put(700)
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		d.put(0)
		d.turn(true, 20*time.Second)
		d.turn(false, 20*time.Second)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, Vessel: "bowl-1"}})
		d.drips(0.3)
		d.put(260)
		time.Sleep(20 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge {
			t.Errorf("taken while it loses 18 g/min: %+v", s.Last)
		}
		d.drips(0)
		time.Sleep(20 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Chamber || s.Last.SlopeGPerMin.V < -6.5 { // the limit, as far as a division of 1 g shows it in 9.5 s
			t.Errorf("once it drips no more: %+v, %+v", s.Last, s.Capture)
		}
	})
}
