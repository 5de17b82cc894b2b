package live

import (
	"context"
	"encoding/json"
	"log/slog"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/detect/mass"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
)

// table is a device that the test works by hand: a scale with what stands on it, and a clamp whose motor
// is switched. While it runs, the scale shakes.
type table struct {
	mu    sync.Mutex
	massG float64
	dripG float64 // g/s that it loses
	on    bool
	n     int
	clamp bool
}

func (d *table) Name() string { return "the table" }

func (d *table) Streams() []rig.Stream {
	out := []rig.Stream{{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}
	if d.clamp {
		out = append(out, rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere})
	}
	return out
}

func (d *table) Run(ctx context.Context, to acquire.Sink) error {
	t := time.NewTicker(100 * time.Millisecond)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		d.mu.Lock()
		d.n++
		d.massG -= d.dripG / 10
		g, amps := d.massG, 0.01+0.002*math.Sin(float64(d.n))
		if d.on {
			g, amps = g+6*math.Sin(float64(7*d.n)), 4+0.05*math.Sin(float64(d.n))
		}
		d.mu.Unlock()
		to.Reading(rig.Scale, time.Now(), math.Round(g), rig.Yes)
		if d.clamp {
			to.Reading(rig.Clamp, time.Now(), amps, rig.Unsaid)
		}
	}
}

// put puts so much on the pan, in all, and waits for it to come to rest.
func (d *table) put(g float64) {
	d.mu.Lock()
	d.massG = g
	d.mu.Unlock()
	time.Sleep(6 * time.Second)
}

func (d *table) drips(gPerS float64) {
	d.mu.Lock()
	d.dripG = gPerS
	d.mu.Unlock()
}

// turn switches the motor, and waits.
func (d *table) turn(on bool, wait time.Duration) {
	d.mu.Lock()
	d.on = on
	d.mu.Unlock()
	time.Sleep(wait)
}

// weighed is a bench with a recipe of two ingredients, two sieves and a register.
func weighSetup() config.Setup {
	s := config.Setup{Bench: config.DefaultBench(), Unit: config.DefaultUnit("unit-a"), Procedure: config.DefaultProcedure("two")}
	s.Unit.RatedCurrentA = 6
	s.Bench.Vessels = []config.Vessel{{ID: "bowl-1", DryG: 200}, {ID: "sieve-coarse", DryG: 300, WetG: 310}}
	s.Procedure.Items = []config.Item{{Name: "carrot", MassG: 500, ToleranceG: 5}, {Name: "bone", MassG: 100, ToleranceG: 5}}
	s.Procedure.After = config.After{Chamber: true, CoarseSieveMM: 4.75, DrainS: 60, DrainToleranceS: 10, OutputLow: 0.5, OutputHigh: 1.3}
	s.Procedure.LongestPauseS = 300
	return s
}

// onTable runs a test at a table, in a bubble.
func onTable(t *testing.T, set config.Setup, clamp bool, test func(b *bench, d *table)) {
	synctest.Test(t, func(t *testing.T) {
		d := &table{clamp: clamp}
		b := start(t, set, nil, acquire.Source{Device: d, SilentS: 2})
		defer b.stop() // also when the test gives up
		time.Sleep(5 * time.Second)
		test(b, d)
		b.stop()
		b.same()
		b.stored()
	})
}

// stored holds the analysis that was stored with every closed session to its replay, exactly.
func (b *bench) stored() {
	b.t.Helper()
	for _, c := range b.closed {
		ses, err := session.Open(c.dir)
		if err != nil {
			b.t.Fatal(err)
		}
		a, err := session.LoadAnalysis(c.dir, session.AnalysisKey(ses.Setup().ForAnalysis()))
		if err != nil {
			b.t.Errorf("no analysis of %s: %v", c.dir, err)
			continue
		}
		kept, err := session.EncodeRecord(rig.Record{Result: a.Result})
		if err != nil {
			b.t.Fatal(err)
		}
		again, err := session.EncodeRecord(rig.Record{Result: replay(b.t, c.dir)})
		if err != nil {
			b.t.Fatal(err)
		}
		if string(kept) != string(again) {
			b.t.Errorf("%s: the stored analysis is not that of a replay:\n%s\n%s", c.dir, kept, again)
		}
		if o := ses.Manifest().Origin; o != rig.Recorded {
			b.t.Errorf("origin %q", o)
		}
	}
}

// do does an act that nothing may stand against.
func (b *bench) do(a Ask) Answer {
	b.t.Helper()
	got, err := b.engine.Ask(context.Background(), a)
	if err != nil {
		b.t.Fatalf("%s: %v", a.Act, err)
	}
	return got
}

// refuses holds an act to being refused with words.
func (b *bench) refuses(a Ask, words string) {
	b.t.Helper()
	_, err := b.engine.Ask(context.Background(), a)
	if err == nil || !strings.Contains(err.Error(), words) {
		b.t.Errorf("%s: got %v, want %q", a.Act, err, words)
	}
}

// sessions is how many were closed so far.
func (b *bench) sessions() int { return int(b.engine.Now().Sessions) }

// facts returns what is on record in a session.
func facts(t *testing.T, dir string) rig.Facts {
	t.Helper()
	b, err := session.OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b.Facts
}

func charge(item string) Expect { return Expect{Role: rig.Charge, Item: item, Vessel: "bowl-1"} }

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
		if w.Role != rig.Chamber || w.TareG.V != 200 || math.Abs(w.NetG.V-40) > 1 || math.Abs(w.DrainedS.V-60) > 1 || w.Timing != "in-time" || w.SlopeGPerMin.V > -3 || w.Who != "ann" {
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

// The button takes what the pan shows, refuses with what to do, and takes all but nothing by force.
func TestButton(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		b.refuses(Ask{Act: Weigh}, "found no role")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: "soup"}}, "expected one of empty, charge")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge}}, "expected one of the register: bowl-1, sieve-coarse")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge, Vessel: "pot"}}, "weigh it empty first, or give the tare")
		b.refuses(Ask{Act: Weigh, Expect: charge("leek")}, "expected one of the recipe: carrot, bone")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Coarse, Item: "carrot"}}, "only of the charge")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Empty}}, "found no vessel")
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Coarse, Vessel: "sieve-coarse"}}, "quern weigh")
		if s := b.engine.Now(); s.Session != "" {
			t.Fatalf("what was refused opened %s", s.Session)
		}
		w := b.do(Ask{Act: Weigh, Expect: charge("carrot"), Text: "peeled"}).Weighing
		if w.Fact != 1 || w.GrossG.V != 700 || w.TareG.V != 200 || w.NetG.V != 500 || w.TareFrom != "register, dry" || w.Stable != "yes" || !w.SpreadG.OK || w.Note != "peeled" || w.Session == "" {
			t.Errorf("got %+v", w)
		}
		// The vessel as it was weighed empty goes before the register; a tare that is given before both.
		d.put(215)
		b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Empty, Vessel: "bowl-1"}})
		d.put(315)
		if w := b.do(Ask{Act: Weigh, Expect: charge("bone")}).Weighing; w.NetG.V != 100 || w.TareFrom != "weighed empty" {
			t.Errorf("got %+v", w)
		}
		if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge, Item: "bone", TareG: rig.Fig(0)}}).Weighing; w.NetG.V != 315 || w.TareFrom != "given" || !w.TareG.OK {
			t.Errorf("got %+v", w)
		}
		d.put(0)
		b.refuses(Ask{Act: Weigh, Expect: charge("bone")}, "0 g on the pan less 215 g of the vessel is -215 g")
		// The motor.
		d.turn(true, 5*time.Second)
		b.refuses(Ask{Act: Weigh, Expect: charge("bone")}, "less 215 g")
		d.put(300)
		b.refuses(Ask{Act: Weigh, Expect: charge("bone")}, "the motor runs: readings are shaken; stop it")
		if s := b.engine.Now(); s.Scale.Ready || s.Scale.Why == "" {
			t.Errorf("ready while the motor runs: %+v", s.Scale)
		}
		if w := b.do(Ask{Act: Weigh, Expect: charge("bone"), Force: true, Text: "in a hurry"}).Weighing; !w.Shaken || w.Note != "in a hurry (taken although the motor runs)" {
			t.Errorf("got %+v", w)
		}
		d.turn(false, 2*time.Second)
		// What is not at rest.
		d.drips(20)
		time.Sleep(2 * time.Second)
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(0)}}, "pan moves by")
		d.drips(0)
	})
}

// A scale that has gone gives nothing, not even by force.
func TestButtonWithoutScale(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, _ := simulatedSource(t, light(t, "plain"))
		h := newHub(d)
		b := start(t, d.Setup(), nil, h.sources()...)
		ctx, cancel := context.WithCancel(context.Background())
		b.wait.Add(1)
		go func() { defer b.wait.Done(); h.run(ctx) }()
		time.Sleep(2 * time.Second)
		h.plug(rig.Scale).pull()
		time.Sleep(3 * time.Second)
		b.refuses(Ask{Act: Weigh, Expect: Expect{Role: rig.Charge}, Force: true}, "look whether the scale is on")
		if s := b.engine.Now().Scale; s.MassG.OK || s.Ready {
			t.Errorf("a scale that is gone shows %+v", s)
		}
		cancel()
		b.stop()
	})
}

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
		b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Coarse, TareG: rig.Fig(680)}})
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

// What was taken back does not count, is expected again, and stays on record.
func TestUndoAndCorrect(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		b.refuses(Ask{Act: Undo, Who: "ann"}, "no session is open")
		b.refuses(Ask{Act: Void}, "no session is open")
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.put(700)
		b.refuses(Ask{Act: Weigh}, "was taken as weighing 1, charge carrot, 500 g net: put charge bone on")
		b.refuses(Ask{Act: Undo}, "found nobody's name")
		b.do(Ask{Act: Undo, Who: "ann"})
		s := b.engine.Now()
		if !s.Scale.Weighings[0].Withdrawn || s.Scale.Last != nil || s.Scale.Expect.Item != "carrot" {
			t.Errorf("after the undo: %+v", s.Scale)
		}
		b.refuses(Ask{Act: Undo, Who: "ann"}, "no weighing of this session is left")
		b.do(Ask{Act: Weigh, Expect: charge("carrot")})
		b.do(Ask{Act: Mark, Text: "wet hands", Who: "ann"})
		fix := func(target, to string) Ask {
			return Ask{Act: Correct, Correction: rig.Correction{Target: target, New: to, Who: "ann", Why: "read wrongly"}}
		}
		b.refuses(fix("weighing.9", "1"), "found no weighing 9 in this session, expected one of 1, 3")
		b.refuses(fix("weighing.3", "much"), "expected a net mass in grams")
		b.refuses(fix("void", "moon"), "expected one of rig, operator, no")
		b.do(fix("weighing.3", "499"))
		b.do(fix("void", "rig"))
		b.do(Ask{Act: Check, Check: rig.Check{Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1001), Who: "ann"}})
		b.refuses(Ask{Act: Check, Check: rig.Check{Kind: "moon", Found: rig.Fig(1)}}, "expected one of sound, scale")
		b.refuses(Ask{Act: Check, Check: rig.Check{Kind: rig.CheckScale}}, "found no value")
		if w := b.engine.Now().Scale.Weighings[1]; w.CorrectedG.V != 499 || w.NetG.V != 500 {
			t.Errorf("corrected: %+v", w)
		}
		b.do(Ask{Act: End})
		f := facts(t, b.closed[0].dir)
		if len(f.Weighings) != 2 || len(f.Corrections) != 3 || len(f.Checks) != 1 || len(f.Remarks) != 1 || f.Remarks[0].Who != "ann" {
			t.Fatalf("on record: %+v", f)
		}
		if k := f.Corrections[0]; k.Target != "weighing.1" || k.New != "withdrawn" || k.Old != "500" || k.Who != "ann" || k.Why == "" || k.At.IsZero() {
			t.Errorf("the undo: %+v", k)
		}
		if k := f.Corrections[1]; k.Target != "weighing.3" || k.New != "499" || k.Old != "500" {
			t.Errorf("the correction: %+v", k)
		}
	})
}

// A load that was taken by force before it came to rest is not taken again as what comes next.
func TestForcedIsNotTakenAgain(t *testing.T) {
	set := weighSetup()
	set.Procedure.Items[1].MassG = 500 // as much bone as carrot: nothing else tells them apart
	onTable(t, set, true, func(b *bench, d *table) {
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.mu.Lock()
		d.massG = 700
		d.mu.Unlock()
		time.Sleep(300 * time.Millisecond)
		b.do(Ask{Act: Weigh, Force: true})
		time.Sleep(6 * time.Second)
		s := b.engine.Now().Scale
		if len(s.Weighings) != 1 || s.Expect.Item != "bone" || s.Capture == nil || !strings.Contains(s.Capture.Why, "by force just before") {
			t.Errorf("weighings %+v, capture %+v", s.Weighings, s.Capture)
		}
		d.put(0)
		d.put(700)
		if s := b.engine.Now().Scale; len(s.Weighings) != 2 || s.Last.Item != "bone" {
			t.Errorf("the next load: %+v", s.Last)
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
		if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: rig.Chamber, TareG: rig.Fig(0)}}).Weighing; math.Abs(w.DrainedS.V-25) > 0.5 || w.Timing != "early" {
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
			if w := b.do(Ask{Act: Weigh, Expect: Expect{Role: r, TareG: rig.Fig(0)}}).Weighing; w.Timing != timing {
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

// The acts over HTTP: what is asked wrongly is told as that, what stands against it too, and a weighing
// comes back as JSON.
func TestWeighOverHTTP(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		d.put(700)
		long := strings.Repeat("x", 1001)
		for name, c := range map[string]struct {
			body string
			code int
			text string
		}{
			"a key of another act": {`{"act":"end","force":true}`, 400, "expected of act end only act, who"},
			"a key that is none":   {`{"act":"weigh","rolle":"charge"}`, 400, "rolle"},
			"a key in capitals":    {`{"act":"weigh","Role":"charge"}`, 400, `found key "Role"`},
			"more than an act":     {`{"act":"end"} {"act":"end"}`, 400, "something stands behind it"},
			"no object":            {`["end"]`, 400, "no act"},
			"a long note":          {`{"act":"weigh","note":"` + long + `"}`, 400, "found 1001 bytes of note"},
			"a long name":          {`{"act":"weigh","who":"` + long[:101] + `"}`, 400, "found 101 bytes of who"},
			"an escape":            {`{"act":"mark","text":"a\u001b[2Jb"}`, 400, "what is no text"},
			"a vessel of no code":  {`{"act":"weigh","vessel":"Bowl 1"}`, 400, "found vessel"},
			"a negative tare":      {`{"act":"weigh","tare_g":-1}`, 400, "found tare_g -1"},
			"a tare in words":      {`{"act":"weigh","tare_g":"1"}`, 400, "no act"},
			"a huge tare":          {`{"act":"weigh","tare_g":1e300}`, 400, "found tare_g"},
			"a negative run":       {`{"act":"void","cause":"rig","run":-1}`, 400, "found run -1"},
			"no role":              {`{"act":"weigh"}`, 409, "found no role"},
			"nothing to correct":   {`{"act":"void","cause":"rig","why":"x","who":"ann"}`, 409, "quern correct SESSION"},
		} {
			if code, text := b.ask("POST", "/act", c.body, nil); code != c.code || !strings.Contains(text, c.text) {
				t.Errorf("%s: %d %s, want %d %q", name, code, text, c.code, c.text)
			}
		}
		post := func(body string, into any) {
			t.Helper()
			code, text := b.ask("POST", "/act", body, nil)
			if code != http.StatusOK {
				t.Fatalf("%s: %d %s", body, code, text)
			}
			if err := json.Unmarshal([]byte(text), into); err != nil {
				t.Fatalf("%s: %v", text, err)
			}
		}
		var x ExpectNow
		post(`{"act":"expect","role":"charge","item":"carrot","vessel":"bowl-1"}`, &x)
		if x.TargetG.V != 500 || x.ToleranceG.V != 5 || x.NetG.V != 500 || x.TareG.V != 200 {
			t.Errorf("expected: %+v", x)
		}
		var w WeighingNow
		post(`{"act":"weigh","role":"charge","item":"carrot","tare_g":199.5,"who":"ann","note":"cold\n"}`, &w)
		if w.Fact != 1 || w.NetG.V != 500.5 || w.TareFrom != "given" || w.Who != "ann" || w.Note != "cold" {
			t.Errorf("weighed: %+v", w)
		}
		var k OnRecord
		post(`{"act":"void","cause":"operator","why":"fed wrong","who":"ann"}`, &k)
		if k.Fact != 2 || k.Target != "void" || k.New != "operator" {
			t.Errorf("void: %+v", k)
		}
		post(`{"act":"check","kind":"scale","nominal":1000,"found":1001,"who":"ann","note":"M1"}`, &k)
		post(`{"act":"undo","why":"wrong bowl","who":"ann"}`, &k)
		if k.Target != "weighing.1" || k.New != "withdrawn" {
			t.Errorf("undo: %+v", k)
		}
		var dr DrainNow
		post(`{"act":"drain"}`, &dr)
		var s Snapshot
		_, text := b.ask("GET", "/status", "", nil)
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			t.Fatal(err)
		}
		if s.Scale == nil || s.Scale.MassG.V != 700 || !s.Scale.Ready || !s.Scale.AtRest || len(s.Scale.Weighings) != 1 || s.Scale.Expect.Item != "carrot" || s.Scale.Drain == nil {
			t.Errorf("status: %s", text)
		}
		b.do(Ask{Act: End})
		if f := facts(t, b.closed[0].dir); len(f.Checks) != 1 || f.Checks[0].Found.V != 1001 || f.Corrections[1].Why != "wrong bowl" {
			t.Errorf("on record: %+v", f)
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
