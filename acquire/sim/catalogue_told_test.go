package sim

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// What is told to be in a season is in it, whatever the seed.
func TestCatalogueTold(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		for _, o := range []CatalogueOptions{{Units: 4, Light: true}, {Units: 5, Light: true}, {Light: true}, {Units: 20, Light: true}} {
			told(t, season(t, seed, o), fmt.Sprintf("seed %d, %d units: ", seed, o.Units))
		}
	}
}

func told(t *testing.T, s *Season, name string) {
	t.Helper()
	k := &s.Told
	void := map[string]string{}
	for i := range s.Runs {
		x := &s.Runs[i]
		u, p := x.Scenario.Unit.ID, &x.Scenario.Procedure
		in, left := counting(x)
		share, most := left[rig.Chamber]/in, limit(p, "left_share", 0)
		switch {
		case u == k.Failing && p.ID == k.FailingIn:
			if share < 1.1*most {
				t.Errorf("%s%s should fail, left %.4f of %.4f", name, x.Name, share, most)
			}
		case u == k.Close && p.ID == k.CloseIn:
			if share < 0.9*most || share > 1.04*most {
				t.Errorf("%s%s should be close, left %.4f of %.4f", name, x.Name, share, most)
			}
		case share > 0.98*most:
			t.Errorf("%s%s fails unasked, left %.4f of %.4f", name, x.Name, share, most)
		}
		if c := left[rig.Coarse] / (in - left[rig.Chamber]); p.ID == "mixed" && c > 0.0195 {
			t.Errorf("%s%s: %.4f on the coarse sieve", name, x.Name, c)
		}
		if u == k.Untested && p.ID == k.UntestedIn {
			t.Errorf("%s%s should not be there", name, x.Name)
		}
		for _, c := range x.Corrections {
			void[x.Name] = c.New
		}
	}
	if void[k.RigVoid] != "rig" || void[k.OperatorVoid] != "operator" || void[k.Withdrawn] != "withdrawn" || len(void) != 3 {
		t.Errorf("%scorrections %v", name, void)
	}
	same := func(a string) string { return a[16 : len(a)-1] } // all but when, and which number
	if k.Repeat <= k.RigVoid || same(k.Repeat) != same(k.RigVoid) {
		t.Errorf("%s%s does not repeat %s", name, k.Repeat, k.RigVoid)
	}
	if k.Tripping == "" || k.Tied[0] == k.Tied[1] {
		t.Errorf("%s%+v", name, *k)
	}
}

// What was entered by hand is within its scale, said to be invented, and put down after the last run.
func TestCatalogueHand(t *testing.T) {
	s := season(t, 1, CatalogueOptions{Units: 12})
	seen := map[string]map[float64]bool{}
	for _, v := range s.Hand {
		if seen[v.Name] == nil {
			seen[v.Name] = map[float64]bool{}
		}
		seen[v.Name][v.Value] = true
		top := 10.0
		if v.Name == "price" {
			top = 500
		}
		if v.Value < 0 || v.Value > top || !strings.HasPrefix(v.Note, "invented: ") || v.At.Before(s.Runs[len(s.Runs)-1].Started) {
			t.Errorf("%+v", v)
		}
	}
	dear := 0.0 // covariance of quality and price
	mean := 0.0
	for _, t := range s.Traits {
		mean += t.Quality / float64(len(s.Traits))
	}
	for _, v := range s.Hand {
		if u := slices.IndexFunc(s.Units, func(u config.Unit) bool { return u.ID == v.Unit }); v.Name == "price" {
			dear += (s.Traits[u].Quality - mean) * v.Value
		}
	}
	if dear <= 0 {
		t.Error("what is good costs no more")
	}
	if len(s.Hand) != 36 || len(seen) != 3 || len(seen["price"]) < 6 || len(seen["build"]) < 6 {
		t.Errorf("%d values of %d kinds", len(s.Hand), len(seen))
	}
}

// What is expected of a unit is what its weighings come to on average, and the ranking follows from it.
func TestCatalogueExpect(t *testing.T) {
	s := season(t, 1, CatalogueOptions{Units: 8, Repeats: 40, Light: true})
	type key struct{ unit, procedure string }
	sums, n := map[key]float64{}, map[key]float64{}
	for i := range s.Runs {
		x := &s.Runs[i]
		k := key{x.Scenario.Unit.ID, x.Scenario.Procedure.ID}
		in, left := counting(x)
		sums[k] += left[rig.Chamber] / in
		n[k]++
	}
	for k, sum := range sums {
		want, ok := s.Expect(k.unit, k.procedure, "left_share")
		if mean := sum / n[k]; !ok || !(math.Abs(mean-want) <= 0.04*want+0.0005) {
			t.Errorf("%v: mean left %.5f, expected %.5f", k, mean, want)
		}
	}
	for _, c := range [][3]string{{"unit-z", "mixed", "left_share"}, {s.Told.Untested, s.Told.UntestedIn, "left_share"}, {"unit-a", "mixed", "max_a"}, {"unit-a", "", "hand.none"}, {"unit-a", "none", "trips"}} {
		if v, ok := s.Expect(c[0], c[1], c[2]); ok {
			t.Errorf("%v: %g expected", c, v)
		}
	}
	if v, ok := s.Expect("unit-a", "", "hand.build"); !ok || v != s.Hand[0].Value {
		t.Errorf("build of unit-a: %g, want %g", v, s.Hand[0].Value)
	}
}

func TestCatalogueTrueRank(t *testing.T) {
	for seed := uint64(1); seed < 9; seed++ {
		s := season(t, seed, CatalogueOptions{Units: 10, Light: true})
		card := s.lab.Scorecard
		rank := s.TrueRank(card)
		sorted := slices.Clone(rank)
		slices.Sort(sorted)
		if len(slices.Compact(sorted)) != 10 {
			t.Fatalf("seed %d: %v", seed, rank)
		}
		for i := 1; i < 10; i++ {
			if s.merit(rank[i], &card) > s.merit(rank[i-1], &card) {
				t.Errorf("seed %d: %v", seed, rank)
			}
		}
		if d := math.Abs(s.merit(s.Told.Tied[0], &card) - s.merit(s.Told.Tied[1], &card)); d > 0.12 {
			t.Errorf("seed %d: %v differ by %.3f points", seed, s.Told.Tied, d)
		}
		test := card.Tests[0] // the mixed load
		if v, ok := s.earns(s.Told.Failing, &card, &test); !ok || v != 0 {
			t.Errorf("seed %d: %s earns %g for what it fails", seed, s.Told.Failing, v)
		}
	}
	if got := season(t, 1, CatalogueOptions{}).TrueRank(config.Scorecard{}); len(got) != 6 || got[0] != "unit-a" {
		t.Errorf("without a scorecard: %v, want the order of the list", got)
	}
}

func TestAlong(t *testing.T) {
	curve := []config.Anchor{{At: 10, Points: 8}, {At: 20, Points: 4}, {At: 40, Points: 0}}
	for at, want := range map[float64]float64{0: 8, 10: 8, 15: 6, 20: 4, 30: 2, 40: 0, 50: 0} {
		if got := along(curve, at); !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("at %g: %g points, want %g", at, got, want)
		}
	}
	if along(nil, 7) != 7 {
		t.Error("without a curve the value is its own points")
	}
}

// A lab is refused that holds a value by hand which no criterion asks for: a season invents only what is asked for.
func TestHandIsAskedFor(t *testing.T) {
	lab := demoLab(t)
	lab.Scorecard.Criteria = slices.DeleteFunc(lab.Scorecard.Criteria, func(c config.Criterion) bool {
		return c.Measure == "hand.installation" || c.Measure == "hand.price"
	})
	s, err := Catalogue(1, lab, CatalogueOptions{Units: 4})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Hand) != 4 || slices.ContainsFunc(s.Hand, func(v rig.HandValue) bool { return v.Name != "build" }) {
		t.Errorf("got %+v, want the build of four units", s.Hand)
	}
}
