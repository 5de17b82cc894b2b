package mass_test

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"quern/detect/mass"
	"quern/rig"
)

// put is a load placed within a third of a second.
func put(atS, toG float64) act { return act{kind: "put", atS: atS, overS: 0.3, toG: toG} }

// plain is a usual shop scale.
var plain = device{rateHz: 10, divisionG: 1, noise: 0.1}

func with(change func(*device)) device {
	d := plain
	change(&d)
	return d
}

// TestTraces takes weighings from scripted traces. Each is written as its mass; drained: any mass.
func TestTraces(t *testing.T) {
	two := []act{put(5, 500), put(15, 730)}
	for _, c := range []struct {
		name string
		dev  device
		wet  bool
		acts []act
		want string
	}{
		{"an empty pan", plain, false, nil, ""},
		{"plain placement", plain, false, []act{put(5, 500)}, "500"},
		{"a bowl that stood there before", plain, false, []act{put(-9, 500)}, ""},
		{"two placements", plain, false, two, "500 730"},
		{"two placements at once", plain, false, []act{put(5, 500), put(5.6, 730)}, "730"},
		{"all off again", plain, false, []act{put(5, 500), put(15, 0)}, "500 0"},
		{"placed before it first came to rest", plain, false, []act{put(0.5, 500), put(20, 730)}, "730"},
		{"drips while the motor runs", plain, false, []act{put(-9, 500), {kind: "motor", atS: 5, overS: 40}, {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, ""},
		{"a bowl swapped for another", plain, false, []act{put(-9, 500), put(5, 0), put(5.5, 640)}, "640"},
		{"a bowl swapped slowly", plain, false, []act{put(-9, 500), put(5, 0), put(12, 640)}, "0 640"},
		{"less than a load", plain, false, []act{put(-9, 500), put(5, 503)}, ""},
		{"less than a load, twice", plain, false, []act{put(-9, 500), put(5, 504), put(15, 508)}, "508"},
		{"bump", plain, false, []act{put(-9, 500), {kind: "bump", atS: 5, forceG: 80}}, ""},
		{"hand leaning", plain, false, []act{put(-9, 500), {kind: "hand", atS: 5, overS: 6, forceG: 150}}, ""},
		{"an appliance beside it", plain, false, []act{put(-9, 500), {kind: "vibrate", atS: 5, overS: 20, forceG: 6}}, ""},
		{"a load while an appliance shakes it", plain, false, []act{{kind: "vibrate", atS: 5, overS: 20, forceG: 6}, put(10, 500)}, "500"},
		{"motor on", plain, false, []act{{kind: "motor", atS: 5, overS: 20, forceG: 6}}, ""},
		{"a load while the motor runs", plain, false, []act{{kind: "motor", atS: 5, overS: 20}, put(10, 500)}, "500"},
		{"creep", plain, false, []act{put(-9, 500), {kind: "creep", atS: 5, overS: 40, forceG: -20}}, ""},
		{"drips off what stands there", plain, false, []act{put(-9, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, ""},
		{"the same, 0.1 g", with(func(d *device) { d.divisionG = 0.1 }), false, []act{put(-9, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, ""},
		{"a bump while it drips, 0.1 g", with(func(d *device) { d.divisionG = 0.1 }), false,
			[]act{put(-9, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}, {kind: "bump", atS: 8, forceG: 50}}, ""},
		{"placed wet, 20 g/min falling to nothing", plain, true, []act{put(5, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, "drained"},
		{"the same, 0.1 g", with(func(d *device) { d.divisionG = 0.1 }), true, []act{put(5, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, "drained"},
		{"the same, not told that it is wet", plain, false, []act{put(5, 500), {kind: "drain", atS: 5, drainG: 10, drainS: 30}}, "500"},
		{"below nothing", plain, false, []act{put(-9, 500), {kind: "tare", atS: -5, toG: 500}, put(5, -300)}, ""},
		{"readings missing", plain, false, []act{{kind: "gap", atS: 4, overS: 9}, put(5, 500)}, "500"},
		{"no mark", with(func(d *device) { d.mark = "" }), false, two, "500 730"},
		{"an honest mark", with(func(d *device) { d.mark = "honest" }), false, two, "500 730"},
		{"a mark that always says stable", with(func(d *device) { d.mark = "yes" }), false,
			append(two[:2:2], act{kind: "vibrate", atS: 25, overS: 10, forceG: 6}), "500 730"},
		{"a mark that never does", with(func(d *device) { d.mark = "no" }), false, two, ""},
		{"keeps its last stable value", with(func(d *device) { d.hold = true }), false, two, "500 730"},
		{"filter of 2 s", with(func(d *device) { d.filterS = 2 }), false, []act{put(5, 500), put(35, 730)}, "500 730"},
		{"average of 2 s", with(func(d *device) { d.averageS = 2 }), false, two, "500 730"},
		{"2 Hz", with(func(d *device) { d.rateHz = 2 }), false, two, "500 730"},
		{"50 Hz", with(func(d *device) { d.rateHz = 50 }), false, two, "500 730"},
		{"200 Hz", with(func(d *device) { d.rateHz = 200 }), false, two, "500 730"},
		{"0.1 g", with(func(d *device) { d.divisionG = 0.1 }), false, two, "500 730"},
		{"5 g", with(func(d *device) { d.divisionG = 5 }), false, two, "500 730"},
		{"steps of a tenth of an ounce", with(func(d *device) { d.divisionG = 2.8349523125 }), false, two, "499 729"},
	} {
		s := scene{device: c.dev, acts: c.acts, endS: 60, seed: 3, wet: c.wet}
		if c.wet {
			s.endS = 150
		}
		got, _ := s.take(s.readings())
		var words []string
		for _, x := range got {
			word := fmt.Sprintf("%.0f", x.GrossG)
			truth := s.massG(x.AtS)
			if math.Abs(x.GrossG-truth) > s.divisionG*1.001 || !x.Auto || x.Shaken || x.Forced || !x.StepG.OK || x.RestS < 0.99 {
				t.Errorf("%s: %+v, truth %.2f g", c.name, x, truth)
			}
			if slope := -20 * math.Exp(-(x.AtS-5)/30); c.wet {
				word = "drained"
				if slope < -9 || math.Abs(x.SlopeGPerMin.V-slope) > 3 {
					t.Errorf("%s: %+v, true slope %.1f g/min", c.name, x, slope)
				}
			} else if math.Abs(x.GrossG-math.Round(truth/s.divisionG)*s.divisionG) > 0.01+s.divisionG*1.001 {
				t.Errorf("%s: %+v, truth %.2f g", c.name, x, truth)
			} else if math.Abs(truth-math.Round(truth/10)*10) < 1 && s.divisionG <= 1 {
				word = fmt.Sprintf("%.0f", math.Round(x.GrossG/5)*5)
			}
			words = append(words, word)
		}
		want := strings.Fields(c.want)
		if len(want) != len(words) {
			t.Errorf("%s: took %v, want %v", c.name, words, want)
		}
		for i := range min(len(want), len(words)) {
			var a, b float64
			fmt.Sscan(words[i], &a)
			fmt.Sscan(want[i], &b)
			if math.Abs(a-b) > s.divisionG*1.001 || (words[i] == "drained") != (want[i] == "drained") {
				t.Errorf("%s: took %v, want %v", c.name, words, want)
			}
		}
	}
}

// TestRestIsPans: a taker is never ready when a pan says that it moves, and both say the same of rest.
// Looking at it, and presses that are refused, change nothing.
func TestRestIsPans(t *testing.T) {
	readyN, shakyN := 0, 0
	for seed := range uint64(200) {
		s, _ := randomScene(seed)
		in := s.readings()
		want, _ := s.take(in)
		pan, taker := mass.New(s.divisionG), mass.NewTaker(s.settings())
		r := rand.New(rand.NewPCG(seed, 9))
		var got []mass.Candidate
		for _, x := range in {
			p := pan.Push(x.Reading)
			if c, ok := taker.Push(x.Reading, x.motor); ok {
				got = append(got, c)
			}
			n := taker.Now()
			if n.AtRest == p.Shaky || n.Ready && (p.Shaky || n.Motor || n.RestS < 0.99 || n.SpreadG.V > s.divisionG*1.001) {
				t.Fatalf("seed %d: taker %+v, pan %+v", seed, n, p)
			}
			if n.Ready {
				readyN++
			} else if taker.Take(x.AtS, false); r.IntN(2) == 0 && p.Shaky {
				shakyN++
			}
		}
		for i := range want {
			if i >= len(got) || got[i] != want[i] {
				t.Fatalf("seed %d: looked at, it took\n%+v\nelse\n%+v", seed, got, want)
			}
		}
	}
	if readyN == 0 || shakyN == 0 {
		t.Errorf("%d ready, %d shaky: the scenes try nothing", readyN, shakyN)
	}
}

// settle pushes readings ten a second until untilS.
func settle(k *mass.Taker, fromS, untilS float64, v func(float64) float64, mark rig.Mark, motor bool) {
	for i := 0; ; i++ {
		atS := fromS + float64(i)/10
		if atS > untilS+1e-9 {
			return
		}
		k.Push(rig.Reading{AtS: atS, Value: v(atS), Stable: mark}, motor)
	}
}

func level(g float64) func(float64) float64 { return func(float64) float64 { return g } }

// TestTake presses the button.
func TestTake(t *testing.T) {
	saw := func(atS float64) float64 { return 500 + math.Mod(math.Round(atS*10), 4) }
	for _, c := range []struct {
		name   string
		v      func(float64) float64
		mark   rig.Mark
		motor  bool
		fromS  float64
		atS    float64
		set    mass.Settings
		code   string
		text   string
		forced bool
	}{
		{"at rest", level(500), rig.Yes, false, 0, 5, mass.Settings{}, "", "", false},
		{"moving", saw, rig.Yes, false, 0, 5, mass.Settings{}, "moving", "pan moves by 3 g: wait", true},
		{"moving, tenths", func(atS float64) float64 { return saw(atS) / 10 }, rig.Yes, false, 0, 5, mass.Settings{DivisionG: 0.1}, "moving", "pan moves by 0.3 g: wait", true},
		{"motor", level(500), rig.Yes, true, 0, 5, mass.Settings{}, "motor", "the motor runs: readings are shaken; stop it, or take it marked", true},
		{"stale", level(500), rig.Yes, false, 0, 9, mass.Settings{}, "no-reading", "no reading for 4 s: look whether the scale is on and plugged in", false},
		{"none", level(500), rig.Yes, false, 6, 5, mass.Settings{}, "no-reading", "no reading yet: look whether the scale is on and plugged in", false},
		{"mark", level(500), rig.No, false, 0, 5, mass.Settings{}, "mark", "the scale's own mark says that it moves: wait; if that stays so, look for a draught or a slanting table", true},
		{"negative", level(-3), rig.Yes, false, 0, 5, mass.Settings{}, "negative", "pan shows -3 g, less than nothing: empty it and set it to zero", true},
		{"overload", level(500), rig.Yes, false, 0, 5, mass.Settings{MaxG: 400}, "overload", "pan shows 500 g, over the scale's 400 g: take some off, or weigh it in parts", true},
		{"too soon", level(500), rig.Yes, false, 4.4, 5, mass.Settings{}, "resting", "pan at rest for 0.6 s of 1.0 s: wait", true},
		{"too few", level(500), rig.Yes, false, 4.4, 5, mass.Settings{RestS: 0.5, Readings: 9}, "resting", "7 readings at rest of 9: wait", true},
	} {
		k := mass.NewTaker(c.set)
		settle(k, c.fromS, 5, c.v, c.mark, c.motor)
		got, err := k.Take(c.atS, false)
		if c.code == "" {
			if err != nil || got.GrossG != 500 || got.AtS != 5 || got.Stable != rig.Yes || got.SpreadG != rig.Fig(0) || got.SlopeGPerMin != rig.Fig(0) || got.Forced || got.Auto || got.Shaken || got.StepG.OK {
				t.Errorf("%s: %+v, %v", c.name, got, err)
			}
			w := got.Weighing()
			if w.GrossG != rig.Fig(500) || w.AtS != 5 || w.Stable != rig.Yes || w.SpreadG != rig.Fig(0) || w.NetG.OK {
				t.Errorf("%s: weighing %+v", c.name, w)
			}
			continue
		}
		var no *mass.NotReady
		if !errors.As(err, &no) || no.Code != c.code || no.Error() != c.text {
			t.Errorf("%s: got %v, want %s", c.name, err, c.text)
		}
		got, err = k.Take(c.atS, true)
		if (err == nil) != c.forced {
			t.Errorf("%s: forced: %v", c.name, err)
		}
		if err == nil && (!got.Forced || got.Why != no.Found || got.Shaken != c.motor || got.GrossG != c.v(5) || got.Weighing().Note != got.Why) {
			t.Errorf("%s: forced: %+v", c.name, got)
		}
	}
}

// TestTakenOnce: a change that the button took is not taken again by itself, and one that was forced
// too soon is.
func TestTakenOnce(t *testing.T) {
	for _, c := range []struct {
		restS, pressS float64
		want          int
	}{{1, 12, 1}, {1, 5.5, 1}, {3, 7, 1}} {
		k := mass.NewTaker(mass.Settings{RestS: c.restS})
		n := 0
		for i := range 200 {
			atS, v := float64(i)/10, 0.0
			if atS >= 5 {
				v = 500
			}
			if _, ok := k.Push(rig.Reading{AtS: atS, Value: v}, false); ok {
				n++
			}
			if math.Abs(atS-c.pressS) < 0.01 {
				k.Take(atS, true)
			}
		}
		if n != c.want {
			t.Errorf("pressed at %g s with a rest of %g s: taken %d times by itself, want %d", c.pressS, c.restS, n, c.want)
		}
	}
	k := mass.NewTaker(mass.Settings{})
	k.Wet(true)
	drip := func(atS float64) float64 { return math.Round(500 - 0.3*(atS-5)) }
	settle(k, 0, 4.9, level(0), rig.Yes, false)
	settle(k, 5, 9, drip, rig.Yes, false)
	if !k.Now().Pending {
		t.Errorf("placed wet: %+v", k.Now())
	}
	if c, err := k.Take(9, false); err != nil || c.GrossG != 499 || k.Now().Pending {
		t.Fatalf("%+v, %v, %+v", c, err, k.Now())
	}
	settle(k, 9.1, 15, drip, rig.Yes, false)
	for i := range 200 {
		if c, ok := k.Push(rig.Reading{AtS: 15 + float64(i)/10, Value: 497}, false); ok {
			t.Errorf("taken again: %+v", c)
		}
	}
}

// TestWaitAfterMotor: what stood still while the motor ran must do so again after it.
func TestWaitAfterMotor(t *testing.T) {
	k := mass.NewTaker(mass.Settings{})
	settle(k, 0, 4.9, level(0), rig.Yes, false)
	settle(k, 5, 10, level(500), rig.Yes, true)
	for i := range 30 {
		atS := 10.1 + float64(i)/10
		if c, ok := k.Push(rig.Reading{AtS: atS, Value: 500}, false); ok != (i == 10) || ok && (c.Shaken || math.Abs(c.RestS-1) > 1e-9) {
			t.Errorf("%.1f s after the motor: %+v, %v", atS-10, c, ok)
		}
	}
}

// TestLeastStep: the least change is 5 g or 5 divisions, whichever is more, and never 2 divisions.
func TestLeastStep(t *testing.T) {
	for _, c := range []struct {
		set   mass.Settings
		stepG float64
		want  bool
	}{
		{mass.Settings{}, 4, false}, {mass.Settings{}, 5, true}, {mass.Settings{}, -5, true},
		{mass.Settings{DivisionG: 0.1}, 4.9, false}, {mass.Settings{DivisionG: 0.1}, 5, true},
		{mass.Settings{DivisionG: 5}, 20, false}, {mass.Settings{DivisionG: 5}, 25, true},
		{mass.Settings{DivisionG: 5, MinStepG: 5}, 10, false}, {mass.Settings{DivisionG: 5, MinStepG: 5}, 15, true},
		{mass.Settings{MinStepG: 50}, 49, false}, {mass.Settings{MinStepG: 50}, 50, true},
		{mass.Settings{MaxG: 600}, 100, true}, {mass.Settings{MaxG: 600}, 101, false},
	} {
		k, taken := mass.NewTaker(c.set), false
		settle(k, 0, 4.9, level(500), rig.Yes, false)
		for i := range 60 {
			got, ok := k.Push(rig.Reading{AtS: 5 + float64(i)/10, Value: 500 + c.stepG}, false)
			if ok && (taken || got.StepG != rig.Fig(c.stepG)) {
				t.Errorf("%+v: %+v", c, got)
			}
			taken = taken || ok
		}
		if taken != c.want {
			t.Errorf("%+v: taken %v", c, taken)
		}
	}
}

// TestLongGap: a load that went during a gap is one, and what may have dripped meanwhile is none.
func TestLongGap(t *testing.T) {
	for _, c := range []struct {
		gapS, stepG float64
		want        bool
	}{{60, -50, true}, {60, -8, false}, {3, -8, true}} {
		k, taken := mass.NewTaker(mass.Settings{}), false
		settle(k, 0, 5, level(500), rig.Yes, false)
		for i := range 60 {
			_, ok := k.Push(rig.Reading{AtS: 5 + c.gapS + float64(i)/10, Value: 500 + c.stepG}, false)
			taken = taken || ok
		}
		if taken != c.want {
			t.Errorf("%+v: taken %v", c, taken)
		}
	}
}

// TestFast: at any rate the past is ten seconds.
func TestFast(t *testing.T) {
	k := mass.NewTaker(mass.Settings{DivisionG: 0.1})
	for i := range 30000 {
		atS := float64(i) / 2000
		k.Push(rig.Reading{AtS: atS, Value: 800 - 0.05*atS}, false)
	}
	if s := k.Now().SlopeGPerMin; math.Abs(s.V+3) > 0.01 {
		t.Errorf("%+v, want -3 g/min", s)
	}
}

// TestBadReadings: what is no number or goes back in time counts as none, and breaks nothing.
func TestBadReadings(t *testing.T) {
	s := scene{device: plain, acts: []act{put(5, 500)}, endS: 20}
	in := s.readings()
	want, _ := s.take(in)
	k := mass.NewTaker(s.settings())
	var got []mass.Candidate
	for i, r := range in {
		for _, bad := range []rig.Reading{{AtS: r.AtS, Value: math.NaN()}, {AtS: r.AtS, Value: math.Inf(1)}, {AtS: math.NaN(), Value: 9}, {AtS: math.Inf(1), Value: 9}, {AtS: r.AtS - 3, Value: 9}} {
			if i > 0 {
				k.Push(bad, false)
			}
		}
		if c, ok := k.Push(r.Reading, false); ok {
			got = append(got, c)
		}
	}
	if len(want) != 1 || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// TestGapRestartsTheWait: rest before a gap does not count after it.
func TestGapRestartsTheWait(t *testing.T) {
	k := mass.NewTaker(mass.Settings{GapS: 0.5})
	settle(k, 0, 5, level(500), rig.Yes, false)
	settle(k, 6, 6.4, level(500), rig.Yes, false)
	if n := k.Now(); n.Ready || math.Abs(n.RestS-0.4) > 1e-9 {
		t.Errorf("%+v", n)
	}
	settle(k, 6.5, 7, level(500), rig.Yes, false)
	if n := k.Now(); !n.Ready {
		t.Errorf("%+v", n)
	}
}

// The slope is the least-squares line's, by gonum's stat.LinearRegression, over the last 10 s.
func TestSlope(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	k := mass.NewTaker(mass.Settings{DivisionG: 0.1})
	var x, y []float64
	for i := range 400 {
		atS := float64(i)*0.1 + 0.04*r.Float64()
		v := math.Round((800-0.3*atS+0.1*r.NormFloat64())*10) / 10
		k.Push(rig.Reading{AtS: atS, Value: v}, false)
		x, y = append(x, atS), append(y, v)
		for x[0] < atS-10 {
			x, y = x[1:], y[1:]
		}
		if _, want := stat.LinearRegression(x, y, nil, false); len(x) > 20 && math.Abs(k.Now().SlopeGPerMin.V-60*want) > 1e-6 {
			t.Fatalf("at %.1f s: %+v, want %.9f g/min", atS, k.Now().SlopeGPerMin, 60*want)
		}
	}
	settle(k, 41, 41.5, level(400), rig.Yes, false) // a load off: the line begins anew
	if s := k.Now().SlopeGPerMin; s.OK || s.Why != "slope-too-short" {
		t.Errorf("just after a change: %+v", s)
	}
	settle(k, 41.6, 50, level(400), rig.Yes, false)
	if s := k.Now().SlopeGPerMin; s != rig.Fig(0) {
		t.Errorf("well after a change: %+v", s)
	}
}

// rule returns a value of the table of scale rules.
func rule(t *testing.T, subject, item string) string {
	f, err := os.Open("../../testdata/reference/scale_rules.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] == subject && row[1] == item {
			return row[2]
		}
	}
	t.Fatalf("no rule %q, %q", subject, item)
	return ""
}

// The seconds after a weighing are judged by OIML R 76-1:2006 4.4.2 and A.4.12: within 1 e, two
// adjacent values, for 5 s (the table's rows, from memory).
func TestAfter(t *testing.T) {
	const stable = "stable for printing or storing"
	e := 0.0
	fmt.Sscan(rule(t, stable, "reading may differ from the final value by at most"), &e)
	if rule(t, stable, "values seen in the 5 s after") != "no more than two adjacent values" || e != 1 {
		t.Fatal("the rules are others")
	}
	for _, c := range []struct {
		name  string
		v     func(age float64) float64
		held  rig.Mark
		worst float64
	}{
		{"stays", level(0), rig.Yes, 0},
		{"one e to and fro", func(age float64) float64 { return e * math.Mod(math.Round(age*10), 2) }, rig.Yes, e},
		{"one e on both sides", func(age float64) float64 { return e * math.Round(math.Sin(age)) }, rig.No, e},
		{"drains", func(age float64) float64 { return -math.Round(age / 2) }, rig.No, 2},
		{"moves after 5 s only", func(age float64) float64 { return -2 * math.Floor(age/5.05) }, rig.Yes, 0},
		{"taken off too soon", func(age float64) float64 { return -400 * math.Floor(age/3) }, rig.Unsaid, 0},
	} {
		k := mass.NewTaker(mass.Settings{})
		settle(k, 0, 10, level(500), rig.Unsaid, false)
		if k.After() != (mass.After{}) {
			t.Errorf("%s: before any: %+v", c.name, k.After())
		}
		if _, err := k.Take(10, false); err != nil {
			t.Fatal(err)
		}
		until := map[rig.Mark]float64{rig.Unsaid: 13.5, rig.Yes: 20, rig.No: 20}[c.held]
		settle(k, 10.1, until, func(atS float64) float64 { return 500 + c.v(atS-10) }, rig.Unsaid, false)
		a := k.After()
		if a.OfS != 10 || a.Held != c.held || math.Abs(a.WorstG-c.worst) > 1e-9 || (a.Held == rig.Yes) != (a.WatchedS == 5) {
			t.Errorf("%s: %+v", c.name, a)
		}
	}
}

// TestMemory: a taker that has settled in allocates nothing more.
func TestMemory(t *testing.T) {
	k := mass.NewTaker(mass.Settings{})
	i := 0
	push := func() {
		for range 100 {
			i++
			k.Push(rig.Reading{AtS: float64(i) / 80, Value: float64(500 + i/4000*100 + i%2)}, false)
			k.Now()
		}
	}
	for range 20 {
		push()
	}
	if n := testing.AllocsPerRun(1000, push); n > 0 {
		t.Errorf("%g allocations in 100 readings", n)
	}
}

func ExampleTaker() {
	k := mass.NewTaker(mass.Settings{DivisionG: 1})
	for i := range 100 { // a bowl of 350 g is put down after 3 s
		r := rig.Reading{AtS: float64(i) / 10}
		if i >= 30 {
			r.Value = 350
		}
		if c, ok := k.Push(r, false); ok {
			fmt.Printf("at %.1f s: %.0f g, at rest for %.1f s\n", c.AtS, c.GrossG, c.RestS)
		}
		if i == 33 {
			_, err := k.Take(r.AtS, false)
			fmt.Println(err)
		}
	}
	// Output:
	// pan moves by 350 g: wait
	// at 4.0 s: 350 g, at rest for 1.0 s
}

func BenchmarkTaker(b *testing.B) {
	k := mass.NewTaker(mass.Settings{})
	for i := range b.N {
		k.Push(rig.Reading{AtS: float64(i) / 50, Value: float64(500 + i/1000*50 + i%2)}, false)
	}
}
