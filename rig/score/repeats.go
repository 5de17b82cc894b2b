package score

import (
	"math"
	"slices"

	"quern/rig/score/rank"
)

// Repeats is what the runs of one unit say of one criterion's measure, beside those of all units.
type Repeats struct {
	rank.Summary         // mean, own standard deviation, half-width by the pooled one
	SD           float64 // standard deviation of a run, pooled over units; 0 with Dof 0: there were no repeats
	Dof          float64
	Outliers     []int // positions of runs that deserve a look; they count all the same
}

// repeats pools the scatter of every criterion's measure over units: three runs of one unit say almost
// nothing of its spread.
func (c *Campaign) repeats() {
	var far critical
	for i := range c.Lab.Scorecard.Criteria {
		var groups [][]float64
		var of []*CriterionScore
		for _, u := range c.Units {
			u.criteria(func(_ *TestScore, k *CriterionScore) {
				if k.index == i {
					groups, of = append(groups, k.values()), append(of, k)
				}
			})
		}
		sd, dof, ok := rank.Pooled(groups)
		if !ok {
			sd, dof = 0, 0
		}
		if far.dof != dof {
			far = critical{dof: dof}
		}
		factor := rank.Summarise([]float64{0}, 1, dof).Half.V // Student's, which takes long to tell
		for j, k := range of {
			k.Repeats = Repeats{Summary: rank.Summarise(groups[j], sd, 0), SD: sd, Dof: dof}
			if !ok {
				continue
			}
			if n := k.Repeats.N; n > 0 {
				k.Repeats.Half = rank.Val(factor * sd / math.Sqrt(float64(n)))
			}
			if sd > 0 && far.apart(groups[j], sd) {
				k.Repeats.Outliers = k.positions(rank.Outliers(groups[j], sd, dof))
			}
		}
	}
}

// leastCritical is below the 95 % quantile of the studentized range of any number of runs and degrees of
// freedom: that of two with infinitely many is 2.772.
const leastCritical = 2.77

// critical keeps the critical ranges of so many runs, in standard deviations: they take long to tell.
type critical struct {
	dof float64
	of  []float64 // by the number of runs
}

// apart tells whether the runs lie farther apart than chance has them. Whoever does not ask rank.Outliers
// for those that do not saves nearly all of its time.
func (c *critical) apart(runs []float64, sd float64) bool {
	n := len(runs)
	if n < 2 || n > rank.MaxGroups {
		return false
	}
	wide := slices.Max(runs) - slices.Min(runs)
	if wide <= leastCritical*sd {
		return false
	}
	for len(c.of) <= n {
		c.of = append(c.of, 0)
	}
	if c.of[n] == 0 {
		c.of[n] = rank.TukeyQuantile(0.95, n, c.dof)
	}
	return wide > c.of[n]*sd
}

// values are the measured values of the runs that have one.
func (k *CriterionScore) values() []float64 {
	var out []float64
	for _, p := range k.PerRun {
		if p.Value.OK {
			out = append(out, p.Value.V)
		}
	}
	return out
}

// positions turns places among the values into places among the runs.
func (k *CriterionScore) positions(among []int) []int {
	var out []int
	n := 0
	for i, p := range k.PerRun {
		if !p.Value.OK {
			continue
		}
		for _, a := range among {
			if a == n {
				out = append(out, i)
			}
		}
		n++
	}
	return out
}
