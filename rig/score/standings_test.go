package score

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score/rank"
)

// timed are runs of units with the given run times: "unit-a 40 42 44".
func timed(units ...string) []rig.Record {
	var out []rig.Record
	for _, u := range units {
		f := strings.Fields(u)
		for i, s := range f[1:] {
			out = append(out, told(f[0], i, "measure.run_time_s="+s))
		}
	}
	return out
}

func withUnits(l *config.Lab, ids ...string) *config.Lab {
	base := l.Units[0]
	l.Units = nil
	for _, id := range ids {
		base.ID = id
		l.Units = append(l.Units, base)
	}
	return l
}

// TestRangesByHand: runs of both units scatter by 2 s, that is 0.2 points, with 4 degrees of freedom; a
// mean of three has 0.1155 points. t(0.975; 4) = 2.7764, and two means differ beyond doubt by
// q(0.95; 2, 4) = 3.927 times that, 0.4534 points (tables).
func TestRangesByHand(t *testing.T) {
	for _, c := range []struct {
		second string
		apart  bool
	}{{"unit-b 44 46 48", false}, {"unit-b 44.6 46.6 48.6", true}} {
		s := mustRank(t, mustScore(t, testLab(t), timed("unit-a 40 42 44", c.second)))
		a, b := s.Lines[0], s.Lines[1]
		if a.Unit.Unit.ID != "unit-a" || a.Place != 1 || b.Place != 2 || !s.Sure {
			t.Fatalf("%+v", summary(s))
		}
		if !near(a.U.V, 0.2/math.Sqrt(3), 1e-12) || !near(a.Half.V, 2.776445*0.2/math.Sqrt(3), 1e-6) {
			t.Errorf("u %v, half %v", a.U, a.Half)
		}
		want := [2]rank.Range{{Best: 1, Worst: 2}, {Best: 1, Worst: 2}}
		groups := "a a"
		if c.apart {
			want, groups = [2]rank.Range{{Best: 1, Worst: 1}, {Best: 2, Worst: 2}}, "a b"
		}
		if got := [2]rank.Range{a.Range, b.Range}; got != want || a.Groups+" "+b.Groups != groups || (len(s.Rivals()) == 0) != c.apart {
			t.Errorf("%s: ranges %v, groups %s %s, rivals %v", c.second, got, a.Groups, b.Groups, s.Rivals())
		}
	}
}

func TestPlaces(t *testing.T) {
	l := withUnits(testLab(t), "unit-e", "unit-d", "unit-c", "unit-b", "unit-a")
	s := mustRank(t, mustScore(t, l, timed("unit-a 50", "unit-b 50", "unit-c 40", "unit-e 60")))
	got := ""
	for _, ln := range s.Lines {
		got += fmt.Sprintf("%s:%d ", ln.Unit.Unit.ID, ln.Place)
	}
	if got != "unit-c:1 unit-a:2 unit-b:2 unit-e:4 unit-d:0 " {
		t.Error(got)
	}
	if s.Sure || s.Lines[0].Half.OK || s.Lines[0].Half.Why != "no-repeats" || s.Rivals() != nil || s.Lines[0].Groups != "" || len(s.Once) != 1 || s.Once[0] != l.Procedures[0].ID {
		t.Errorf("no unit has repeats: sure %v, %+v, letters %q, once %q", s.Sure, s.Lines[0].Half, s.Lines[0].Groups, s.Once)
	}
	last := s.Lines[4]
	if last.Stability.Draws != 0 || last.Weights.Draws != 0 || last.Range != (rank.Range{}) || last.Groups != "" || last.Overall.OK {
		t.Errorf("a unit without a place: %+v", last)
	}
	one := mustRank(t, mustScore(t, withUnits(testLab(t), "unit-a"), timed("unit-a 50 51")))
	if ln := one.Lines[0]; ln.Place != 1 || ln.Range != (rank.Range{Best: 1, Worst: 1}) || ln.Groups != "a" || ln.Stability.Top1 != 1 {
		t.Errorf("one unit alone: %+v", ln)
	}
	if none := mustRank(t, mustScore(t, withUnits(testLab(t)), nil)); len(none.Lines) != 0 {
		t.Errorf("no unit: %+v", none.Lines)
	}
}

func TestBestAndWorst(t *testing.T) {
	l := withUnits(testLab(t), "unit-a", "unit-b", "unit-c", "unit-d", "unit-e")
	l.Procedures[0].Gates = []config.Gate{atMost("trips", 0, "any")}
	l.Scorecard.Missing = "worst"
	l.Scorecard.Criteria = append(l.Scorecard.Criteria, linear("level", "grind", "laeq_db", 60, 10, 90, 0))
	run := func(unit, time, trips, level string) rig.Record {
		return told(unit, 1, "measure.run_time_s="+time, "measure.trips="+trips, "measure.laeq_db="+level)
	}
	s := mustRank(t, mustScore(t, l, []rig.Record{run("unit-a", "30", "0", "70"), run("unit-b", "60", "0", "70"), run("unit-c", "10", "1", "65"), run("unit-d", "30", "0", "absent")}))
	got := ""
	for _, u := range s.Campaign.Units {
		for _, k := range u.Tests[0].Criteria {
			got += map[[2]bool]string{{true, false}: "+", {false, true}: "-", {true, true}: "!"}[[2]bool{k.Best, k.Worst}] + "."
		}
	}
	// the failed unit-c was the fastest and quietest, and has 0 points; what unit-d lacks is not the worst
	if want := "+.+." + ".+." + "-.-." + "+.." + ".."; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestLetters(t *testing.T) {
	for n, want := range map[int]string{0: "a", 25: "z", 26: "aa", 27: "ab", 52: "ba", 701: "zz", 702: "aaa"} {
		if got := letter(n); got != want {
			t.Errorf("%d: %s, want %s", n, got, want)
		}
	}
}

// TestLeavingOut: the ranking without a test is that of a scorecard that does not have it.
func TestLeavingOut(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	base := threeTests(t)
	withUnits(base, "unit-a", "unit-b", "unit-c", "unit-d", "unit-e")
	moved := 0
	for n := range 400 {
		l := anyLab(r, base)
		l.Scorecard.Missing = "reweight"
		var records []rig.Record
		for i, u := range l.Units {
			records = append(records, anyRecord(r, u.ID, "one", i), anyRecord(r, u.ID, "two", 10+i))
		}
		c := mustScore(t, l, records)
		s := &Standings{Campaign: c}
		for _, u := range c.Units {
			s.Lines = append(s.Lines, Standing{Unit: u})
		}
		s.leaveOut()
		_, before := totals(c)
		for i, w := range s.Without {
			lab := *l
			lab.Scorecard.Tests = slices.Delete(slices.Clone(l.Scorecard.Tests), i, i+1)
			lab.Scorecard.Criteria = slices.DeleteFunc(slices.Clone(l.Scorecard.Criteria), func(k config.Criterion) bool { return k.Test == w.Test })
			want, places := totals(mustScore(t, &lab, records))
			if !slices.Equal(w.Places, places) {
				t.Fatalf("case %d without %s: %v, want %v by %v", n, w.Test, w.Places, places, want)
			}
			if !slices.Equal(places, before) {
				moved++
			}
		}
	}
	if moved < 100 {
		t.Errorf("leaving tests out moved units in %d cases only", moved)
	}
}

// TestVaryingWeights: by nothing, nothing moves; by a quarter, the share of draws in which the second of two
// is first is that of the weights that put it there.
func TestVaryingWeights(t *testing.T) {
	l := twoTests(t, "reweight")
	l.Scorecard.Tests[0].Weight = 1
	records := append(timed("unit-a 20", "unit-b 42"), told("unit-a", 5, "procedure=two", "measure.run_time_s=42"), told("unit-b", 5, "procedure=two", "measure.run_time_s=24"))
	for by, first := range map[float64]float64{0: 1, 0.25: 0} {
		l.Scorecard.Vary = by
		s := mustRank(t, mustScore(t, l, records))
		// unit-a is first where 22 w1 > 18 w2; both weights are even from 0.75 to 1.25
		want := first
		if by > 0 {
			want = 0
			const k = 2000
			for i := range k {
				w2 := 0.75 + 0.5*(float64(i)+0.5)/k
				want += min(1, max(0, (1.25-18*w2/22)/0.5)) / k
			}
		}
		if w := s.Lines[0].Weights; s.Lines[0].Unit.Unit.ID != "unit-a" || w.Draws != weightDraws || !near(w.Top1, want, 0.03*math.Sqrt(by*4)) {
			t.Errorf("by %g: first in %g of %d, want %g", by, w.Top1, w.Draws, want)
		}
	}
}

// TestWeightsOfCategories: the weight of a test moves nothing outside its category.
func TestWeightsOfCategories(t *testing.T) {
	l := twoTests(t, "reweight")
	l.Scorecard.Categories = []config.Category{{ID: "x", Weight: 1}, {ID: "y", Weight: 1}}
	l.Scorecard.Tests[0].Category, l.Scorecard.Tests[1].Category = "x", "y"
	c := mustScore(t, l, append(ofOutcome(Passed, 1, "one", "50"), ofOutcome(Passed, 2, "two", "25")...))
	s := &Standings{Campaign: c, Lines: []Standing{{Unit: c.Units[0]}}}
	w := s.reweighing()
	w.tests[0], w.tests[1], w.categories[0], w.categories[1] = 1.2, 0.8, 1, 1
	if got := w.score()[0]; !near(got, 7, 1e-12) {
		t.Errorf("tests varied: %g, want 7", got)
	}
	w.categories[0] = 3
	if got := w.score()[0]; !near(got, (3*6+8)/4., 1e-12) {
		t.Errorf("a category varied: %g, want 6.5", got)
	}
}

// A scorecard that describes no test judges every procedure by its gates; no unit gets points or a place by it.
func TestStandingsWithoutAScorecard(t *testing.T) {
	l := withUnits(testLab(t), "unit-a", "unit-b", "unit-c")
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 55, "all")}
	l.Scorecard.Tests, l.Scorecard.Criteria = nil, nil
	s := mustRank(t, mustScore(t, l, timed("unit-a 50 51 52", "unit-b 90 91 92")))
	got := ""
	for _, ln := range s.Lines {
		ts := ln.Unit.Tests
		if len(ts) != 1 || ts[0].Points.OK || ln.Place != 0 || ln.Overall.OK {
			t.Fatalf("%s: %+v", ln.Unit.Unit.ID, ln)
		}
		got += fmt.Sprintf("%s: %s %s; ", ln.Unit.Unit.ID, ts[0].Title(), ts[0].Outcome)
	}
	if got != "unit-a: one passed; unit-b: one failed; unit-c: one not tested; " {
		t.Error(got)
	}
	if len(l.Scorecard.Tests) != 0 {
		t.Error("the lab itself was changed")
	}
}
