package rank

import (
	"math"
	"slices"
	"testing"
)

func TestPooled(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		groups  [][]float64
		sd, dof float64
		ok      bool
	}{
		{nil, 0, 0, false},
		{[][]float64{{1}, {2}, {}}, 0, 0, false},
		{[][]float64{{1, 3}, {7}}, math.Sqrt2, 1, true},
		{[][]float64{{1, 3}, {10, 11, 12}, {9}}, math.Sqrt(4.0 / 3), 3, true},
		{[][]float64{{1, nan, 3}, {math.Inf(1), 7}}, math.Sqrt2, 1, true},
		{[][]float64{{4, 4}}, 0, 1, true},
		{[][]float64{{-1e200, 1e200}}, 0, 0, false},
	} {
		sd, dof, ok := Pooled(c.groups)
		if !(math.Abs(sd-c.sd) <= 1e-12) || dof != c.dof || ok != c.ok {
			t.Errorf("%v: %v, %v, %v; want %v, %v, %v", c.groups, sd, dof, ok, c.sd, c.dof, c.ok)
		}
	}
}

// 95 % half-width of a mean in units of the run-to-run standard deviation: trade practice, Student.
func TestSummarise(t *testing.T) {
	for _, c := range []struct {
		n    int
		half float64
	}{{2, 9.0}, {3, 2.5}, {4, 1.6}, {5, 1.2}} {
		s := Summarise(make([]float64, c.n), 1, float64(c.n-1))
		if !(math.Abs(s.Half.V-c.half) <= 0.05) || s.N != c.n || s.SD != Val(0) || s.Mean != Val(0) {
			t.Errorf("%d runs: %+v, want half-width %v", c.n, s, c.half)
		}
	}
	// Student's 97.5 % points as printed (from memory)
	for dof, want := range map[float64]float64{1: 12.706, 5: 2.571, 40: 2.021, 120: 1.980, 1e12: 1.960, inf: 1.960} {
		if got := Summarise([]float64{7}, 1, dof).Half; !(math.Abs(got.V-want) <= 0.0006) {
			t.Errorf("%v dof: %v, want %v", dof, got, want)
		}
	}
	s := Summarise([]float64{1, 2, 6, math.NaN()}, 0.5, 0)
	if s.N != 3 || s.Mean != Val(3) || !(math.Abs(s.SD.V-math.Sqrt(7)) <= 1e-12) || s.Half.OK {
		t.Errorf("no pooled spread: %+v", s)
	}
	if s := Summarise(nil, 1, 4); s != (Summary{}) {
		t.Errorf("no runs: %+v", s)
	}
	if s := Summarise([]float64{1}, 1, 4); s.SD.OK || !s.Half.OK {
		t.Errorf("one run: %+v", s)
	}
}

func TestOutliers(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		runs []float64
		want []int
	}{
		{"none", nil, nil},
		{"one", []float64{99}, nil},
		{"two near", []float64{0, 2.7}, nil}, // 2.77 s
		{"two apart: nothing says which", []float64{0, 2.8}, []int{0, 1}},
		{"three near", []float64{0, 3.3, 1}, nil}, // 3.31 s
		{"three", []float64{0, 3.4, 1}, []int{1}},
		{"three, even", []float64{0, 4, 2}, []int{0, 1}},
		{"four", []float64{10, 0, 0.5, 0.2}, []int{0}},
		{"two of five", []float64{0, 9, 0.2, -9, 0.1}, []int{1, 3}},
		{"a gap", []float64{0, nan, 9, 1}, []int{2}},
	} {
		if got := Outliers(c.runs, 1, inf); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	for i := range 1000 { // rounding does not choose between two
		a := float64(i) / 7
		if got := Outliers([]float64{a, a + 10.0/3, math.NaN()}, 1, inf); !slices.Equal(got, []int{0, 1}) {
			t.Fatalf("%v: %v", a, got)
		}
	}
	for _, bad := range [][2]float64{{nan, 5}, {-1, 5}, {1, 0}, {1, nan}} {
		if got := Outliers([]float64{0, 100}, bad[0], bad[1]); got != nil {
			t.Errorf("sd %v, dof %v: %v", bad[0], bad[1], got)
		}
	}
	if got := Outliers([]float64{0, 3}, 1, 4); got != nil { // 3.93 s: a spread from few runs is worth less
		t.Errorf("few degrees of freedom: %v", got)
	}
}

// The short cut never hides what the quantile would mark.
func TestLeastRange(t *testing.T) {
	for n := 2; n <= 30; n++ {
		for _, dof := range []float64{1, 4, 40, 1e6, math.Inf(1)} {
			if q := TukeyQuantile(0.95, n, dof); leastRange(n) > q {
				t.Errorf("%d groups, %g degrees of freedom: %g is above %g", n, dof, leastRange(n), q)
			}
		}
	}
}
