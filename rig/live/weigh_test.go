package live

import (
	"math"
	"strings"
	"testing"
	"time"

	"quern/rig"
)

// A whole run by one hand that never touches a button: the charge, the motor, the leftovers.
func TestRunTakenByItself(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Charge, Item: "carrot", Vessel: "bowl-1", Who: "ann"}})
		d.put(200) // the bowl alone is no carrot
		d.put(500) // nor are 300 g of it
		if s := b.engine.Now(); s.Session != "" || s.Scale.Capture == nil || !strings.Contains(s.Scale.Capture.Why, "300 g net, 500 ±5 g wanted") {
			t.Errorf("session %q, capture %+v", s.Session, s.Scale.Capture)
		}
		d.put(702)
		s := b.engine.Now()
		if s.Session == "" || s.Scale.Last == nil || s.Scale.Last.NetG.V != 502 || !s.Scale.Last.Auto || s.Scale.Expect.Item != "bone" {
			t.Fatalf("after the carrots: session %q, scale %+v", s.Session, s.Scale)
		}
		d.put(0)
		d.put(299)
		if x := b.engine.Now().Scale.Expect; x == nil || x.Role != rig.Chamber || !strings.Contains(x.Why, "vessel") {
			t.Errorf("after the charge %+v is expected, want the chamber, whose vessel is not known", x)
		}
		d.put(0)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Chamber, Vessel: "bowl-1", Who: "ann"}})
		d.put(240)
		time.Sleep(15 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge || s.Capture.Why != "no run has ended yet" {
			t.Errorf("leftovers before the run: %+v, %+v", s.Last, s.Capture)
		}
		d.put(0)
		d.turn(true, 40*time.Second)
		d.turn(false, 10*time.Second)
		d.drips(0.08)
		d.put(245)
		time.Sleep(30 * time.Second)
		if s := b.engine.Now().Scale; s.Last.Role != rig.Charge || s.Drain.Timing != "early" || !s.Drain.DrainedS.OK {
			t.Errorf("half-way drained: last %+v, drain %+v", s.Last, s.Drain)
		}
		time.Sleep(35 * time.Second)
		d.drips(0)
		s = b.engine.Now()
		w := s.Scale.Last
		if w.Role != rig.Chamber || w.TareG.V != 200 || !(math.Abs(w.NetG.V-40) <= 1) || !(math.Abs(w.DrainedS.V-60) <= 1) || w.Timing != "in-time" || w.SlopeGPerMin.V > -3 || w.Who != "ann" {
			t.Errorf("the chamber: %+v", w)
		}
		if x := s.Scale.Expect; x == nil || x.Role != rig.Coarse {
			t.Errorf("after the chamber %+v is expected", x)
		}
		d.put(0)
		b.do(Ask{Act: ToWeigh, Expect: Expect{Role: rig.Coarse, Vessel: "sieve-coarse"}})
		d.put(331)
		time.Sleep(10 * time.Second)
		s = b.engine.Now()
		if w := s.Scale.Last; w.Role != rig.Coarse || w.NetG.V != 21 || w.TareFrom != "register, wet" || w.Timing != "late" || s.Scale.Expect != nil || len(s.Scale.Outstanding) > 0 {
			t.Errorf("the coarse sieve: %+v, then %+v", w, s.Scale.Expect)
		}
		var screen strings.Builder
		if err := s.Print(&screen); err != nil || !strings.Contains(screen.String(), "coarse in sieve-coarse: 21 g net, drained") {
			t.Errorf("%v\n%s", err, &screen)
		}
		time.Sleep(310 * time.Second) // the longest pause: nothing is outstanding, so that it closes
		if b.sessions() != 1 {
			t.Fatalf("%d sessions closed", b.sessions())
		}
		b.stop()
		if n := len(b.closed[0].res.Runs); n != 1 {
			t.Errorf("%d runs", n)
		}
		f := facts(t, b.closed[0].dir)
		if len(f.Weighings) != 4 || f.Weighings[2].Role != rig.Chamber || !f.Weighings[2].Auto || f.Weighings[2].Fact != 3 {
			t.Errorf("on record: %+v", f.Weighings)
		}
		if f.Weighings[0].AtS < 2 || f.Weighings[0].Run != 0 {
			t.Errorf("the first weighing is at %g s, run %d: want what was before it in the session too", f.Weighings[0].AtS, f.Weighings[0].Run)
		}
	})
}

// Nothing is booked without being expected, nor with take.auto off.
func TestNothingIsMadeUp(t *testing.T) {
	set := weighSetup()
	onTable(t, set, true, func(b *bench, d *table) {
		d.put(500)
		d.put(0)
		if s := b.engine.Now(); s.Session != "" || s.Scale.Capture == nil {
			t.Errorf("session %q, capture %v", s.Session, s.Scale.Capture)
		}
	})
	set.Bench.Scale.Take.Auto = false
	onTable(t, set, true, func(b *bench, d *table) {
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.put(700)
		if s := b.engine.Now(); s.Session != "" || s.Scale.Capture != nil {
			t.Errorf("session %q, capture %v", s.Session, s.Scale.Capture)
		}
		if w := b.do(Ask{Act: Weigh}).Weighing; w.Role != rig.Charge || w.Item != "carrot" || w.NetG.V != 500 || w.Auto {
			t.Errorf("the button takes %+v", w)
		}
	})
}

// The next charge begins the next session once the leftovers of the last are in, and not before.
func TestNextCharge(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		first := b.do(Ask{Act: Weigh, Expect: charge("carrot")}).Weighing
		time.Sleep(40 * time.Second) // more than the pre-roll
		d.turn(true, 10*time.Second)
		d.turn(false, 10*time.Second)
		d.put(300)
		// Only tried: what was still missing of the charge belongs to the same run.
		if w := b.do(Ask{Act: Weigh, Expect: charge("bone")}).Weighing; w.Session != first.Session {
			t.Errorf("the rest of the charge stands in %s", w.Session)
		}
		d.put(700)
		b.refuses(Ask{Act: Weigh, Expect: charge("carrot")}, "chamber, coarse of it is not weighed")
		b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(650)}})
		d.put(705)
		b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Coarse, TareG: rig.Fig(680)}})
		d.put(700)
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		w := b.do(Ask{Act: Weigh, Expect: charge("carrot")}).Weighing
		if w.Session == first.Session || w.Fact != 1 || b.sessions() != 1 || w.AtS.V > 1 {
			t.Errorf("the next charge is fact %d of %s", w.Fact, w.Session)
		}
		if x := b.engine.Now().Scale.Expect; x == nil || x.Item != "bone" {
			t.Errorf("then %+v is expected", x)
		}
		d.turn(true, 10*time.Second)
		d.turn(false, 5*time.Second)
		b.do(Ask{Act: End})
		if n := len(b.closed[1].res.Runs); n != 1 {
			t.Errorf("%d runs in the second session", n)
		}
		if f := facts(t, b.closed[0].dir).Weighings; len(f) != 4 {
			t.Errorf("the first session holds %+v", f)
		}
	})
}

// An ingredient is put right on the pan: it is taken once it is within its tolerance, coming from above too.
func TestChargeIsPutRight(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.put(712)
		if s := b.engine.Now().Scale; s.Last != nil || !strings.Contains(s.Capture.Why, "512 g net") {
			t.Errorf("7 g too much: %+v, %+v", s.Last, s.Capture)
		}
		d.put(703)
		if s := b.engine.Now().Scale; s.Last == nil || s.Last.NetG.V != 503 {
			t.Errorf("put right: %+v, %+v", s.Last, s.Capture)
		}
	})
}
