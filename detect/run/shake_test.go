package run_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// bowl is an invented scale under a bowl of 2500 g, of which nine portions are taken from 12 to 40 s.
type bowl struct {
	stepS, divisionG float64
	noiseG           float64 // of the pan itself, standard deviation, all the time
	motorG           float64 // and what a motor adds
	on               [2]float64
	poured           bool // evenly, instead of in portions
	left             bool // nothing is taken
	mark             func(standsS float64) rig.Mark
}

func (b bowl) grams(t float64) float64 {
	switch {
	case b.left:
		return 2500
	case b.poured:
		return 2500 - 2500*min(max((t-12)/28, 0), 1)
	}
	g := 2500.0
	for k := range 9 {
		g -= 2500.0 / 9 * min(max((t-12-3.5*float64(k))/0.4, 0), 1)
	}
	return g
}

// shaken returns what a shaker finds in a minute.
func (b bowl) shaken(seed uint64) (runs string, warnings []string) {
	rng := rand.New(rand.NewPCG(seed, 1))
	set := setup()
	set.Bench.Scale.DivisionG = b.divisionG
	k := run.NewShaker(set)
	last, since := math.NaN(), 0.0
	for i := 0; float64(i)*b.stepS < 60; i++ {
		t := float64(i) * b.stepS
		g := b.grams(t) + b.noiseG*rng.NormFloat64()
		if shake := b.motorG * rng.NormFloat64(); t > b.on[0] && t < b.on[1] {
			g += shake
		}
		g = math.Round(g/b.divisionG) * b.divisionG
		if !(math.Abs(g-last) <= b.divisionG) {
			since = t
		}
		last = g
		p := run.Pan{AtS: t, MassG: g}
		if b.mark != nil {
			p.Stable = b.mark(t - since)
		}
		k.Pan(p)
	}
	var got []string
	for _, r := range k.Finish(60) {
		for _, on := range r.On {
			got = append(got, fmt.Sprintf("%.1f-%.1f", on.FromS, on.ToS))
		}
	}
	for _, w := range k.Warnings() {
		warnings = append(warnings, w.Code)
	}
	return strings.Join(got, " "), warnings
}

// TestShaker tells a motor from what else moves an indication: portions, a steady pour, a pan that is
// never still, flicker between two divisions, a mark that never comes.
func TestShaker(t *testing.T) {
	on := [2]float64{6, 54}
	settles := func(standsS float64) rig.Mark {
		if standsS > 0.3 {
			return rig.Yes
		}
		return rig.No
	}
	never := func(float64) rig.Mark { return rig.No }
	for _, c := range []struct {
		name     string
		bowl     bowl
		from, to float64 // 0, 0: no run
		warning  string
	}{
		{"portions, no motor", bowl{stepS: 0.2, divisionG: 1}, 0, 0, ""},
		{"portions, no motor, 1 Hz", bowl{stepS: 1, divisionG: 1}, 0, 0, "scale-slow"},
		{"portions, no motor, 20 Hz, marked", bowl{stepS: 0.05, divisionG: 1, mark: settles}, 0, 0, ""},
		{"a steady pour", bowl{stepS: 0.2, divisionG: 1, poured: true}, 0, 0, ""},
		{"a steady pour, marked", bowl{stepS: 0.2, divisionG: 1, poured: true, mark: settles}, 0, 0, ""},
		{"a pan that is never still", bowl{stepS: 0.2, divisionG: 1, noiseG: 1, left: true}, 0, 0, "pan-never-still"},
		{"the same, marked", bowl{stepS: 0.2, divisionG: 1, noiseG: 1, mark: settles}, 0, 0, "pan-never-still"},
		{"fine divisions", bowl{stepS: 0.2, divisionG: 0.1, noiseG: 0.3, left: true, mark: settles}, 0, 0, "pan-never-still"},
		{"flicker between two divisions", bowl{stepS: 0.2, divisionG: 1, noiseG: 0.2, left: true}, 0, 0, ""},
		{"a motor all the time", bowl{stepS: 0.2, divisionG: 1, motorG: 5, on: [2]float64{-1, 61}, left: true}, 0, 0, "pan-never-still"},
		{"a mark that never comes", bowl{stepS: 0.2, divisionG: 1, left: true, mark: never}, 0, 0, ""},

		{"a motor", bowl{stepS: 0.2, divisionG: 1, motorG: 3, on: on}, 6, 54, ""},
		{"a motor, marked", bowl{stepS: 0.2, divisionG: 1, motorG: 10, on: on, mark: settles}, 6, 54, ""},
		{"a motor and a steady pour", bowl{stepS: 0.2, divisionG: 1, motorG: 10, on: on, poured: true}, 6, 54, ""},
		{"a motor on a pan that is never still", bowl{stepS: 0.1, divisionG: 0.1, noiseG: 0.3, motorG: 3, on: on, left: true}, 6, 54, ""},
		{"a motor from before the first reading", bowl{stepS: 0.2, divisionG: 1, motorG: 5, on: [2]float64{-1, 30}, left: true}, 0, 30, "began-running"},
		{"a motor to a second before the last reading", bowl{stepS: 0.2, divisionG: 1, motorG: 5, on: [2]float64{20, 58}, left: true}, 20, 58, ""},
		{"a motor to after the last reading", bowl{stepS: 0.2, divisionG: 1, motorG: 5, on: [2]float64{20, 61}, left: true}, 20, 59.8, "ended-running"},
	} {
		for seed := range uint64(20) {
			runs, warnings := c.bowl.shaken(seed)
			ok := runs == ""
			if c.to > 0 {
				var from, to float64
				n, _ := fmt.Sscanf(runs, "%f-%f", &from, &to)
				ok = n == 2 && !strings.Contains(runs, " ") && math.Abs(from-c.from) <= 1.5 && math.Abs(to-c.to) <= 1.5
			}
			var want []string
			if c.warning != "" {
				want = []string{c.warning}
			}
			if !ok || !slices.Equal(warnings, want) {
				t.Errorf("%s, seed %d: got %q %v, want %g to %g %v", c.name, seed, runs, warnings, c.from, c.to, want)
				break
			}
		}
	}
}

// TestShakerMark takes the scale's mark for shaking where the indication is too coarse to show it, and
// only while the mark is also seen to come.
func TestShakerMark(t *testing.T) {
	set := setup()
	set.Bench.Scale.DivisionG = 10
	k := run.NewShaker(set)
	for i := range 200 {
		at := float64(i) / 5
		p := run.Pan{AtS: at, MassG: 2500, Stable: rig.Yes}
		if at >= 10 && at < 30 {
			p.Stable = rig.No
		}
		k.Pan(p)
	}
	found := k.Finish(40)
	if len(found) != 1 || !(math.Abs(found[0].StartS()-10) <= 1.5) || !(math.Abs(found[0].EndS()-30) <= 1.5) {
		t.Errorf("got %+v, want one run from 10 to 30 s", found)
	}
}

// FuzzShaker: whatever the readings, runs are in order and inside the recording.
func FuzzShaker(f *testing.F) {
	f.Add([]byte{1, 5, 1, 1, 200, 2, 1, 9, 0, 1, 77, 1})
	f.Add([]byte{255, 0, 0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, b []byte) {
		k := run.NewShaker(setup())
		at := 0.0
		for i := 0; i+3 <= len(b); i += 3 {
			at += float64(b[i]) / 50
			k.Pan(run.Pan{AtS: at, MassG: float64(b[i+1]), Stable: rig.Mark(b[i+2] % 3)})
		}
		last := 0.0
		for _, r := range k.Finish(at) {
			for _, on := range r.On {
				if !(on.FromS >= last && on.ToS >= on.FromS && on.ToS <= at) {
					t.Fatalf("%+v in %g s", r.On, at)
				}
				last = on.ToS
			}
		}
		if d := k.DecidedS(); d > at {
			t.Fatalf("decided up to %g of %g s", d, at)
		}
	})
}
