package rank

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// coverage counts in how many of many campaigns all true places lie in the ranges, simultaneous and by
// plain resampling of each score. Models are that far apart, in run-to-run standard deviations.
func coverage(t *testing.T, rng *rand.Rand, gap float64, trials int) (simultaneous, plain int) {
	const models, runs, draws = 20, 3, 200
	q := TukeyQuantile(0.95, models, models*(runs-1))
	for range trials {
		groups := make([][]float64, models)
		for i := range groups {
			for range runs {
				groups[i] = append(groups[i], -gap*float64(i)+rng.NormFloat64())
			}
		}
		sd, dof, ok := Pooled(groups)
		if !ok || dof != models*(runs-1) {
			t.Fatalf("pooled: %v dof", dof)
		}
		units := make([]Estimate, models)
		for i, g := range groups {
			units[i] = Estimate{Score: mean(g), Var: sd * sd / runs, Dof: dof, Pool: 1}
		}
		c := inOrder(units, High)
		c.tell(units, func(float64) float64 { return q })
		tally, draw := NewTally(models, High), make([]float64, models)
		for range draws {
			for i, u := range units {
				draw[i] = u.Score + math.Sqrt(u.Var)*rng.NormFloat64()
			}
			if err := tally.Add(draw); err != nil {
				t.Fatal(err)
			}
		}
		all, naive := true, true
		for i, r := range c.Ranges() {
			place, s := i+1, tally.Unit(i)
			all = all && r.Best <= place && place <= r.Worst
			naive = naive && s.Low <= place && place <= s.High
		}
		if all {
			simultaneous++
		}
		if naive {
			plain++
		}
	}
	return simultaneous, plain
}

// 20 models, three runs each, spread pooled: all true places together are covered in at least 95 % of
// campaigns, and plain resampling would not do: with models close it covers them in hardly any.
func TestCoverage(t *testing.T) {
	const trials = 500
	for i, c := range []struct {
		name     string
		gap      float64 // between neighbours, in run-to-run standard deviations
		plainMax float64
	}{{"well spread", 0.5, 0.9}, {"close", 0.1, 0.4}, {"nearly tied", 0.02, 0.2}} {
		all, plain := coverage(t, rand.New(rand.NewPCG(11, uint64(i))), c.gap, trials)
		t.Logf("%s: simultaneous %d of %d, plain resampling %d", c.name, all, trials, plain)
		if float64(all) < 0.95*trials {
			t.Errorf("%s: simultaneous ranges cover %d of %d, want at least 95 %%", c.name, all, trials)
		}
		if float64(plain) > c.plainMax*trials {
			t.Errorf("%s: plain resampling covers %d of %d: more than expected", c.name, plain, trials)
		}
	}
}

// Where all models are alike, any pair told apart is a false claim: the pooled test makes one in 5 % of
// campaigns, no more and no less. That of unequal spreads is not exact; five runs each keep it near.
func TestFalseClaims(t *testing.T) {
	const trials = 4000
	for _, c := range []struct {
		name            string
		models, runs    int
		pool            bool
		atLeast, atMost float64
	}{{"pooled", 20, 3, true, 0.042, 0.058}, {"own spread", 3, 5, false, 0.02, 0.07}} {
		rng := rand.New(rand.NewPCG(12, 1))
		claims := 0
		q := TukeyQuantile(0.95, c.models, float64(c.models*(c.runs-1)))
		between := interpolated(0.95, c.models, float64(c.runs-1), float64(2*c.runs-2))
		for range trials {
			groups, units := make([][]float64, c.models), make([]Estimate, c.models)
			for i := range groups {
				sd := 1.0
				if !c.pool {
					sd += float64(i)
				}
				for range c.runs {
					groups[i] = append(groups[i], sd*rng.NormFloat64())
				}
				units[i] = Estimate{Score: mean(groups[i]), Var: squares(groups[i]) / float64(c.runs*(c.runs-1)), Dof: float64(c.runs - 1)}
			}
			cmp := inOrder(units, High)
			if c.pool {
				sd, dof, _ := Pooled(groups)
				for i := range units {
					units[i].Var, units[i].Dof, units[i].Pool = sd*sd/float64(c.runs), dof, 1
				}
				cmp.tell(units, func(float64) float64 { return q })
			} else {
				cmp.tell(units, between)
			}
			if slices.Contains(cmp.apart, true) {
				claims++
			}
		}
		share := float64(claims) / trials
		t.Logf("%s: %d of %d", c.name, claims, trials)
		if share < c.atLeast || share > c.atMost {
			t.Errorf("%s: a false claim in %.3f of campaigns, want %v to %v", c.name, share, c.atLeast, c.atMost)
		}
	}
}
