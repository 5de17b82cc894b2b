package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// Neither labels nor leaders touch, whatever comes, and rows are kept.
func TestPlace(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	wide := func(s string) float64 { return 5 * float64(len([]rune(s))) }
	words := []string{"motor start", "motor stop", "stall start", "stall end", "trip (presumed)"}
	for _, n := range []int{0, 1, 2, 20, 300, 5000} {
		var ls []label
		for range n {
			w := words[rng.IntN(len(words))]
			ls = append(ls, label{x: 1000 * rng.Float64(), word: w, grave: strings.HasPrefix(w, "stall")})
		}
		ls = append(ls, label{x: 500, word: "limit 4:00.0", strong: true})
		slices.SortStableFunc(ls, func(a, b label) int { return int(math.Copysign(1, a.x-b.x)) })
		got := place(ls, 9, wide)
		limit := false
		for i, a := range got {
			limit = limit || a.word == "limit 4:00.0" && a.x == 500
			if a.row < 0 || a.row >= 9 {
				t.Errorf("%d labels: row %d", n, a.row)
			}
			for _, b := range got[i+1:] {
				if b.row >= a.row && a.x+a.wide > b.x {
					t.Fatalf("%d labels: %+v is crossed by %+v or its leader", n, a, b)
				}
			}
		}
		if !limit {
			t.Errorf("%d labels: the limit has lost its label", n)
		}
		if n <= 2 && len(got) != n+1 {
			t.Errorf("%d labels were joined without need: %v", n, got)
		}
	}
}

func TestJoinWords(t *testing.T) {
	for _, c := range []struct{ words, want string }{
		{"load start", "load start"},
		{"stall start,stall end", "stall"},
		{"stall start,stall end,stall start,stall end", "stall ×2"},
		{"motor stop,motor start", "motor stop, start"},
		{"motor start,load start", "motor start, load start"},
		{"motor start,motor stop,motor start", "motor on/off ×3"},
		{"overload start,overload end,trip (presumed)", "overload, trip (presumed)"},
		{"motor start,load start,stall start,stall end,motor stop", "stall + 3 more"},
		{"stall start,trip (presumed),motor start,load start", "trip (presumed) + 3 more"},
		{"motor start,load start,chamber clear", "3 events"},
	} {
		if got := joinWords(strings.Split(c.words, ",")); got != c.want {
			t.Errorf("%s: got %q, want %q", c.words, got, c.want)
		}
	}
}

func TestTimeTicks(t *testing.T) {
	for _, c := range []struct {
		from, to  float64
		unit      string
		first     string
		last      string
		countFrom int
	}{
		{0, 15, "s", "0", "14", 8},
		{0, 1, "s", "0.0", "1.0", 6},
		{0, 195, "m:ss", "0:00", "3:15", 10},
		{400, 403, "m:ss.s", "6:40.0", "6:43.0", 6},
		{0, 1600, "m:ss", "0:00", "26:00", 10},
		{0, 36000, "h:mm", "0:00", "10:00", 10},
		{0, 1e18, "h:mm", "0:00", "", 2},
	} {
		ts, unit := timeTicks(axis{from: c.from, to: c.to}, 14)
		if unit != c.unit || ts[0].text != c.first || c.last != "" && ts[len(ts)-1].text != c.last || len(ts) < c.countFrom || len(ts) > 15 {
			t.Errorf("%g to %g: %s %v", c.from, c.to, unit, ts)
		}
		for i := 1; i < len(ts); i++ {
			if ts[i].text == ts[i-1].text || ts[i].at <= ts[i-1].at {
				t.Errorf("%g to %g: two ticks alike: %v", c.from, c.to, ts)
			}
		}
	}
}

// A level axis spans 50 to 100 dB in whole tens, so that no ripple fills a panel (a choice of ours
// in the spirit of IEC 60263, from memory).
func TestLevelAxis(t *testing.T) {
	for _, c := range []struct{ lo, hi, from, to float64 }{
		{41.2, 94.3, 40, 100}, {71, 72, 30, 80}, {-30, 90, 0, 100}, {0, 0, -40, 10},
	} {
		if a := levelAxis(c.lo, c.hi); a.from != c.from || a.to != c.to {
			t.Errorf("%g to %g dB: axis %g to %g, want %g to %g", c.lo, c.hi, a.from, a.to, c.from, c.to)
		}
	}
}

func TestLines(t *testing.T) {
	nan := math.NaN()
	at := axis{from: 0, to: 10, p0: 0, p1: 1000}
	for _, c := range []struct {
		name  string
		s     Series
		lines int
	}{
		{"whole", Series{AtS: []float64{0, 1, 2, 3}, V: []float64{1, 2, 3, 4}}, 1},
		{"broken by a gap", Series{AtS: []float64{0, 1, 2, 3, 4}, V: []float64{1, 2, nan, 4, 4}}, 2},
		{"a lone value is seen", Series{AtS: []float64{0, 1, 2, 3, 4}, V: []float64{nan, nan, 5, nan, nan}}, 1},
		{"broken where nothing was recorded", Series{AtS: []float64{0, .1, .2, .3, .4, .5, .6, .7, .8, .9, 1, 9, 9.1}, V: make([]float64, 13)}, 2},
		{"nothing", Series{}, 0},
	} {
		ls := lines(c.s, at, axis{from: 0, to: 10, p0: 0, p1: 100})
		if len(ls) != c.lines {
			t.Errorf("%s: %d lines, want %d: %v", c.name, len(ls), c.lines, ls)
		}
		for _, l := range ls {
			if len(l) < 2 {
				t.Errorf("%s: a line of one point cannot be seen", c.name)
			}
			if !slices.IsSortedFunc(l, func(a, b point) int { return int(1e6 * (a.x - b.x)) }) {
				t.Errorf("%s: a line runs backwards: %v", c.name, l)
			}
		}
	}
	// A narrow peak among a hundred thousand values is still there, at its full height.
	s := Series{}
	for i := range 100000 {
		s.AtS, s.V = append(s.AtS, float64(i)/10000), append(s.V, 1)
	}
	s.V[54321] = 9
	l := lines(s, at, axis{from: 0, to: 10, p0: 0, p1: 100})[0]
	top := slices.MaxFunc(l, func(a, b point) int { return int(a.y - b.y) })
	if !(math.Abs(top.y-90) <= 1e-9) || !(math.Abs(top.x-543.21) <= 0.01) || len(l) > 4100 {
		t.Errorf("%d points with top %v, want at most four per pt and the top at 543.21, 90", len(l), top)
	}
}

func TestStretches(t *testing.T) {
	run := rig.Run{StartS: rig.Fig(2), EndS: rig.Fig(9), States: []rig.Span{span(rig.Starting, 2, 3), {State: rig.Loaded}, span(rig.NoLoad, 4, 8)}}
	want := "off 0-2 starting 2-3 unknown 3-4 no-load 4-8 unknown 8-9 off 9-10 "
	got := ""
	for _, s := range stretches([]rig.Run{run}, 0, 10) {
		got += fmt.Sprintf("%s %g-%g ", s.state, s.fromS, s.toS)
	}
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if s := stretches(nil, 0, 10); len(s) != 0 {
		t.Errorf("without runs the motor's state is not known, got %v", s)
	}
}

// The band of a loaded motor is the thicker the more current it draws.
func TestLoadIsMonotone(t *testing.T) {
	run := rig.Run{StartS: rig.Fig(0), EndS: rig.Fig(100), States: []rig.Span{span(rig.Loaded, 0, 90), span(rig.Stalled, 90, 100)}, Motor: rig.Motor{IdleA: rig.Fig(4)}}
	var current Series
	for i := range 1000 {
		at := float64(i) / 10
		v := 4 + at/30
		if at >= 90 {
			v = 31
		}
		current.AtS, current.V = append(current.AtS, at), append(current.V, v)
	}
	load := loadOf(stretches([]rig.Run{run}, 0, 100), []rig.Run{run}, current, 200, 0, 100)
	last := -1.0
	for at := 0.0; at < 89; at++ {
		if load(at) < last {
			t.Fatalf("load falls at %g s: %g after %g", at, load(at), last)
		}
		last = load(at)
	}
	if load(1) > 0.05 || last < 0.95 || last > 1 {
		t.Errorf("load from %g to %g, want 0 to 1: a stall's current must not flatten it", load(1), last)
	}
	if loadOf(nil, nil, Series{}, 200, 0, 100) != nil {
		t.Error("a load is told without current")
	}
}

func TestLimitAt(t *testing.T) {
	run := eventful().Runs[0] // on from 4.21 s to 61 s and from 122.19 s to 186.6 s
	elapsed := run
	elapsed.RunTimeS = run.ElapsedS
	for _, c := range []struct {
		name   string
		run    rig.Run
		limitS float64
		want   float64
	}{
		{"motor-on, in the first stretch", run, 30, 34.21},
		{"motor-on, in the second", run, 60, 122.19 + 60 - 56.79},
		{"motor-on, never reached", run, 200, 186.6 + 200 - 121.2},
		{"elapsed", elapsed, 60, 64.21},
	} {
		if got, ok := limitAt(c.run, c.limitS); !ok || !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s: %g, want %g", c.name, got, c.want)
		}
	}
	if _, ok := limitAt(rig.Run{}, 60); ok {
		t.Error("a run without a start has a limit")
	}
}
