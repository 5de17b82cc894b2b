package mass_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

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
			if !(math.Abs(x.GrossG-truth) <= s.divisionG*1.001) || !x.Auto || x.Shaken || x.Forced || !x.StepG.OK || x.RestS < 0.99 {
				t.Errorf("%s: %+v, truth %.2f g", c.name, x, truth)
			}
			if slope := -20 * math.Exp(-(x.AtS-5)/30); c.wet {
				word = "drained"
				if slope < -9 || !(math.Abs(x.SlopeGPerMin.V-slope) <= 3) {
					t.Errorf("%s: %+v, true slope %.1f g/min", c.name, x, slope)
				}
			} else if !(math.Abs(x.GrossG-math.Round(truth/s.divisionG)*s.divisionG) <= 0.01+s.divisionG*1.001) {
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
			if !(math.Abs(a-b) <= s.divisionG*1.001) || (words[i] == "drained") != (want[i] == "drained") {
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
