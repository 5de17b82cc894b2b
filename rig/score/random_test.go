package score

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
	"quern/rig/score/rank"
)

// cases is how many random cases a property is tried on.
func cases() int {
	if os.Getenv("QUERN_WHOLE") == "" {
		return 15_000
	}
	return 100_000
}

// TestPointsMonotone: where the points of a curve only rise or only fall, so do those of any two values,
// and no value leaves the range of its stretch.
func TestPointsMonotone(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 1))
	for range cases() {
		k := config.Criterion{ID: "k", Shape: []string{"linear", "monotone"}[r.IntN(2)], Outside: "flat"}
		points := make([]float64, 2+r.IntN(5))
		for i := range points {
			points[i] = 10 * r.Float64()
		}
		slices.Sort(points)
		falls := r.IntN(2) == 0
		if falls {
			slices.Reverse(points)
		}
		at := 100 * (r.Float64() - 0.5)
		for _, p := range points {
			k.Curve = append(k.Curve, config.Anchor{At: at, Points: p})
			at += math.Exp(4 * r.NormFloat64())
		}
		cv, err := curve(&k)
		if err != nil {
			t.Fatal(err)
		}
		c := &Campaign{curves: []*gum.Curve{cv}}
		from, to := k.Curve[0].At, k.Curve[len(k.Curve)-1].At
		x := from + (to-from)*(1.4*r.Float64()-0.2)
		y := from + (to-from)*(1.4*r.Float64()-0.2)
		on, a := c.earn(0, Value{Figure: rig.Fig(min(x, y))})
		_, b := c.earn(0, Value{Figure: rig.Fig(max(x, y))})
		if !a.OK || !b.OK || falls && b.V > a.V+1e-12 || !falls && b.V < a.V-1e-12 {
			t.Fatalf("%v: %g at %g, then %g at %g", k.Curve, a.V, min(x, y), b.V, max(x, y))
		}
		if a.V < min(on.Y0, on.Y1) || a.V > max(on.Y0, on.Y1) {
			t.Fatalf("%v: %g at %g leaves %+v", k.Curve, a.V, min(x, y), on)
		}
	}
}

// anyRecord is a random invented session of a unit.
func anyRecord(r *rand.Rand, unit, procedure string, n int) rig.Record {
	rec := rig.Record{Session: unit + procedure + strconv.Itoa(n), Unit: unit, Procedure: procedure, Origin: rig.ByHand,
		Started: time.Date(2026, 4, 1, 8, r.IntN(50), n, 0, time.UTC)}
	w := func(role rig.Role, g float64) {
		if r.IntN(12) > 0 {
			rec.Facts.Weighings = append(rec.Facts.Weighings, rig.Weighing{Fact: len(rec.Facts.Weighings) + 1, Role: role, GrossG: rig.Fig(g + 412), TareG: rig.Fig(412)})
		}
	}
	w(rig.Charge, 900+200*r.Float64())
	w(rig.Chamber, 60*r.Float64())
	w(rig.Coarse, 30*r.Float64()-5)
	k := func(target, now string) {
		rec.Facts.Corrections = append(rec.Facts.Corrections, rig.Correction{Fact: 90 + len(rec.Facts.Corrections), Target: target, New: now})
	}
	if r.IntN(12) > 0 {
		k("measure.run_time_s", strconv.FormatFloat(120*r.Float64(), 'g', -1, 64))
	}
	switch r.IntN(20) {
	case 0:
		k("failed", "leaked")
	case 1:
		k("void", "rig")
	}
	return rec
}

func weight(r *rand.Rand) float64 { return math.Exp(2 * r.NormFloat64()) }

// anyLab is a lab of two units and two procedures under a random scorecard.
func anyLab(r *rand.Rand, base *config.Lab) *config.Lab {
	l := *base
	l.Procedures = slices.Clone(base.Procedures)
	for i := range l.Procedures {
		p := &l.Procedures[i]
		p.Repeats = 1 + r.IntN(3)
		p.Gates = []config.Gate{atMost("left_share", 0.08*r.Float64(), []string{"any", "majority", "mean"}[r.IntN(3)])}
	}
	s := &l.Scorecard
	s.Missing = []string{"reweight", "worst", "unranked"}[r.IntN(3)]
	s.PointsOf = []string{"run", "mean"}[r.IntN(2)]
	s.Tests, s.Criteria = slices.Clone(base.Scorecard.Tests), slices.Clone(base.Scorecard.Criteria)
	s.Categories = nil
	if r.IntN(2) == 0 {
		s.Categories = []config.Category{{ID: "x", Weight: weight(r)}, {ID: "y", Weight: weight(r)}}
	}
	for i := range s.Tests {
		s.Tests[i].Weight, s.Tests[i].FailedPoints, s.Tests[i].Category = weight(r), float64(r.IntN(3)), ""
		if s.Categories != nil {
			s.Tests[i].Category = []string{"x", "y"}[i%2]
		}
	}
	for i := range s.Criteria {
		s.Criteria[i].Weight = weight(r)
	}
	return &l
}

func threeTests(t testing.TB) *config.Lab {
	l := testLab(t)
	two := l.Procedures[0]
	two.ID = "two"
	l.Procedures = append(l.Procedures, two)
	l.Scorecard.Tests = []config.Test{{ID: "grind", Procedure: "one", Gated: true}, {ID: "bones", Procedure: "two", Gated: true}, {ID: "speed", Procedure: "one"}}
	l.Scorecard.Criteria = []config.Criterion{linear("time", "speed", "run_time_s", 0, 10, 100, 1), linear("left", "grind", "left_share", 0, 10, 0.02, 7, 0.06, 0),
		linear("coarse", "grind", "coarse_share", 0, 10, 0.03, 0), linear("time2", "bones", "run_time_s", 10, 10, 60, 1), linear("left2", "bones", "left_share", 0, 10, 0.05, 1)}
	return l
}

// inGrams multiplies everything that is a mass, as another unit of mass would.
func inGrams(l *config.Lab, records []rig.Record, f float64) (*config.Lab, []rig.Record) {
	out := *l
	s := &out.Bench.Scale
	s.DivisionG, s.VerificationG, s.RepeatabilityG = s.DivisionG*f, s.VerificationG*f, s.RepeatabilityG*f
	out.Procedures = slices.Clone(l.Procedures)
	for i := range out.Procedures {
		p := &out.Procedures[i]
		p.Items = slices.Clone(p.Items)
		for j := range p.Items {
			p.Items[j].MassG, p.Items[j].ToleranceG = p.Items[j].MassG*f, p.Items[j].ToleranceG*f
		}
		a := &p.After
		a.RetainedUG, a.TransferUG, a.WetTareUG = a.RetainedUG*f, a.TransferUG*f, a.WetTareUG*f
	}
	records = slices.Clone(records)
	for i := range records {
		ws := slices.Clone(records[i].Facts.Weighings)
		for j := range ws {
			ws[j].GrossG.V, ws[j].TareG.V = ws[j].GrossG.V*f, ws[j].TareG.V*f
		}
		records[i].Facts.Weighings = ws
	}
	return &out, records
}

// totals are what the units came to, and their places.
func totals(c *Campaign) ([]float64, []int) {
	var out []float64
	for _, u := range c.Units {
		out = append(out, overall(u))
	}
	return out, rank.Places(out, rank.High)
}

// heavier multiplies all weights of a level by one number, which changes no share.
func heavier(r *rand.Rand, l *config.Lab) *config.Lab {
	out := *l
	s := &out.Scorecard
	s.Categories, s.Tests, s.Criteria = slices.Clone(s.Categories), slices.Clone(s.Tests), slices.Clone(s.Criteria)
	f, g := weight(r), weight(r)
	of := [3]float64{weight(r), weight(r), weight(r)}
	for i := range s.Categories {
		s.Categories[i].Weight *= f
	}
	for i := range s.Tests {
		s.Tests[i].Weight *= g
		for j := range s.Criteria {
			if s.Criteria[j].Test == s.Tests[i].ID {
				s.Criteria[j].Weight *= of[i]
			}
		}
	}
	return &out
}

// changedAlike makes of a campaign another that has to come to the same: the records in another order, with
// a void run and unplanned ones added, all weights multiplied, masses in another unit.
func changedAlike(r *rand.Rand, c *Campaign, records []rig.Record) (*config.Lab, []rig.Record) {
	l, more := c.Lab, slices.Clone(records)
	unit := l.Units[r.IntN(len(l.Units))].ID
	more = append(more, say(anyRecord(r, unit, "one", 97), "void=operator"), say(anyRecord(r, unit, "one", 98), "kind=unplanned", "void=no"))
	if len(c.Unit(unit).Tests[0].Runs) == l.Procedures[0].Repeats { // one more than it repeats, after the others
		late := anyRecord(r, unit, "one", 99)
		late.Started = late.Started.AddDate(0, 0, 1)
		more = append(more, late)
	}
	r.Shuffle(len(more), func(i, j int) { more[i], more[j] = more[j], more[i] })
	return inGrams(heavier(r, l), more, math.Exp(3*r.NormFloat64()))
}

// TestRandomCampaigns: totals, ranks, outcomes, shares and verdicts do not hang on the order of records, the
// scale of weights or the unit of mass, nor on runs that do not count; weights are shares of the whole.
func TestRandomCampaigns(t *testing.T) {
	const shards = 4 // for as many cores
	for shard := range shards {
		t.Run(strconv.Itoa(shard), func(t *testing.T) {
			t.Parallel()
			randomCampaigns(t, uint64(shard), cases()/shards)
		})
	}
}

func randomCampaigns(t *testing.T, seed uint64, cases int) {
	r := rand.New(rand.NewPCG(2, seed))
	base := threeTests(t)
	ranked, verdicts := 0, 0
	for n := range cases {
		l := anyLab(r, base)
		var records []rig.Record
		for i, u := range l.Units {
			records = append(records, anyRecord(r, u.ID, "one", len(records)))
			if r.IntN(2) == 0 {
				records = append(records, anyRecord(r, u.ID, []string{"one", "two"}[i], len(records)))
			}
		}
		c := mustScore(t, l, records)
		ranked += sharesOfTheWhole(t, n, c)
		lab, more := changedAlike(r, c, records)
		verdicts += alike(t, n, c, mustScore(t, lab, more))
	}
	if ranked < cases || verdicts < cases {
		t.Errorf("only %d units were ranked and %d gates decided: the cases are too wild", ranked, verdicts)
	}
}

// sharesOfTheWhole sees that weights sum to 1 and weight x points to the total; it counts ranked units.
func sharesOfTheWhole(t *testing.T, n int, c *Campaign) (ranked int) {
	for _, u := range c.Units {
		sum, points := 0.0, 0.0
		for _, ts := range u.Tests {
			for _, k := range ts.Criteria {
				sum += k.Weight
				points += k.Weight * k.Points.V
				if k.Weight > 0 && !k.Points.OK || k.Weight < 0 {
					t.Fatalf("case %d: %s weighs %g without points", n, k.Criterion.ID, k.Weight)
				}
			}
		}
		if !u.Ranked {
			continue
		}
		ranked++
		if !near(sum, 1, 1e-12) || !near(points, u.Overall.V, 1e-12) {
			t.Fatalf("case %d: %s: weights sum to %.17g, points to %.17g, overall %.17g", n, u.Unit.ID, sum, points, u.Overall.V)
		}
	}
	return ranked
}

// alike sees that two campaigns came to the same; it counts decided gates.
func alike(t *testing.T, n int, want, got *Campaign) (verdicts int) {
	a, places := totals(want)
	b, now := totals(got)
	for i := range a {
		if math.IsNaN(a[i]) != math.IsNaN(b[i]) || !math.IsNaN(a[i]) && !near(a[i], b[i], 1e-9) {
			t.Fatalf("case %d: totals %v, then %v", n, a, b)
		}
	}
	if !slices.Equal(places, now) {
		t.Fatalf("case %d: places %v, then %v", n, places, now)
	}
	for i, u := range got.Units {
		for j, ts := range u.Tests {
			o := want.Units[i].Tests[j]
			if ts.Outcome != o.Outcome && !(ts.Outcome == IsVoid && o.Outcome == NotTested) || len(ts.Runs) != len(o.Runs) {
				t.Fatalf("case %d: %s of %s, then %s", n, ts.Test.ID, o.Outcome, ts.Outcome)
			}
			for k, run := range ts.Runs {
				for m, g := range run.Gates {
					was := o.Runs[k].Gates[m]
					if g.Verdict != was.Verdict || g.Why != was.Why || !near(g.Value.V, was.Value.V, 1e-9) || !near(g.Value.U, was.Value.U, 1e-9) {
						t.Fatalf("case %d: %s: %+v, then %+v", n, g.Gate.Measure, was, g)
					}
					if g.Decided() {
						verdicts++
					}
				}
			}
		}
	}
	return verdicts
}

func TestOrderOfEverything(t *testing.T) {
	l := exampleLab(t)
	records := inventedCampaign(l, 5)
	want := fmt.Sprintf("%+v", summary(mustRank(t, mustScore(t, l, records))))
	r := rand.New(rand.NewPCG(6, 6))
	for range 3 {
		r.Shuffle(len(records), func(i, j int) { records[i], records[j] = records[j], records[i] })
		if got := fmt.Sprintf("%+v", summary(mustRank(t, mustScore(t, l, records)))); got != want {
			t.Fatalf("got\n%s, want\n%s", got, want)
		}
	}
}

// summary is all that the standings say, without what it hangs on.
func summary(s *Standings) []string {
	var out []string
	for _, l := range s.Lines {
		out = append(out, fmt.Sprint(l.Unit.Unit.ID, l.Place, l.Overall, l.Range, l.Groups, l.U, l.Half, l.Stability, l.Weights, l.Missing, l.Failed))
	}
	for _, w := range s.Without {
		out = append(out, fmt.Sprint(w))
	}
	return out
}
