package live

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig"
)

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
		// Pressed twice, or on two screens, it is one weighing; a remark is one more thing to say.
		if again := b.do(Ask{Act: Weigh, Expect: charge("carrot"), Text: "peeled"}).Weighing; again.Fact != 1 || len(b.engine.Now().Scale.Weighings) != 1 {
			t.Errorf("pressed twice: %+v", again)
		}
		if w := b.do(Ask{Act: Weigh, Expect: charge("carrot"), Text: "of yesterday"}).Weighing; w.Fact != 2 {
			t.Errorf("with another remark: %+v", w)
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
		// What lies there untouched is not another thing as well, and nothing is no charge.
		b.refuses(Ask{Act: Weigh, Expect: charge("carrot")}, "the 315 g on the pan were taken as weighing 5, charge bone, and nothing was moved since: put carrot on")
		d.put(215)
		b.refuses(Ask{Act: Weigh, Expect: charge("bone")}, "0 g net is nothing to be fed: put bone on the pan")
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

// What was taken back does not count, is expected again, and stays on record.
func TestUndoAndCorrect(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		b.refuses(Ask{Act: Undo, Who: "ann"}, "no session is open")
		b.refuses(Ask{Act: Void}, "no session is open")
		b.do(Ask{Act: ToWeigh, Expect: charge("carrot")})
		d.put(700)
		b.refuses(Ask{Act: Weigh}, "was taken as weighing 1, charge carrot, 500 g net: put bone on")
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
			"a key of another act": {`{"act":"end","note":"x"}`, 400, "expected of act end only act, who, force"},
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
