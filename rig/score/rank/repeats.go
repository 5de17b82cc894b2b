package rank

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Pooled returns the standard deviation of a run about the mean of its own unit, pooled over units,
// and its degrees of freedom. One slice per unit; those with fewer than two values add nothing; not
// ok if none adds.
func Pooled(groups [][]float64) (sd, dof float64, ok bool) {
	ss := 0.0
	for _, g := range groups {
		if vs := present(g); len(vs) > 1 {
			ss += squares(vs)
			dof += float64(len(vs) - 1)
		}
	}
	sd = math.Sqrt(ss / dof)
	if dof == 0 || !finite(sd) {
		return 0, 0, false
	}
	return sd, dof, true
}

// Summary is what the repeated runs of one unit say, in the unit of the values.
type Summary struct {
	N    int
	Mean Value
	SD   Value // the unit's own; from three runs nearly worthless
	Half Value // half-width of the 95 % interval of Mean, by the pooled standard deviation
}

// Summarise sums up the runs of one unit with the spread that [Pooled] found; dof 0: none was found.
func Summarise(runs []float64, sd, dof float64) Summary {
	vs := present(runs)
	s := Summary{N: len(vs)}
	if s.N == 0 {
		return s
	}
	s.Mean = Val(mean(vs))
	if s.N > 1 {
		s.SD = Val(ownSD(vs))
	}
	if dof > 0 {
		s.Half = Val(studentQuantile(0.975, dof) * sd / math.Sqrt(float64(s.N)))
	}
	return s
}

// studentQuantile is that of Student's distribution; dof up to +Inf.
func studentQuantile(p, dof float64) float64 {
	if dof > 1e9 { // no longer Student's: and the beta function behind it has no limit
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(p)
}

// Outliers returns the positions of runs to look into, ascending. It drops nothing: a cause has to be
// found in the recording.
//
// While the range of n runs exceeds the critical range q(0.95; n, dof) * sd (as ISO 5725-6 does, from
// memory; 2.8 sd for two runs, 3.3 sd for three), the run farthest from the median of all the unit's
// runs is marked and set aside, several if equally far: of two runs both, since nothing says which.
// By chance alone this marks a run in 5 % of units.
func Outliers(runs []float64, sd, dof float64) []int {
	var left, marked []int // positions
	for i, v := range runs {
		if finite(v) {
			left = append(left, i)
		}
	}
	if !(dof >= 1 && sd >= 0) || len(left) < 2 {
		return nil
	}
	mid := median(present(runs))
	far := func(i int) float64 { return math.Abs(runs[i] - mid) }
	for len(left) > 1 && len(left) <= MaxGroups {
		lo, hi, most := math.Inf(1), math.Inf(-1), 0.0
		for _, i := range left {
			lo, hi, most = min(lo, runs[i]), max(hi, runs[i]), max(most, far(i))
		}
		// The quantile costs, and most units are far below it.
		if hi-lo <= leastRange(len(left))*sd || hi-lo <= TukeyQuantile(0.95, len(left), dof)*sd {
			break
		}
		left = slices.DeleteFunc(left, func(i int) bool {
			if !tied(far(i), most) {
				return false
			}
			marked = append(marked, i)
			return true
		})
	}
	slices.Sort(marked)
	return marked
}

// leastRange is a bound below q(0.95) of n groups with any degrees of freedom: that with infinitely many,
// rounded down, of up to five groups. A test compares it with TukeyQuantile.
func leastRange(n int) float64 {
	q := [...]float64{0, 0, 2.771, 3.314, 3.633, 3.857}
	return q[min(n, len(q)-1)]
}

func median(vs []float64) float64 {
	vs = slices.Sorted(slices.Values(vs))
	n := len(vs)
	return (vs[(n-1)/2] + vs[n/2]) / 2
}
