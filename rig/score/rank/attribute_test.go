package rank

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestAttribute(t *testing.T) {
	for _, c := range []struct {
		name     string
		old, new []Term
		want     []Part
	}{
		{"nothing", []Term{{ID: "noise", Weight: 1, Points: 5}}, []Term{{ID: "noise", Weight: 1, Points: 5}}, nil},
		{
			"weight", []Term{{ID: "a", Weight: 0.5, Points: 8}, {ID: "b", Weight: 0.5, Points: 4}},
			[]Term{{ID: "b", Weight: 0.25, Points: 4}, {ID: "a", Weight: 0.75, Points: 8}},
			[]Part{{"a", CauseWeight, 2}, {"b", CauseWeight, -1}},
		},
		{
			"weight and points", []Term{{ID: "a", Weight: 0.5, Points: 8}}, []Term{{ID: "a", Weight: 0.25, Points: 4}},
			[]Part{{"a", CausePoints, -1.5}, {"a", CauseWeight, -1.5}},
		},
		{
			// old curve: 6 of the old measure, 8 of the new; new curve: 5 and 9
			"curve and measure", []Term{{ID: "a", Weight: 1, Points: 6, Crossed: Val(8)}}, []Term{{ID: "a", Weight: 1, Points: 9, Crossed: Val(5)}},
			[]Part{{"a", CauseMeasure, 3}},
		},
		{
			"mostly curve", []Term{{ID: "a", Weight: 1, Points: 6, Crossed: Val(7)}}, []Term{{ID: "a", Weight: 1, Points: 9, Crossed: Val(8)}},
			[]Part{{"a", CauseCurve, 2}, {"a", CauseMeasure, 1}},
		},
		{
			"half known", []Term{{ID: "a", Weight: 1, Points: 6, Crossed: Val(7)}}, []Term{{ID: "a", Weight: 1, Points: 9}},
			[]Part{{"a", CausePoints, 3}},
		},
		{
			"gate", []Term{{ID: "a", Weight: 0.5, Points: 6, Crossed: Val(8)}}, []Term{{ID: "a", Weight: 1, Points: 0, Failed: true, Crossed: Val(5)}},
			[]Part{{"a", CauseGate, -4.5}, {"a", CauseWeight, 1.5}},
		},
		{
			"failed twice", []Term{{ID: "a", Weight: 1, Points: 0, Failed: true}}, []Term{{ID: "a", Weight: 1, Points: 1, Failed: true}},
			[]Part{{"a", CausePoints, 1}},
		},
		{
			"added and removed", []Term{{ID: "a", Weight: 0.5, Points: 6}}, []Term{{ID: "c", Weight: 0.5, Points: 2}, {ID: "b", Weight: 0.5, Points: 6}},
			[]Part{{"a", CauseRemoved, -3}, {"b", CauseAdded, 3}, {"c", CauseAdded, 1}},
		},
	} {
		got, err := Attribute(c.old, c.new)
		if err != nil || !slices.Equal(got.Parts, c.want) {
			t.Errorf("%s: %v, %v; want %v", c.name, got.Parts, err, c.want)
		}
	}
}

func TestAttributeErrors(t *testing.T) {
	good := []Term{{ID: "a", Weight: 1, Points: 1}}
	for _, bad := range [][]Term{
		{{ID: "a"}, {ID: "b"}, {ID: "a"}},
		{{ID: "a", Weight: math.NaN()}},
		{{ID: "a", Points: math.Inf(1)}},
		{{ID: "a", Crossed: Value{V: math.NaN(), OK: true}}},
	} {
		if _, err := Attribute(bad, good); err == nil {
			t.Errorf("old %v: no error", bad)
		}
		if m, err := Attribute(good, bad); err == nil || m.Parts != nil {
			t.Errorf("new %v: %v, no error", bad, m)
		}
	}
}

// The parts add up to the move, the largest come first, and none is lost for the order of the terms.
func TestAttributeAddsUp(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	side := func() []Term {
		var ts []Term
		for i := range rng.IntN(9) {
			if rng.IntN(5) == 0 {
				continue
			}
			c := Term{ID: fmt.Sprint(i), Weight: rng.Float64(), Points: 10 * rng.Float64(), Failed: rng.IntN(5) == 0}
			if rng.IntN(2) == 0 {
				c.Crossed = Val(10 * rng.Float64())
			}
			ts = append(ts, c)
		}
		return ts
	}
	seen, worst := map[Cause]int{}, 0.0
	for n := range 100_000 {
		old, new := side(), side()
		m, err := Attribute(old, new)
		if err != nil {
			t.Fatal(err)
		}
		sum, was, is := 0.0, 0.0, 0.0
		for i, p := range m.Parts {
			sum += p.Points
			seen[p.Cause]++
			if i > 0 && math.Abs(p.Points) > math.Abs(m.Parts[i-1].Points) {
				t.Fatalf("case %d: not by size: %v", n, m.Parts)
			}
		}
		for _, c := range old {
			was += c.Weight * c.Points
		}
		for _, c := range new {
			is += c.Weight * c.Points
		}
		d := math.Abs(sum - (is - was))
		worst = max(worst, d)
		if d > 1e-12 || m.Old != was || m.New != is {
			t.Fatalf("case %d: parts %v, move %v to %v (%v, %v), off by %g", n, sum, m.Old, m.New, was, is, d)
		}
		slices.Reverse(old)
		if again, _ := Attribute(old, new); !slices.Equal(again.Parts, m.Parts) {
			t.Fatalf("case %d: order of terms: %v, %v", n, again.Parts, m.Parts)
		}
	}
	for _, c := range Causes {
		if seen[c] < 1000 {
			t.Errorf("%s: tried %d times only", c, seen[c])
		}
	}
	t.Logf("parts off by at most %.1g", worst)
}
