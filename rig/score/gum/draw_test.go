package gum

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The generator against the standard library's, an independent implementation of the same.
func TestPCGAgainstStandardLibrary(t *testing.T) {
	ours, theirs := NewPCG(20, 26), rand.NewPCG(20, 26)
	for i := range 100_000 {
		if a, b := ours.Uint64(), theirs.Uint64(); a != b {
			t.Fatalf("number %d: %d, standard library %d", i+1, a, b)
		}
	}
}

type fixed uint64

func (f fixed) Uint64() uint64 { return uint64(f) }

func TestDrawsAtTheEndsAreFinite(t *testing.T) {
	for _, s := range []fixed{0, math.MaxUint64} {
		if u := Uniform(s); u <= 0 || u >= 1 {
			t.Errorf("uniform %g is not inside 0 to 1", u)
		}
		for _, in := range []Input{Normal(0, 1), Rectangular(0, 1), Student(0, 1, 1), Student(0, 1, 50)} {
			if !finite(in.Draw(s)) {
				t.Errorf("%+v drew %g", in, in.Draw(s))
			}
		}
	}
}

// Each distribution against its own cumulative function at seven places. Three standard deviations of a
// share of 2e5 draws are below 0.0034.
func TestDrawsFollowTheirDistribution(t *testing.T) {
	const n = 200_000
	for name, c := range map[string]struct {
		in  Input
		cdf func(float64) float64
	}{
		"normal":      {Normal(3, 2), distuv.Normal{Mu: 3, Sigma: 2}.CDF},
		"rectangular": {Rectangular(-1, 5), distuv.Uniform{Min: -1, Max: 5}.CDF},
		"t, 1":        {Student(3, 2, 1), distuv.StudentsT{Mu: 3, Sigma: 2, Nu: 1}.CDF},
		"t, 2.5":      {Student(3, 2, 2.5), distuv.StudentsT{Mu: 3, Sigma: 2, Nu: 2.5}.CDF},
		"t, 9":        {Student(3, 2, 9), distuv.StudentsT{Mu: 3, Sigma: 2, Nu: 9}.CDF},
	} {
		src, at := NewPCG(7, 0), []float64{-3, -0.5, 1, 2.2, 3.1, 4.9, 8}
		below := make([]int, len(at))
		for range n {
			v := c.in.Draw(src)
			for i, x := range at {
				if v <= x {
					below[i]++
				}
			}
		}
		for i, x := range at {
			if got, want := float64(below[i])/n, c.cdf(x); !near(got, want, 0.0034) {
				t.Errorf("%s: %.4f of the draws are below %g, want %.4f", name, got, x, want)
			}
		}
	}
}

// A skew result: of an exponential distribution the shortest 95 % interval begins at 0 and ends at
// -ln 0.05, the symmetric one runs from -ln 0.975 to -ln 0.025.
func TestIntervalsOfASkewResult(t *testing.T) {
	f := func(x []float64) float64 { return -math.Log(x[0]) }
	s := must(MonteCarlo(300_000, f, []Input{Rectangular(0, 1)}, 9))
	for _, c := range [][2]float64{{s.Shortest.From, 0}, {s.Shortest.To, -math.Log(0.05)},
		{s.Symmetric.From, -math.Log(0.975)}, {s.Symmetric.To, -math.Log(0.025)}, {s.Mean, 1}, {s.SD, 1}} {
		if !near(c[0], c[1], 0.03) {
			t.Errorf("%.4f, want %.4f: %+v", c[0], c[1], s)
		}
	}
	if again := must(MonteCarlo(300_000, f, []Input{Rectangular(0, 1)}, 9)); again != s {
		t.Errorf("same seed: %+v and %+v", s, again)
	}
	if other := must(MonteCarlo(300_000, f, []Input{Rectangular(0, 1)}, 10)); other == s {
		t.Error("another seed gave the same draws")
	}
}

// The ranks of JCGM 101:2008, 7.7: of the draws 1 to 100, q = 95 and r = 3.
func TestRanksOfIntervals(t *testing.T) {
	ys := make([]float64, 100)
	for i := range ys {
		ys[i] = float64(100 - i)
	}
	ys[0] = 1000 // the last, far away: the shortest interval leaves it out
	s := must(Summarise(ys))
	if s.Symmetric != (Interval{3, 98}) || s.Shortest != (Interval{1, 96}) || s.N != 100 {
		t.Errorf("%+v, want symmetric 3 to 98, shortest 1 to 96", s)
	}
	ys = make([]float64, 200) // q = 190 and r = 5
	for i := range ys {
		ys[i] = float64(i + 1)
	}
	// Of the numbers 1 to n the variance, by n-1, is n(n+1)/12.
	s = must(Summarise(ys))
	if s.Symmetric != (Interval{5, 195}) || !near(s.Mean, 100.5, 1e-12) || !near(s.SD, math.Sqrt(200*201/12.), 1e-12) {
		t.Errorf("%+v, want symmetric 5 to 195, mean 100.5, standard deviation 57.88", s)
	}
}

func TestMonteCarloRefuses(t *testing.T) {
	id := func(x []float64) float64 { return math.Log(x[0]) }
	for name, c := range map[string]struct {
		n  int
		in Input
	}{
		"few":         {99, Normal(10, 1)},
		"many":        {20_000_001, Normal(10, 1)},
		"negative sd": {1000, Normal(10, -1)},
		"NaN":         {1000, Normal(math.NaN(), 1)},
		"shape":       {1000, Input{Shape: "triangular", Centre: 10, Scale: 1}},
		"no dof":      {1000, Student(10, 1, 0)},
		"turned":      {1000, Rectangular(11, 10)},
		"log of -1":   {1000, Rectangular(-1, 1)},
	} {
		_, err := MonteCarlo(c.n, id, []Input{c.in}, 1)
		refused(t, name, err)
	}
	_, err := Summarise(append(make([]float64, 200), math.NaN()))
	refused(t, "NaN draw", err)
}

func BenchmarkDrawNormal(b *testing.B) {
	in, src := Normal(0, 1), NewPCG(1, 0)
	for b.Loop() {
		in.Draw(src)
	}
}

func BenchmarkDrawStudent(b *testing.B) {
	in, src := Student(0, 1, 4), NewPCG(1, 0)
	for b.Loop() {
		in.Draw(src)
	}
}
