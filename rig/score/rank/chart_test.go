package rank

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestNewChart(t *testing.T) {
	// moving ranges 1, 2, 1, 2, ...: mean 13/9
	base := []float64{10, 11, 9, 10, 12, 11, 9, 10, 12, math.NaN(), 11}
	c, err := NewChart(base)
	if err != nil || c.N != 10 || !(math.Abs(c.Centre-10.5) <= 1e-12) || !(math.Abs(c.S-13.0/9/1.128) <= 1e-12) {
		t.Errorf("%+v, %v", c, err)
	}
	lo, hi := Chart{Centre: 10, S: 0.5}.Limits(3)
	if lo != 8.5 || hi != 11.5 {
		t.Errorf("limits %v, %v", lo, hi)
	}
	if c, err := NewChart(base[:9]); !errors.Is(err, ErrShortBaseline) || c != (Chart{}) {
		t.Errorf("short: %+v, %v", c, err)
	}
	flat := slices.Repeat([]float64{70.1}, 30)
	if _, err := NewChart(flat); !errors.Is(err, ErrFlatBaseline) {
		t.Errorf("flat: %v", err)
	}
}

func TestJudge(t *testing.T) {
	c := Chart{Centre: 70, S: 0.25, N: 20}
	at := func(zs ...float64) []float64 {
		for i := range zs {
			zs[i] = 70 + 0.25*zs[i]
		}
		return zs
	}
	nan := math.NaN()
	for _, r := range []struct {
		name   string
		values []float64
		last   State
		rule   Alarm
	}{
		{"well", at(0.5), InControl, ""},
		{"warning", at(2.1), Warning, ""},
		{"at 2 s", at(2), InControl, ""},
		{"beyond 3 s", at(3.1), Out, BeyondThree},
		{"below", at(-3.1), Out, BeyondThree},
		{"two in a row", at(2.1, 2.2), Out, TwoOfThree},
		{"two of three", at(-2.1, 0, -2.2), Out, TwoOfThree},
		{"two of four", at(2.1, 0, 0.1, 2.2), Warning, ""},
		{"two sides", at(2.1, -2.2), Warning, ""},
		{"back inside", at(2.1, 2.1, 1.9), InControl, ""},
		{"seven", at(0.1, 1, 0.3, 0.2, 1, 1, 0.1), InControl, ""},
		{"eight", at(0.1, 1, 0.3, 0.2, 1, 1, 0.1, 0.1), Out, EightInRow},
		{"eight below", at(-0.1, -1, -0.3, -0.2, -1, -1, -0.1, -0.1), Out, EightInRow},
		{"nine", at(0.1, 1, 0.3, 0.2, 1, 1, 0.1, 0.1, 0.1), Out, EightInRow},
		{"broken", at(0.1, 1, 0.3, 0.2, 1, -1, 0.1, 0.1, 0.1), InControl, ""},
		{"on the centre", at(0.1, 1, 0.3, 0.2, 1, 0, 0.1, 0.1, 0.1), InControl, ""},
		{"a gap passed over", at(2.1, nan, nan, 2.1), Out, TwoOfThree},
		{"a gap", at(2.1, nan), NoValue, ""},
	} {
		vs := c.Judge(r.values)
		got := vs[len(vs)-1]
		if len(vs) != len(r.values) || got.State != r.last || got.Rule != r.rule {
			t.Errorf("%s: %+v, want %s %s", r.name, got, r.last, r.rule)
		}
	}
	if got := c.Judge(at(1.5))[0].Z; !(math.Abs(got-1.5) <= 1e-9) {
		t.Errorf("z %v", got)
	}
	if got := (Chart{}).Judge([]float64{1})[0]; got.State != NoValue {
		t.Errorf("no chart: %+v", got)
	}
}

// A bench that moves by 1 dB where s is 0.25 dB, or by 3 % where s is 0.8 %, is flagged within two
// control runs.
func TestShiftFlagged(t *testing.T) {
	const trials = 5000
	for _, c := range []struct {
		name             string
		centre, s, shift float64
		baseline         int
		atLeast, warned  float64
	}{
		{"1 dB", 70, 0.25, 1, 20, 0.95, 0.99},
		{"1 dB, short baseline", 70, 0.25, 1, MinBaseline, 0.90, 0.98},
		{"3 %", 100, 0.8, -3, 20, 0.93, 0.99},
		{"3 %, short baseline", 100, 0.8, -3, MinBaseline, 0.88, 0.97},
	} {
		rng := rand.New(rand.NewPCG(9, 9))
		flagged, warned := 0, 0
		for range trials {
			base := make([]float64, c.baseline)
			for i := range base {
				base[i] = c.centre + c.s*rng.NormFloat64()
			}
			chart, err := NewChart(base)
			if err != nil {
				t.Fatal(err)
			}
			vs := chart.Judge([]float64{c.centre + c.shift + c.s*rng.NormFloat64(), c.centre + c.shift + c.s*rng.NormFloat64()})
			if vs[0].State == Out || vs[1].State == Out {
				flagged++
			}
			if vs[0].State != InControl || vs[1].State != InControl {
				warned++
			}
		}
		t.Logf("%s: out within two runs %d of %d, at least a warning %d", c.name, flagged, trials, warned)
		if float64(flagged) < c.atLeast*trials || float64(warned) < c.warned*trials {
			t.Errorf("%s: flagged %d, warned %d of %d", c.name, flagged, warned, trials)
		}
	}
}

// False alarms per 1000 control runs of a bench that stays well: newly out, by baseline.
func TestFalseAlarms(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 10))
	for _, c := range []struct {
		baseline        int
		atLeast, atMost float64 // per 1000
	}{{MinBaseline, 15, 60}, {20, 10, 35}, {5000, 6, 11}} {
		alarms, runs := 0, 0
		for runs < 200_000 {
			base := make([]float64, c.baseline)
			for i := range base {
				base[i] = rng.NormFloat64()
			}
			chart, err := NewChart(base)
			if err != nil {
				t.Fatal(err)
			}
			later := make([]float64, 200)
			for i := range later {
				later[i] = rng.NormFloat64()
			}
			before := InControl
			for _, v := range chart.Judge(later) {
				if v.State == Out && before != Out {
					alarms++
				}
				before = v.State
			}
			runs += len(later)
		}
		rate := 1000 * float64(alarms) / float64(runs)
		t.Logf("baseline %d: %.1f false alarms per 1000", c.baseline, rate)
		if rate < c.atLeast || rate > c.atMost {
			t.Errorf("baseline %d: %.1f false alarms per 1000, expected %v to %v", c.baseline, rate, c.atLeast, c.atMost)
		}
	}
}
