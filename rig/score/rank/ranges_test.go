package rank

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func compare(t testing.TB, units []Estimate, better Better) *Comparison {
	t.Helper()
	c, err := Compare(units, 0.05, better)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestRanges(t *testing.T) {
	same := func(v float64, scores ...float64) (us []Estimate) {
		for _, s := range scores {
			us = append(us, Estimate{Score: s, Var: v, Dof: 40, Pool: 1})
		}
		return us
	}
	nan := math.NaN()
	addends := []float64{0.1, 0.2} // not constants: their sum is not 0.3
	for _, c := range []struct {
		name   string
		units  []Estimate
		better Better
		ranges []Range
		groups [][]int
	}{
		{"none", nil, High, []Range{}, nil},
		{"one", same(1, 5), High, []Range{{1, 1}}, [][]int{{0}}},
		{"exact", same(0, 3, 5, 4), High, []Range{{3, 3}, {1, 1}, {2, 2}}, [][]int{{1}, {2}, {0}}},
		{"exact, low", same(0, 3, 5, 4), Low, []Range{{1, 1}, {3, 3}, {2, 2}}, [][]int{{0}, {2}, {1}}},
		{"exact tie", same(0, 0.3, addends[0]+addends[1], 4), High, []Range{{2, 3}, {2, 3}, {1, 1}}, [][]int{{2}, {0, 1}}},
		// q(0.95; 4, 40) = 3.79 (printed): units are apart from 3.79 u on, here 0.379
		{"chain", same(0.01, 8, 7.7, 7.4, 5), High, []Range{{1, 2}, {1, 3}, {2, 3}, {4, 4}}, [][]int{{0, 1}, {1, 2}, {3}}},
		{"just alike", same(0.01, 8, 7.622, 1, 5), High, []Range{{1, 2}, {1, 2}, {4, 4}, {3, 3}}, [][]int{{0, 1}, {3}, {2}}},
		{"just apart", same(0.01, 8, 7.620, 1, 5), High, []Range{{1, 1}, {2, 2}, {4, 4}, {3, 3}}, [][]int{{0}, {1}, {3}, {2}}},
		{"no score", same(0, 3, nan, 4), High, []Range{{2, 2}, {}, {1, 1}}, [][]int{{2}, {0}}},
		{
			"spread not known",
			[]Estimate{{9, nan, 5, 0}, {5, 0, 0, 0}, {1, 0, 0, 0}, {2, 1, 0.5, 0}, {0, -1, 9, 0}}, High,
			[]Range{{1, 5}, {1, 4}, {2, 5}, {1, 5}, {1, 5}}, [][]int{{0, 1, 3, 4}, {0, 3, 2, 4}},
		},
		{
			// best and worst known well and apart, what stands between known badly
			"unequal spread",
			[]Estimate{{6, 1e-4, inf, 0}, {5, 100, inf, 0}, {4, 1e-4, inf, 0}}, High,
			[]Range{{1, 2}, {1, 3}, {2, 3}}, [][]int{{0, 1}, {1, 2}},
		},
		{
			// 0 and 2 share what 1, between them, does not
			"not a run of places",
			[]Estimate{{6, 1e-4, inf, 0}, {5, 1e-4, inf, 0}, {4.5, 1, inf, 0}}, High,
			[]Range{{1, 2}, {2, 3}, {1, 3}}, [][]int{{0, 2}, {1, 2}},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := compare(t, c.units, c.better)
			if r := got.Ranges(); !slices.Equal(r, c.ranges) {
				t.Errorf("ranges %v, want %v", r, c.ranges)
			}
			if g := got.Groups(); !slices.EqualFunc(g, c.groups, slices.Equal) {
				t.Errorf("groups %v, want %v", g, c.groups)
			}
		})
	}
}

// Least differences of trade practice in run-to-run standard deviations: of one planned pair 1.65 for
// three runs, 1.26 for five; of all pairs of 20 models 3.1 and 2.3. Of one pair alone by Student.
func TestLeastDifference(t *testing.T) {
	least := func(units, runs int, dof float64) float64 {
		apart := func(d float64) bool {
			us := make([]Estimate, units)
			for i := range us {
				us[i] = Estimate{Score: 0, Var: 1 / float64(runs), Dof: dof, Pool: 7}
			}
			us[0].Score = d
			return apart(compare(t, us, High), 0, 1)
		}
		lo, hi := 0.0, 9.0
		for range 12 {
			if mid := (lo + hi) / 2; apart(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return hi
	}
	for _, c := range []struct {
		units, runs     int
		dof, want, give float64
	}{{2, 3, 40, 1.65, 0.006}, {2, 5, 80, 1.26, 0.006}, {20, 3, 40, 3.1, 0.05}, {20, 5, 80, 2.3, 0.05}} {
		if got := least(c.units, c.runs, c.dof); !(math.Abs(got-c.want) <= c.give) {
			t.Errorf("%d units, %d runs: %.3f s, want %v", c.units, c.runs, got, c.want)
		}
	}
}

func TestPair(t *testing.T) {
	for _, c := range []struct {
		a, b          Estimate
		variance, dof float64
	}{
		{Estimate{Var: 0.04, Dof: 2}, Estimate{Var: 0.09, Dof: 5}, 0.13, 0.0169 / (0.0016/2 + 0.0081/5)}, // Welch
		{Estimate{Var: 0.04, Dof: 2}, Estimate{Var: 0.04, Dof: 2}, 0.08, 4},
		{Estimate{Var: 0.04, Dof: 2, Pool: 1}, Estimate{Var: 0.04, Dof: 2, Pool: 2}, 0.08, 4},
		{Estimate{Var: 0.04, Dof: 40, Pool: 1}, Estimate{Var: 0.09, Dof: 38, Pool: 1}, 0.13, 38},
		{Estimate{Var: 0.04, Dof: 3}, Estimate{Var: 0}, 0.04, 3},
		{Estimate{Var: 0.04, Dof: inf}, Estimate{Var: 0.01, Dof: inf}, 0.05, inf},
		{Estimate{Var: 0}, Estimate{Var: 0}, 0, 0},
	} {
		v, d := pair(c.a, c.b)
		w, e := pair(c.b, c.a)
		if !(math.Abs(v-c.variance) <= 1e-15) || d != c.dof && !(math.Abs(d-c.dof) < 1e-9) || v != w || d != e {
			t.Errorf("%v %v: variance %v, dof %v; want %v, %v", c.a, c.b, v, d, c.variance, c.dof)
		}
	}
}

func TestCompareErrors(t *testing.T) {
	if _, err := Compare(make([]Estimate, MaxGroups+1), 0.05, High); err == nil {
		t.Error("too many units: no error")
	}
	for _, a := range []float64{0, 1, -1, math.NaN()} {
		if _, err := Compare(nil, a, High); err == nil {
			t.Errorf("alpha %v: no error", a)
		}
	}
}

func TestInterpolated(t *testing.T) {
	worst := 0.0
	for _, r := range [][2]float64{{1, inf}, {1, 2}, {2, 40}, {1.7, 300}, {12, 12.5}, {40, 40 * (1 + 1e-12)}, {40, 40}} {
		for _, k := range []int{2, 600} {
			q := interpolated(0.95, k, r[0], r[1])
			for _, f := range []float64{0, 0.01, 0.13, 0.4, 0.77, 1} {
				dof := 1 / ((1-f)/r[0] + f/r[1])
				want := TukeyQuantile(0.95, k, dof)
				d := math.Abs(q(dof)/want - 1)
				worst = max(worst, d)
				if !(d < 1e-6) {
					t.Errorf("%d groups, %v dof of %v: %v, want %v", k, dof, r, q(dof), want)
				}
			}
		}
	}
	t.Logf("largest deviation %.2g", worst)
}

// Groups against their definition, on random comparisons of unequal spread.
func TestGroupsDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for range 300 {
		units := randomUnits(rng, 2+rng.IntN(25))
		c := fixed(units, High)
		groups := c.Groups()
		share := func(u, v int) bool {
			return slices.ContainsFunc(groups, func(g []int) bool { return slices.Contains(g, u) && slices.Contains(g, v) })
		}
		for u := range units {
			for v := range units {
				if u != v && share(u, v) == apart(c, u, v) {
					t.Fatalf("%d, %d: apart %v, share a group %v: %v", u, v, apart(c, u, v), share(u, v), groups)
				}
			}
			for _, g := range groups {
				alike := !slices.ContainsFunc(g, func(v int) bool { return apart(c, u, v) })
				if alike != slices.Contains(g, u) {
					t.Fatalf("unit %d and group %v: alike to all %v", u, g, alike)
				}
			}
			if !share(u, u) {
				t.Fatalf("unit %d is in no group", u)
			}
		}
	}
}

// fixed compares by one made-up quantile, where it is not the quantile that is tested.
func fixed(units []Estimate, better Better) *Comparison {
	c := inOrder(units, better)
	c.tell(units, func(dof float64) float64 { return 3 + 4/dof })
	return c
}

func randomUnits(rng *rand.Rand, n int) []Estimate {
	units := make([]Estimate, n)
	for i := range units {
		units[i] = Estimate{Score: 10 * rng.Float64(), Var: rng.ExpFloat64() * 0.2, Dof: 2 + 40*rng.Float64()}
		if rng.IntN(4) == 0 {
			units[i].Pool, units[i].Dof = 1, 40
		}
	}
	return units
}

// Ranges do not depend on the order of input, nor on which end is called good.
func TestRangesOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	for range 2000 {
		n := 2 + rng.IntN(12)
		units := randomUnits(rng, n)
		perm := rng.Perm(n)
		mixed, mirrored := make([]Estimate, n), slices.Clone(units)
		for i, p := range perm {
			mixed[p] = units[i]
			mirrored[i].Score = -units[i].Score
		}
		want := fixed(units, High).Ranges()
		got, low := fixed(mixed, High).Ranges(), fixed(mirrored, Low).Ranges()
		for i, p := range perm {
			if got[p] != want[i] || low[i] != want[i] {
				t.Fatalf("unit %d: %v, mixed %v, mirrored %v", i, want[i], got[p], low[i])
			}
			if want[i].Best < 1 || want[i].Worst > n || want[i].Best > want[i].Worst {
				t.Fatalf("unit %d: %v of %d", i, want[i], n)
			}
		}
	}
}

func BenchmarkCompare600(b *testing.B) {
	rng := rand.New(rand.NewPCG(4, 3))
	own := randomUnits(rng, 600)
	pooled := slices.Clone(own)
	for i := range pooled {
		pooled[i].Var, pooled[i].Dof, pooled[i].Pool = 0.1, 1200, 1
	}
	for _, c := range []struct {
		name  string
		units []Estimate
	}{{"own", own}, {"pooled", pooled}} {
		b.Run(c.name, func(b *testing.B) {
			groups := 0
			for b.Loop() {
				cmp := compare(b, c.units, High)
				cmp.Ranges()
				groups = len(cmp.Groups())
			}
			b.ReportMetric(float64(groups), "groups")
		})
	}
}

func ExampleCompare() {
	// four units, three runs each, run-to-run 0.3 points pooled with 8 degrees of freedom
	v := 0.3 * 0.3 / 3
	c, _ := Compare([]Estimate{{7.1, v, 8, 1}, {8.2, v, 8, 1}, {7.7, v, 8, 1}, {5.0, v, 8, 1}}, 0.05, High)
	fmt.Println(c.Ranges())
	fmt.Println(c.Groups())
	// Output:
	// [{2 3} {1 2} {1 3} {4 4}]
	// [[1 2] [2 0] [3]]
}

// apart reports whether units u and v can be told apart.
func apart(c *Comparison, u, v int) bool {
	i, j := slices.Index(c.order, u), slices.Index(c.order, v)
	return c.apart[i*len(c.order)+j]
}
