// Package exam marks an analysis against the exact truth of a simulated session: which events it found,
// missed or made up, how far off in time, and how far its levels and currents are from the true ones.
package exam

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"quern/acquire/sim"
	"quern/rig"
)

// withinS is how far an event may be from the true one and still be the same event, s. It is generous
// so that timing is judged by the timing errors and not twice.
var withinS = map[rig.Kind]float64{
	rig.MotorStart: 0.3, rig.MotorStop: 0.3, rig.Trip: 0.3, rig.StallStart: 0.5, rig.StallEnd: 0.5,
	rig.OverloadStart: 1, rig.OverloadEnd: 1, rig.LoadStart: 2, rig.LoadEnd: 5,
}

// Miss is an event that was missed or made up.
type Miss struct {
	Kind rig.Kind
	AtS  float64
	Made bool // made up: not in the truth
}

func (m Miss) String() string {
	what := "missed"
	if m.Made {
		what = "made up"
	}
	return fmt.Sprintf("%s %s at %.2f s", what, m.Kind, m.AtS)
}

// Card is the mark of one session.
type Card struct {
	Hits   map[rig.Kind][]float64 // found minus true instant, s
	Misses []Miss
	Errors map[string][]float64 // found minus true, by the name of the figure
	Absent []string             // figures that the truth has and the result has not
}

// Mark compares the result of an analysis with the truth, which has the same shape. An event that was
// missed or made up where the definitions leave room for opinion does not count.
func Mark(truth, got rig.Result, doubts []sim.Doubt) Card {
	c := Card{Hits: map[rig.Kind][]float64{}, Errors: map[string][]float64{}}
	var want, have []rig.Event
	for _, r := range truth.Runs {
		want = append(want, r.Events...)
	}
	for _, r := range got.Runs {
		have = append(have, r.Events...)
	}
	for _, k := range rig.Kinds {
		c.match(k, of(want, k), foundOf(have, k))
	}
	c.Misses = slices.DeleteFunc(c.Misses, func(m Miss) bool { return doubted(m, doubts) })
	if len(truth.Runs) != len(got.Runs) {
		c.Misses = append(c.Misses, Miss{Kind: rig.Kind(fmt.Sprintf("%d runs, found %d", len(truth.Runs), len(got.Runs))), Made: len(got.Runs) > len(truth.Runs)})
		return c
	}
	for i := range truth.Runs {
		c.figures(truth.Runs[i], got.Runs[i])
	}
	return c
}

func doubted(m Miss, doubts []sim.Doubt) bool {
	for _, d := range doubts {
		if m.AtS >= d.FromS && m.AtS <= d.ToS && (d.Kind == "" || d.Kind == m.Kind) {
			return true
		}
	}
	return false
}

func of(events []rig.Event, k rig.Kind) []float64 {
	var out []float64
	for _, e := range events {
		if e.Kind == k {
			out = append(out, e.AtS.V)
		}
	}
	sort.Float64s(out)
	return out
}

// found is an event of a result: its instant and how far off it says it may be.
type found struct{ atS, withinS float64 }

func foundOf(events []rig.Event, k rig.Kind) []found {
	var out []found
	for _, e := range events {
		if e.Kind == k {
			out = append(out, found{e.AtS.V, e.WithinS.V})
		}
	}
	return out
}

// match pairs the events of a kind, nearest first.
func (c *Card) match(k rig.Kind, want []float64, have []found) {
	type pair struct {
		w, h int
		d    float64
	}
	var pairs []pair
	for i, w := range want {
		for j, h := range have {
			if d := math.Abs(h.atS - w); d <= max(withinS[k], 2*h.withinS) {
				pairs = append(pairs, pair{i, j, d})
			}
		}
	}
	sort.SliceStable(pairs, func(i, j int) bool { return pairs[i].d < pairs[j].d })
	usedW, usedH := make([]bool, len(want)), make([]bool, len(have))
	for _, p := range pairs {
		if !usedW[p.w] && !usedH[p.h] {
			usedW[p.w], usedH[p.h] = true, true
			c.Hits[k] = append(c.Hits[k], have[p.h].atS-want[p.w])
		}
	}
	for i, w := range want {
		if !usedW[i] {
			c.Misses = append(c.Misses, Miss{Kind: k, AtS: w})
		}
	}
	for j, h := range have {
		if !usedH[j] {
			c.Misses = append(c.Misses, Miss{Kind: k, AtS: h.atS, Made: true})
		}
	}
}

// figures compares the figures that the truth has.
func (c *Card) figures(truth, got rig.Run) {
	for _, f := range []struct {
		name      string
		want, got rig.Figure
		relative  bool
	}{
		{"laeq_db", truth.Sound.LAeqDB, got.Sound.LAeqDB, false},
		{"lceq_db", truth.Sound.LCeqDB, got.Sound.LCeqDB, false},
		{"lafmax_db", truth.Sound.LAFmaxDB, got.Sound.LAFmaxDB, false},
		{"lasmax_db", truth.Sound.LASmaxDB, got.Sound.LASmaxDB, false},
		{"lcpeak_db", truth.Sound.LCpeakDB, got.Sound.LCpeakDB, false},
		{"background_laeq_db", truth.Sound.BackgroundDB, got.Sound.BackgroundDB, false},
		{"idle_a, %", truth.Motor.IdleA, got.Motor.IdleA, true},
		{"inrush_a, %", truth.Motor.InrushA, got.Motor.InrushA, true},
		{"frequency_hz", truth.Motor.FrequencyHz, got.Motor.FrequencyHz, false},
		{"motor_on_s", truth.MotorOnS, got.MotorOnS, false},
	} {
		switch {
		case !f.want.OK:
		case !f.got.OK:
			c.Absent = append(c.Absent, f.name)
		case f.relative:
			c.Errors[f.name] = append(c.Errors[f.name], 100*(f.got.V/f.want.V-1))
		default:
			c.Errors[f.name] = append(c.Errors[f.name], f.got.V-f.want.V)
		}
	}
}
