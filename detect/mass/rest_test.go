package mass_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"gonum.org/v1/gonum/stat"

	"quern/detect/mass"
	"quern/rig"
)

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
	if s := k.Now().SlopeGPerMin; !(math.Abs(s.V+3) <= 0.01) {
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
	if n := k.Now(); n.Ready || !(math.Abs(n.RestS-0.4) <= 1e-9) {
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
