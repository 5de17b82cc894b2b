package score

import (
	"math"
	"slices"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

func TestSimulationIsSeeded(t *testing.T) {
	l := exampleLab(t)
	l.Scorecard.Draws = 500
	records := inventedCampaign(l, 9)
	for i := range records { // so close that the draws matter
		records[i].Unit = l.Units[i%len(l.Units)].ID
	}
	first := summary(mustRank(t, mustScore(t, l, records)))
	if again := summary(mustRank(t, mustScore(t, l, records))); !slices.Equal(first, again) {
		t.Error("the same seed gave another answer")
	}
	l.Scorecard.Seed = 2
	if other := summary(mustRank(t, mustScore(t, l, records))); slices.Equal(first, other) {
		t.Error("another seed gave the same draws")
	}
}

// spreadOf draws a unit's total so many times.
func spreadOf(m model, n int) (mean, sd float64) {
	z := newNormals(7, 1)
	sum, squares := 0.0, 0.0
	for range n {
		shared := [3]float64{0, z.next(), z.next()}
		v := m.draw(z, &shared)
		sum += v
		squares += v * v
	}
	mean = sum / float64(n)
	return mean, math.Sqrt(squares/float64(n) - mean*mean)
}

// TestDrawsAgreeWithTheClosedForm: far from kinks a total of straight lines is normal.
func TestDrawsAgreeWithTheClosedForm(t *testing.T) {
	l := testLab(t)
	l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 40, 10, 100, 0), linear("time", "grind", "run_time_s", 0, 10, 100, 0)}
	l.Scorecard.Criteria[0].Weight = 3
	var records []rig.Record
	for i, s := range []string{"49", "51"} {
		for _, u := range []string{"unit-a", "unit-b"} {
			records = append(records, told(u, i, "measure.laeq_db=70~1.2", "measure.run_time_s="+s+"~4"))
		}
	}
	c := mustScore(t, l, records)
	// repeats: sd sqrt 2 s, a quarter of it in tenths of points, of the mean of two: 0.025, widened by Student's
	// t of 2 degrees of freedom, 4.3027 instead of 1.9600 (tables of t); level: three
	// quarters of 1/6 point a dB, 1.2/sqrt 2 dB of its own and 0.4 dB shared; time: 1/40 point a s, 4/sqrt 2 s
	want := math.Sqrt(square(0.025*4.3027/1.96) + square(0.125)*(1.44/2+0.16) + square(1./40)*8)
	const n = 200_000
	mean, sd := spreadOf(c.model(c.Unit("unit-a")), n)
	if !near(mean, 5, 5*want/math.Sqrt(n)) || !near(sd, want, 5*want/math.Sqrt(2*n)) {
		t.Errorf("drawn %.5f ±%.5f, want 5 ±%.5f", mean, sd, want)
	}
}

// TestSharedErrorsCancel: 75.0 and 75.3 dB with 0.3 dB each and 5 dB that both share: the quieter is first in
// Phi(0.3/(0.3*sqrt 2)) = 76.0 % of all draws.
func TestSharedErrorsCancel(t *testing.T) {
	l := testLab(t)
	l.Bench.Errors.LevelCommonDB, l.Scorecard.Draws = 5, 20_000
	l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 20, 10, 130, 0)}
	s := mustRank(t, mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.laeq_db=75~0.3"), told("unit-b", 1, "measure.laeq_db=75.3~0.3")}))
	if got := s.Lines[0].Stability; !near(got.Top1, 0.7602, 4*math.Sqrt(0.76*0.24/20_000)) || got.Draws != 20_000 || s.Lines[0].Unit.Unit.ID != "unit-a" {
		t.Errorf("first in %.4f of %d", got.Top1, got.Draws)
	}
}

// TestGatesFailAsOftenAsTheyMay: a draw fails a gate as often as the values may lie beyond the limit; what has
// to fail by the rule is counted out by hand.
func TestGatesFailAsOftenAsTheyMay(t *testing.T) {
	const n = 100_000
	beyond := func(v float64) float64 {
		p, err := gum.Conformance(v, 2, math.Inf(-1), 50)
		if err != nil {
			t.Fatal(err)
		}
		return 1 - p
	}
	a, b, c := beyond(48), beyond(49), beyond(53)
	for _, x := range []struct {
		name, rule string
		times      []string
		want       float64
	}{
		{"pass (close)", "any", []string{"48"}, a}, {"fail (close)", "any", []string{"53"}, c}, {"the limit itself", "any", []string{"50"}, 0.5},
		{"any of three", "any", []string{"48", "49", "53"}, 1 - (1-a)*(1-b)*(1-c)},
		{"two of three", "majority", []string{"48", "49", "53"}, a*b*(1-c) + a*(1-b)*c + (1-a)*b*c + a*b*c},
		{"more than one of two", "majority", []string{"48", "53"}, a * c},
		{"the mean", "mean", []string{"48", "49", "50"}, func() float64 {
			p, _ := gum.Conformance(49, 2/math.Sqrt(3), math.Inf(-1), 50)
			return 1 - p
		}()},
		{"a firm one among them", "any", []string{"48", "90"}, 1},
		{"the first of two gates", "any second", []string{"53"}, c},
		{"far inside", "any", []string{"20", "21"}, 0},
		{"far outside", "any", []string{"90"}, 1},
	} {
		l := testLab(t)
		rule, second := strings.CutSuffix(x.rule, " second")
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, rule)}
		if second { // by 5.5 standard uncertainties inside, so that it is drawn but never fails
			l.Procedures[0].Gates = append(l.Procedures[0].Gates, atMost("run_time_s", 64, rule))
		}
		// flat points, so that a draw tells by its points whether it failed
		l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 40, 8, 41, 8)}
		l.Scorecard.Tests[0].FailedPoints, l.Scorecard.PointsOf = 1, "mean"
		var records []rig.Record
		for i, s := range x.times {
			records = append(records, told("unit-a", i, "measure.laeq_db=60", "measure.run_time_s="+s+"~2"))
		}
		m := mustScore(t, l, records)
		clear(m.pooled) // the scatter of the runs is not what is counted here
		mean, _ := spreadOf(m.model(m.Unit("unit-a")), n)
		if got := (8 - mean) / 7; !near(got, x.want, 4*math.Sqrt(x.want*(1-x.want)/n)+1e-9) {
			t.Errorf("%s: failed in %.5f of the draws, want %.5f", x.name, got, x.want)
		}
	}
}

// TestWhatNoDrawTurns: a person's word and a guard band stand in every draw, and what a failed test counts
// is counted once.
func TestWhatNoDrawTurns(t *testing.T) {
	for _, x := range []struct {
		name  string
		facts []string
		rule  string
		want  float64
	}{
		{"leaked", []string{"measure.run_time_s=49~2", "failed=leaked"}, "four-way", 1},
		{"inside the limit, within the guard band", []string{"measure.run_time_s=49~2"}, "guarded", 1},
		{"far outside", []string{"measure.run_time_s=80~2"}, "four-way", 1},
		{"not measurable counts as the worst", []string{"measure.run_time_s=absent"}, "four-way", 2},
	} {
		l := testLab(t)
		l.Scorecard.Missing = "worst"
		l.Procedures[0].Gates = []config.Gate{{Measure: "run_time_s", Side: "at-most", Limit: 50, Rule: x.rule, Band: 2, Repeats: "any"}}
		l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 40, 8, 60, 2)}
		l.Scorecard.Tests[0].FailedPoints = 1
		m := mustScore(t, l, []rig.Record{told("unit-a", 1, append(x.facts, "measure.laeq_db=50~1")...)})
		if mean, sd := spreadOf(m.model(m.Units[0]), 1000); !near(mean, x.want, 1e-9) || sd > 1e-6 {
			t.Errorf("%s: %g ±%g, want %g always", x.name, mean, sd, x.want)
		}
	}
	// a criterion that is missing and counts as the worst, in a test that one draw in two fails
	l := testLab(t)
	l.Scorecard.Missing = "worst"
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, "any")}
	l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 40, 8, 41, 8), linear("trips", "grind", "trips", 0, 10, 1, 2)}
	l.Scorecard.Tests[0].FailedPoints = 1
	m := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=50~2", "measure.laeq_db=60")})
	if mean, _ := spreadOf(m.model(m.Units[0]), 100_000); !near(mean, (5+1)/2., 0.03) {
		t.Errorf("half 5 points, half 1: %g", mean)
	}
}

func TestNormals(t *testing.T) {
	z := newNormals(3, 1)
	if z.class[0] != -z.class[1<<16-1] || !near(z.class[1<<15], 0.5/(1<<16)*math.Sqrt(2*math.Pi), 1e-9) {
		t.Errorf("classes from %g, in the middle %g", z.class[0], z.class[1<<15])
	}
	const n = 1_000_000
	sum, squares, beyond := 0.0, 0.0, 0.0
	for range n {
		v := z.next()
		sum += v
		squares += v * v
		if v > 1.959964 {
			beyond++
		}
	}
	if !near(sum/n, 0, 0.005) || !near(squares/n, 1, 0.007) || !near(beyond/n, 0.025, 0.0008) {
		t.Errorf("mean %g, variance %g, beyond 1.96 %g", sum/n, squares/n, beyond/n)
	}
}

// TestDrawsBend: where a curve is level up to a bend and falls 1 point a dB from there, a level of 1 dB
// uncertainty loses phi(k) - k*(1-Phi(k)) points on the mean, k dB before the bend (normal integral); the same
// if all units share that uncertainty. Level on either side costs nothing.
func TestDrawsBend(t *testing.T) {
	loses := func(k float64) float64 {
		return math.Exp(-k*k/2)/math.Sqrt(2*math.Pi) - k*math.Erfc(k/math.Sqrt2)/2
	}
	for _, x := range []struct {
		level string
		want  float64
	}{
		{"70", 9 - loses(0)}, {"69", 9 - loses(1)}, {"68", 9 - loses(2)}, {"71", 9 - loses(-1)}, {"72", 9 - loses(-2)}, {"69.5", 9 - loses(0.5)}, {"60", 9}, {"65.5", 9}, {"74.5", 4.5},
		{"77", 2 + loses(2)}, {"79", 0 + loses(0)}, {"79.5", loses(0.5)}, {"80", loses(1)}, {"95", 0},
	} {
		for i := range 4 {
			shared := i%2 == 1
			l := testLab(t)
			l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 68, 9, 70, 9, 79, 0, 80, 0)}
			if i > 1 { // the same without level ends
				l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 70, 9, 79, 0)}
			}
			u := "1"
			if l.Bench.Errors.LevelCommonDB = 0; shared {
				l.Bench.Errors.LevelCommonDB, u = 1, "0"
			}
			c := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.laeq_db="+x.level+"~"+u)})
			const n = 100_000
			if mean, _ := spreadOf(c.model(c.Units[0]), n); !near(mean, x.want, 4.5/math.Sqrt(n)) {
				t.Errorf("%s dB, shared %v: %.4f, want %.4f", x.level, shared, mean, x.want)
			}
		}
	}
}

// TestDrawsOfCubics: a cubic is drawn on the curve itself, not on a tangent; its mean is that of the quantiles.
func TestDrawsOfCubics(t *testing.T) {
	l := testLab(t)
	l.Bench.Errors.LevelCommonDB = 0
	k := linear("level", "grind", "laeq_db", 0, 9, 10, 8.9, 110, 1)
	k.Shape = "monotone"
	l.Scorecard.Criteria = []config.Criterion{k}
	c := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.laeq_db=45~7")})
	want, z := 0.0, newNormals(1, 1)
	for _, v := range z.class {
		want += c.curves[0].Value(45+7*v) / (1 << 16)
	}
	if tangent := c.curves[0].Value(45); math.Abs(want-tangent) < 0.008 {
		t.Fatalf("no difference to see: %g and %g", want, tangent)
	}
	if mean, _ := spreadOf(c.model(c.Units[0]), 200_000); !near(mean, want, 0.004) {
		t.Errorf("%.4f, want %.4f", mean, want)
	}
}

// TestDrawsKeepTheRunsPoints: runs at 68 and 72 dB about a bend at 70 have 9 and 7 points, their mean 9 by the
// curve: draws vary about the 8 that count. Each dB of the two makes 1/sqrt 2 of their mean.
func TestDrawsKeepTheRunsPoints(t *testing.T) {
	l := testLab(t)
	l.Bench.Errors.LevelCommonDB = 0
	l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 60, 9, 70, 9, 79, 0)}
	c := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.laeq_db=68~1"), told("unit-a", 2, "measure.laeq_db=72~1")})
	if mean, _ := spreadOf(c.model(c.Units[0]), 100_000); !near(mean, 8-0.39894*math.Sqrt(0.5), 0.015) {
		t.Errorf("%.4f, want %.4f", mean, 8-0.39894*math.Sqrt(0.5))
	}
}

// TestScatterOfFloors: a run that earns the points of a failed test scatters by those: 9, 8 and 1 have a
// standard deviation of sqrt 19.
func TestScatterOfFloors(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, "majority")}
	l.Scorecard.Tests[0].FailedPoints = 1
	s := mustRank(t, mustScore(t, l, timed("unit-a 10 20 70")))
	if u := s.Lines[0].U; !near(u.V, math.Sqrt(19./3), 1e-12) {
		t.Errorf("u %v, want %g", u, math.Sqrt(19./3))
	}
}
