package rank

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

var inf = math.Inf(1)

// readTable reads a CSV file of testdata with # comments, without its header.
func readTable(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Against scipy: testdata/tukey.py.
func TestTukeyScipy(t *testing.T) {
	rows := readTable(t, "testdata/tukey.csv")
	if len(rows) != 640 {
		t.Fatalf("%d rows, want 640", len(rows))
	}
	var worstQ, worstP float64
	for _, r := range rows {
		given, k, dof, want := number(t, r[1]), int(number(t, r[2])), number(t, r[3]), number(t, r[4])
		if r[0] == "ppf" {
			got := TukeyQuantile(given, k, dof)
			d := math.Abs(got/want - 1)
			worstQ = max(worstQ, d)
			if !(d < 1e-6) {
				t.Errorf("quantile %v: got %v, off by %.2g", r, got, d)
			}
			continue
		}
		got := TukeyCDF(given, k, dof)
		d := math.Abs(got - want)
		worstP = max(worstP, d)
		if !(d < 1e-8) {
			t.Errorf("cdf %v: got %v, off by %.2g", r, got, d)
		}
	}
	t.Logf("largest deviation: quantile %.2g relative, cdf %.2g", worstQ, worstP)
}

// Upper 5 % points as printed in textbooks of statistics, from memory: to two decimals.
func TestTukeyPrinted(t *testing.T) {
	for _, r := range []struct{ dof, k, q float64 }{
		{5, 2, 3.64}, {5, 3, 4.60}, {5, 4, 5.22}, {5, 5, 5.67}, {5, 6, 6.03}, {5, 7, 6.33}, {5, 8, 6.58},
		{5, 9, 6.80}, {5, 10, 6.99}, {5, 20, 8.21},
		{10, 2, 3.15}, {10, 3, 3.88}, {10, 4, 4.33}, {10, 5, 4.65}, {10, 6, 4.91}, {10, 7, 5.12},
		{10, 8, 5.30}, {10, 9, 5.46}, {10, 10, 5.60}, {10, 20, 6.47},
		{20, 2, 2.95}, {20, 3, 3.58}, {20, 4, 3.96}, {20, 5, 4.23}, {20, 10, 5.01}, {20, 20, 5.71},
		{40, 2, 2.86}, {40, 3, 3.44}, {40, 4, 3.79}, {40, 5, 4.04}, {40, 10, 4.73}, {40, 20, 5.36},
		{inf, 2, 2.77}, {inf, 3, 3.31}, {inf, 4, 3.63}, {inf, 5, 3.86}, {inf, 6, 4.03}, {inf, 7, 4.17},
		{inf, 8, 4.29}, {inf, 9, 4.39}, {inf, 10, 4.47}, {inf, 20, 5.01},
	} {
		if got := TukeyQuantile(0.95, int(r.k), r.dof); !(math.Abs(got-r.q) <= 0.00501) {
			t.Errorf("%v groups, %v dof: got %.4f, want %.2f", r.k, r.dof, got, r.q)
		}
	}
}

// Two groups: the range is sqrt 2 times Student's t.
func TestTukeyTwoGroups(t *testing.T) {
	for _, dof := range []float64{1, 1.5, 2, 4, 10, 40, 1000, 1e6, inf} {
		for _, p := range []float64{0.001, 0.1, 0.5, 0.95, 0.99, 0.9999} {
			if dof == 1e6 && p < 0.1 {
				continue // here the reference is the one that is off
			}
			want := math.Sqrt2 * studentQuantile((1+p)/2, dof)
			if got := TukeyQuantile(p, 2, dof); !(math.Abs(got/want-1) <= 2e-8) {
				t.Errorf("p %v, %v dof: got %v, want %v", p, dof, got, want)
			}
		}
	}
}

// The expected range of n normals is tabled as d2 (handbooks of quality control, from memory).
func TestTukeyExpectedRange(t *testing.T) {
	for k, d2 := range map[int]float64{2: 1.128, 3: 1.693, 5: 2.326, 10: 3.078, 25: 3.931} {
		const h = 0.01
		sum := 0.0
		for q := h / 2; q < 12; q += h {
			sum += h * (1 - TukeyCDF(q, k, inf))
		}
		if !(math.Abs(sum-d2) <= 0.00051) {
			t.Errorf("%d: expected range %.4f, want %.3f", k, sum, d2)
		}
	}
}

// Halving both steps changes nothing.
func TestTukeySteps(t *testing.T) {
	worst := 0.0
	for _, k := range []int{2, 3, 20, 100, 1000} {
		for _, dof := range []float64{1, 2.5, 10, 300, 1e5, inf} {
			a, b := newTukey(k, dof), newTukey(k, dof)
			h := a.nodes[1].z - a.nodes[0].z
			b.setNodes(h / 2)
			b.step /= 2
			for _, p := range []float64{0.001, 0.95, 0.9999} {
				q := a.quantile(p)
				d := math.Abs(a.cdf(q) - b.cdf(q))
				worst = max(worst, d)
				if d > 1e-10 {
					t.Errorf("%d groups, %v dof, p %v: steps halved change it by %.2g", k, dof, p, d)
				}
				if d := math.Abs(a.cdf(q) - p); d > 1e-9*min(p, 1-p)+1e-12 {
					t.Errorf("%d groups, %v dof, p %v: cdf of quantile off by %.2g", k, dof, p, d)
				}
			}
		}
	}
	t.Logf("largest change %.2g", worst)
}

func TestTukeyArguments(t *testing.T) {
	nan := math.NaN()
	for _, v := range []float64{
		TukeyCDF(3, 1, 5), TukeyCDF(3, MaxGroups+1, 5), TukeyCDF(3, 3, 0.5), TukeyCDF(3, 3, nan),
		TukeyCDF(nan, 3, 5), TukeyQuantile(-0.1, 3, 5), TukeyQuantile(1.1, 3, 5), TukeyQuantile(nan, 3, 5),
		TukeyQuantile(0.5, 3, -inf),
	} {
		if !math.IsNaN(v) {
			t.Errorf("got %v, want NaN", v)
		}
	}
	for _, dof := range []float64{1e9, 1e12, 1e13, 1e17, 1e19, 1e22, 1e25, 1e30, 1e40, math.MaxFloat64} {
		if got, want := TukeyQuantile(0.95, 20, dof), TukeyQuantile(0.95, 20, inf); !(math.Abs(got/want-1) <= 1e-8) {
			t.Errorf("%v dof: %v, want %v", dof, got, want)
		}
	}
	if TukeyCDF(-1, 3, 5) != 0 || TukeyCDF(inf, 3, 5) != 1 || TukeyCDF(inf, 3, inf) != 1 ||
		TukeyQuantile(0, 3, 5) != 0 || TukeyQuantile(1, 3, 5) != inf {
		t.Error("ends of the scale")
	}
}

func BenchmarkTukeyQuantile(b *testing.B) {
	for _, dof := range []float64{1, 5, 40, 1110, inf} {
		for _, k := range []int{2, 20, 600, 1000} {
			b.Run(strconv.Itoa(k)+"x"+strconv.FormatFloat(dof, 'g', -1, 64), func(b *testing.B) {
				for b.Loop() {
					TukeyQuantile(0.95, k, dof)
				}
			})
		}
	}
}
