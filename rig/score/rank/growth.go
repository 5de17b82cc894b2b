package rank

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// minGrowthUnits is how many units with repeats it takes before anything is said: below five even a
// perfect order could be chance (1 in 24 for four).
const minGrowthUnits = 5

// Growth is advice on pooling: whether the spread of runs grows with the level of the unit, in which
// case one pooled standard deviation is wrong for both ends.
type Growth struct {
	Units    int   // with repeats
	Rho      Value // rank correlation of a unit's standard deviation with its mean
	Grows    bool  // more than chance would have it (one-sided, 5 %)
	LogHelps bool  // of the logarithms the spread no longer grows: pool those
}

// SpreadGrows compares the spread of each unit's runs with their mean by Spearman's rank correlation.
func SpreadGrows(groups [][]float64) Growth {
	g := growth(groups)
	if !g.Grows {
		return g
	}
	logs := make([][]float64, len(groups))
	for i, runs := range groups {
		for _, v := range present(runs) {
			if v <= 0 {
				return g
			}
			logs[i] = append(logs[i], math.Log(v))
		}
	}
	g.LogHelps = !growth(logs).Grows
	return g
}

func growth(groups [][]float64) Growth {
	var means, sds []float64
	for _, runs := range groups {
		if vs := present(runs); len(vs) > 1 {
			means = append(means, mean(vs))
			sds = append(sds, ownSD(vs))
		}
	}
	g := Growth{Units: len(means)}
	if g.Units < minGrowthUnits {
		return g
	}
	g.Rho = Val(stat.Correlation(midranks(means), midranks(sds), nil))
	if !g.Rho.OK { // all alike
		return g
	}
	n := float64(g.Units)
	t := g.Rho.V * math.Sqrt((n-2)/max(1-g.Rho.V*g.Rho.V, 1e-15))
	g.Grows = distuv.StudentsT{Sigma: 1, Nu: n - 2}.CDF(t) > 0.95
	return g
}

// midranks returns ranks from 1, ties sharing the middle of theirs.
func midranks(vs []float64) []float64 {
	low, high := Places(vs, Low), Places(vs, High)
	ranks := make([]float64, len(vs))
	for i := range vs {
		ranks[i] = float64(low[i]+len(vs)+1-high[i]) / 2
	}
	return ranks
}
