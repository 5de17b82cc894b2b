package rank

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestPlaces(t *testing.T) {
	nan := math.NaN()
	addends := []float64{0.1, 0.2} // not constants: their sum is not 0.3
	for _, c := range []struct {
		scores []float64
		better Better
		want   []int
	}{
		{nil, High, []int{}},
		{[]float64{7}, High, []int{1}},
		{[]float64{8, 9, 9, 7}, High, []int{3, 1, 1, 4}},
		{[]float64{8, 9, 9, 7}, Low, []int{2, 3, 3, 1}},
		{[]float64{5, 5, 4}, High, []int{1, 1, 3}},
		{[]float64{addends[0] + addends[1], 0.3}, Low, []int{1, 1}},
		{[]float64{1e-13, 0, 1}, High, []int{2, 2, 1}},
		{[]float64{3.20, 3.2000001, 3.1999999}, High, []int{2, 1, 3}}, // printed alike, not a tie
		{[]float64{nan, 2, math.Inf(1), 3}, High, []int{0, 2, 0, 1}},
		{[]float64{-1, -2}, High, []int{1, 2}},
		{[]float64{-1, math.Copysign(0, -1), 0, 1, -3}, High, []int{4, 2, 2, 1, 5}},
		{[]float64{-1, math.Copysign(0, -1), 0, 1, -3}, Low, []int{2, 3, 3, 5, 1}},
	} {
		if got := Places(c.scores, c.better); !slices.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.scores, got, c.want)
		}
	}
}

// The radix sort against the library's.
func TestOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	low, high := sorter{better: Low}, sorter{better: High}
	for range 1000 {
		scores := make([]float64, rng.IntN(4*fewScores))
		for i := range scores {
			scores[i] = math.Ldexp(rng.NormFloat64(), rng.IntN(2000)-1000)
			if rng.IntN(4) == 0 {
				scores[i] = math.Copysign(float64(rng.IntN(2)), rng.NormFloat64())
			}
		}
		for _, s := range []*sorter{&low, &high} {
			want := make([]int32, len(scores))
			for i := range want {
				want[i] = int32(i)
			}
			slices.SortStableFunc(want, func(a, b int32) int {
				if s.better == High {
					a, b = b, a
				}
				return cmp.Compare(scores[a], scores[b])
			})
			for i, c := range s.order(scores) {
				if c.unit != want[i] || math.Abs(c.number()) != math.Abs(scores[c.unit]) {
					t.Fatalf("%v: at %d unit %d, want %d", scores, i, c.unit, want[i])
				}
			}
		}
	}
}

// A campaign: values of criteria per unit and weights; totals by Mean, places by Places.
type campaign struct {
	values  [][]Value
	weights []float64
}

func (c campaign) places(missing Missing) []int {
	totals := make([]float64, len(c.values))
	for i, vs := range c.values {
		totals[i] = math.NaN()
		if m := Mean(vs, c.weights, missing); m.OK {
			totals[i] = m.V
		}
	}
	return Places(totals, High)
}

func randomCampaign(rng *rand.Rand) campaign {
	c := campaign{}
	criteria := 1 + rng.IntN(6)
	for range criteria {
		c.weights = append(c.weights, float64(rng.IntN(5))*0.7)
	}
	for range 2 + rng.IntN(7) {
		vs := make([]Value, criteria)
		for j := range vs {
			if rng.IntN(6) > 0 {
				vs[j] = Val(float64(rng.IntN(11)) / 2) // coarse: many ties
			}
		}
		c.values = append(c.values, vs)
	}
	return c
}

// Places are the same in any order of units and of criteria and at any scale of the weights.
func TestPlacesInvariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	ties, gone := 0, 0
	for n := range 100_000 {
		c := randomCampaign(rng)
		missing := Missing{Rule: Rule(rng.IntN(3))}
		want := c.places(missing)

		scaled := campaign{c.values, slices.Clone(c.weights)}
		factor := math.Exp(40 * (rng.Float64() - 0.5))
		for j := range scaled.weights {
			scaled.weights[j] *= factor
		}
		if got := scaled.places(missing); !slices.Equal(got, want) {
			t.Fatalf("case %d: weights times %v: %v, want %v: %v", n, factor, got, want, c)
		}

		units, criteria := rng.Perm(len(c.values)), rng.Perm(len(c.weights))
		mixed := campaign{make([][]Value, len(c.values)), make([]float64, len(c.weights))}
		for j, q := range criteria {
			mixed.weights[q] = c.weights[j]
		}
		for i, p := range units {
			mixed.values[p] = make([]Value, len(c.weights))
			for j, q := range criteria {
				mixed.values[p][q] = c.values[i][j]
			}
		}
		got := mixed.places(missing)
		for i, p := range units {
			if got[p] != want[i] {
				t.Fatalf("case %d: mixed: unit %d at %d, want %d: %v", n, i, got[p], want[i], c)
			}
			if want[i] == 0 {
				gone++
			}
			if j := slices.Index(want, want[i]); j != i && want[i] > 0 {
				ties++
			}
		}
	}
	if ties < 10_000 || gone < 10_000 {
		t.Errorf("%d ties, %d without place: the cases try nothing", ties, gone)
	}
}

func TestTally(t *testing.T) {
	tally := NewTally(3, High)
	if s := tally.Unit(1); s != (Stability{}) {
		t.Errorf("no draws: %+v", s)
	}
	if tally.Add([]float64{1, 2}) == nil {
		t.Error("a draw too short: no error")
	}
	for i := range 100 {
		draw := []float64{5, 4, 3}
		switch {
		case i < 2:
			draw = []float64{3, 5, 4}
		case i < 10:
			draw = []float64{4, 4, 5}
		case i < 30:
			draw[2] = math.NaN()
		}
		if err := tally.Add(draw); err != nil {
			t.Fatal(err)
		}
	}
	for i, want := range []Stability{
		{Draws: 100, Top1: 0.90, Top3: 1, Top5: 1, Median: 1, Low: 1, High: 2},
		{Draws: 100, Top1: 0.02, Top3: 1, Top5: 1, Median: 2, Low: 2, High: 2},
		{Draws: 80, Top1: 0.08, Top3: 0.8, Top5: 0.8, Median: 3, Low: 1, High: 3},
	} {
		if got := tally.Unit(i); got != want {
			t.Errorf("unit %d: %+v, want %+v", i, got, want)
		}
	}
	if tally.draws != 100 {
		t.Errorf("%d draws", tally.draws)
	}
}

func BenchmarkTally10000x555(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 5))
	draws := make([][]float64, 100)
	for i := range draws {
		draws[i] = make([]float64, 555)
		for j := range draws[i] {
			draws[i][j] = 10 * rng.Float64()
		}
	}
	for b.Loop() {
		tally := NewTally(555, High)
		for i := range 10_000 {
			if err := tally.Add(draws[i%len(draws)]); err != nil {
				b.Fatal(err)
			}
		}
		for u := range 555 {
			tally.Unit(u)
		}
	}
}
