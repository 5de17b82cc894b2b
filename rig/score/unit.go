package score

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// Unit is one unit with all its tests.
type Unit struct {
	Unit       *config.Unit
	Tests      []*TestScore // in the scorecard's order
	Categories []CategoryScore
	Overall    rig.Figure // 0 to 10
	Missing    []string   // what was missing, and what was done about it
	Failed     []string   // titles of the tests it failed
	Ranked     bool
}

// TestScore is what a unit came to in one test.
type TestScore struct {
	Test     *config.Test
	Outcome  Outcome
	Why      string // beside the outcome
	Runs     []*Run // those that count
	Aside    []*Run // void, unplanned and conditioning ones
	Gates    []TestGate
	Criteria []*CriterionScore
	Points   rig.Figure // what the test counts
	Earned   rig.Figure // what its criteria would have earned without the gates
}

// TestGate is a gate over all runs of a test.
type TestGate struct {
	Gate    *config.Gate
	Runs    []GateResult // of each run that counts
	Mean    *GateResult  // where the mean is judged
	Passes  int          // how many runs pass
	Fails   bool
	Decided bool
}

// CriterionScore is what a unit earned by one criterion.
type CriterionScore struct {
	Criterion *config.Criterion
	PerRun    []RunPoints
	Mean      Value      // mean of the measure over the runs
	Earned    rig.Figure // by the curve
	Points    rig.Figure // what counts: the failed points if the test failed
	Weight    float64    // effective: its share of the whole, missing ones left out
	Repeats   Repeats
	Best      bool // no ranked unit has more points here; by Standings
	Worst     bool
	index     int // in the scorecard
}

// RunPoints is a measure of one run on the curve.
type RunPoints struct {
	Run    *Run
	Value  Value
	On     gum.Reading // the stretch of the curve
	Points rig.Figure
	Floor  bool // the run failed by itself and earns the failed points
}

// CategoryScore is what a unit came to in one category.
type CategoryScore struct {
	Category *config.Category
	Points   rig.Figure
}

func (c *Campaign) unit(u *config.Unit, of map[testKey][]*Run) *Unit {
	out := &Unit{Unit: u}
	s := &c.Lab.Scorecard
	for i := range s.Tests {
		out.Tests = append(out.Tests, c.test(u, &s.Tests[i], of[testKey{u.ID, s.Tests[i].Procedure}]))
	}
	c.rollUp(out)
	return out
}

func (c *Campaign) test(u *config.Unit, t *config.Test, runs []*Run) *TestScore {
	ts := &TestScore{Test: t}
	if t.Procedure == "" {
		c.byHand(u, ts)
		return ts
	}
	for _, r := range runs {
		if r.Status == Counts {
			ts.Runs = append(ts.Runs, r)
		} else {
			ts.Aside = append(ts.Aside, r)
		}
	}
	c.outcome(ts)
	for i := range c.Lab.Scorecard.Criteria {
		if k := &c.Lab.Scorecard.Criteria[i]; k.Test == t.ID {
			ts.Criteria = append(ts.Criteria, c.criterion(ts, i))
		}
	}
	c.settle(ts)
	return ts
}

// outcome judges a test over its runs by the rules of its gates.
func (c *Campaign) outcome(ts *TestScore) {
	n := len(ts.Runs)
	if n == 0 {
		ts.Outcome, ts.Why = NotTested, "no run"
		for _, r := range ts.Aside {
			if r.Status == Void {
				ts.Outcome, ts.Why = IsVoid, "all runs are void and have to be repeated"
				if r.Why != "" {
					ts.Why += ": " + r.Why
				}
			}
		}
		return
	}
	failing, undecided := 0, 0
	for _, r := range ts.Runs {
		if r.Failing {
			failing++
			ts.Why = r.Why
		}
	}
	fails := failing > 0
	if ts.Test.Gated {
		for i := range ts.Runs[0].Procedure.Gates {
			g := c.testGate(ts.Runs, i)
			ts.Gates = append(ts.Gates, g)
			if g.Fails {
				fails = true
				ts.Why = join(ts.Why, gateWhy(g))
			}
			if !g.Decided {
				undecided++
				ts.Why = join(ts.Why, g.Gate.Measure+" cannot be judged")
			}
		}
	}
	switch {
	case fails:
		ts.Outcome = Failed
	case undecided > 0:
		ts.Outcome = NotMeasurable
	default:
		ts.Outcome = Passed
	}
	if want := ts.Runs[0].Procedure.Repeats; n < want {
		ts.Why = join(ts.Why, fmt.Sprintf("%d of %s", n, rig.Count(want, "run")))
	}
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// testGate judges gate i over the runs.
func (c *Campaign) testGate(runs []*Run, i int) TestGate {
	g := TestGate{Gate: runs[0].Gates[i].Gate}
	fails, decided, why := 0, 0, ""
	for _, r := range runs {
		res := r.Gates[i]
		g.Runs = append(g.Runs, res)
		why = cmp.Or(why, res.Why)
		if res.Decided() {
			decided++
			if res.Fails() {
				fails++
			} else {
				g.Passes++
			}
		}
	}
	switch g.Gate.Repeats {
	case "mean":
		v := meanOf(runs, g.Gate.Measure, c.energy(g.Gate.Measure))
		if why != "" { // the run that is missing may be the one that fails
			v.Figure = rig.Absent(why)
		}
		res := decide(g.Gate, v)
		g.Mean, g.Fails, g.Decided = &res, res.Fails(), res.Decided()
	case "majority":
		g.Fails = 2*fails > len(runs)
		g.Decided = g.Fails || 2*(len(runs)-g.Passes) <= len(runs)
	default:
		g.Fails, g.Decided = fails > 0, decided == len(runs) || fails > 0
	}
	return g
}

func gateWhy(g TestGate) string {
	if g.Mean != nil {
		return fmt.Sprintf("%s: the mean %.4g fails, %d of %s would pass", g.Gate.Measure, g.Mean.Value.V, g.Passes, rig.Count(len(g.Runs), "run"))
	}
	return fmt.Sprintf("%s: passed %d of %d", g.Gate.Measure, g.Passes, len(g.Runs))
}

// meanOf is the mean of a measure over the runs that have it: what is each run's own shrinks, what is
// shared does not. Levels are averaged as energies if asked for.
func meanOf(runs []*Run, name string, energy bool) Value {
	out := Value{Figure: rig.Absent("no-run")}
	var values []Value
	sum := 0.0
	for _, r := range runs {
		v := r.keep(name)
		if !v.OK {
			out.Why = v.Why
			continue
		}
		values = append(values, v)
		sum += portion(v.V, energy)
	}
	if len(values) == 0 {
		return out
	}
	mean, own := sum/float64(len(values)), 0.0
	for _, v := range values {
		slope := 1 / float64(len(values)) // of the mean, by this value
		if energy {
			slope = portion(v.V, energy) / sum
		}
		own += square(slope * v.U)
		out.UCommon += slope * v.UCommon
		out.Share = cmp.Or(out.Share, v.Share)
		out.Typed = out.Typed || v.Typed
	}
	if energy {
		mean = 10 * math.Log10(mean)
	}
	out.Figure = rig.Fig(mean)
	out.U = math.Sqrt(own)
	return out
}

// portion is what a value adds to a sum: itself, or of a level the energy.
func portion(v float64, energy bool) float64 {
	if energy {
		return math.Pow(10, v/10)
	}
	return v
}

// energy tells whether means of the measure are those of energies.
func (c *Campaign) energy(measure string) bool {
	m, _ := rig.FindMeasure(measure)
	return m.Part == rig.OfSound && c.Lab.Scorecard.Levels == "energy"
}

// criterion makes points of the runs of a test.
func (c *Campaign) criterion(ts *TestScore, index int) *CriterionScore {
	k := &c.Lab.Scorecard.Criteria[index]
	out := &CriterionScore{Criterion: k, index: index, Mean: meanOf(ts.Runs, k.Measure, c.energy(k.Measure))}
	var points, all []float64
	why := out.Mean.Why
	for _, r := range ts.Runs {
		p := RunPoints{Run: r, Value: r.keep(k.Measure)}
		p.On, p.Points = c.earn(index, p.Value)
		p.Floor = ts.Test.Gated && r.floored()
		out.PerRun = append(out.PerRun, p)
		if why = p.Points.Why; p.Points.OK {
			all = append(all, p.Points.V)
		}
		switch {
		case p.Floor:
			points = append(points, ts.Test.FailedPoints)
		case p.Points.OK:
			points = append(points, p.Points.V)
		}
	}
	if c.Lab.Scorecard.PointsOf == "mean" {
		_, out.Earned = c.earn(index, out.Mean)
		out.Points = out.Earned
		return out
	}
	out.Earned, out.Points = mean(all), mean(points)
	if !out.Earned.OK {
		out.Earned, out.Points = rig.Absent(why), rig.Absent(why)
	}
	return out
}

// floored tells whether the run failed by itself. A gate on the mean says nothing of one run.
func (r *Run) floored() bool {
	return r.Failing || slices.ContainsFunc(r.Gates, func(g GateResult) bool { return g.Gate.Repeats != "mean" && g.Fails() })
}

// earn returns the points of a value under the curve of a criterion.
func (c *Campaign) earn(index int, v Value) (gum.Reading, rig.Figure) {
	if !v.OK {
		return gum.Reading{}, rig.Absent(v.Why)
	}
	on, err := c.curves[index].At(v.V)
	if err != nil {
		return gum.Reading{}, rig.Absent("outside-the-curve")
	}
	return on, rig.Fig(on.Y)
}

func mean(x []float64) rig.Figure {
	if len(x) == 0 {
		return rig.Absent("no-run")
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return rig.Fig(sum / float64(len(x)))
}

// byHand scores a test of values entered by a person.
func (c *Campaign) byHand(u *config.Unit, ts *TestScore) {
	ts.Outcome = NotTested
	for i := range c.Lab.Scorecard.Criteria {
		k := &c.Lab.Scorecard.Criteria[i]
		if k.Test != ts.Test.ID {
			continue
		}
		out := &CriterionScore{Criterion: k, index: i, Mean: absent("not-entered")}
		name := k.Measure[len(rig.HandMeasure):]
		if h, ok := c.hand[handKey{u.ID, name}]; ok {
			out.Mean = Value{Figure: rig.Fig(h.Value), U: h.U, Typed: true, Note: h.Note,
				From: []Trace{{What: "measure", Text: fmt.Sprintf("entered by %s on %s", h.Who, c.Lab.Day(h.At))}}}
			ts.Outcome = Passed
		}
		on, p := c.earn(i, out.Mean)
		out.PerRun = []RunPoints{{Value: out.Mean, On: on, Points: p}}
		out.Earned, out.Points = p, p
		ts.Criteria = append(ts.Criteria, out)
	}
	if ts.Outcome == NotTested {
		ts.Why = "nothing was entered"
	}
	c.settle(ts)
}
