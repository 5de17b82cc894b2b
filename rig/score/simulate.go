package score

import (
	"math"

	"quern/rig/score/gum"
	"quern/rig/score/rank"
)

// Streams of the seeded generator.
const (
	streamMeasures = 1
	streamWeights  = 2
)

// settledU is how many standard uncertainties from its limit a gate is not drawn for.
const settledU = 6

// model is a unit as the simulation sees it. What no gate and no bend of a curve is near to is summed up
// once: the repeats too.
type model struct {
	straight
	tests []modelTest
}

// modelTest is a test with gates that may turn, or with curves that bend.
type modelTest struct {
	straight
	gates  []modelGate
	parts  []modelPart
	failed float64 // points of the whole if a gate fails
}

// modelGate is a gate on the mean, or on runs of which more than so many have to fail.
type modelGate struct {
	gate gum.Gate
	on   []drawn
	more int
}

type modelPart struct {
	drawn
	curve  *gum.Curve
	weight float64
	offset float64 // by how much the mean of the runs' points differs from the points of their mean
}

// simulate counts the places of all units over draws of what was measured.
func (s *Standings) simulate() error {
	c := s.Campaign
	var models []model
	for i := range s.Lines {
		if s.Lines[i].Ranked {
			models = append(models, c.model(s.Lines[i].Unit))
		}
	}
	tally := rank.NewTally(len(models), rank.High)
	z := newNormals(uint64(c.Lab.Scorecard.Seed), streamMeasures)
	scores := make([]float64, len(models))
	for range c.Lab.Scorecard.Draws {
		shared := [3]float64{0, z.next(), z.next()}
		for i := range models {
			scores[i] = models[i].draw(z, &shared)
		}
		if err := tally.Add(scores); err != nil {
			return err
		}
	}
	n := 0
	for i := range s.Lines {
		if s.Lines[i].Ranked {
			s.Lines[i].Stability = tally.Unit(n)
			n++
		}
	}
	return nil
}

func (m *model) draw(z *normals, shared *[3]float64) float64 {
	total := m.straight.draw(z, shared)
	for i := range m.tests {
		total += m.tests[i].draw(z, shared)
	}
	return total
}

func (t *modelTest) draw(z *normals, shared *[3]float64) float64 {
	fails := false
	for i := range t.gates {
		fails = t.gates[i].fails(z, shared) || fails
	}
	sum := t.straight.draw(z, shared)
	for i := range t.parts {
		p := &t.parts[i]
		sum += p.weight * min(10, max(0, p.curve.Value(p.draw(z, shared))+p.offset))
	}
	if fails {
		return t.failed
	}
	return sum
}

func (g *modelGate) fails(z *normals, shared *[3]float64) bool {
	n := 0
	for i := range g.on {
		if !g.gate.Inside(g.on[i].draw(z, shared)) {
			n++
		}
	}
	return n > g.more
}

// model sets a unit up.
func (c *Campaign) model(u *Unit) model {
	var m model
	if v, dof, ok := c.variance(u); ok && v > 0 {
		// Widened so that as many draws lie within the interval of Student's t as should.
		level := c.Lab.Scorecard.Level
		m.own = math.Sqrt(v) * tFactor(level, dof) / tFactor(level, math.Inf(1))
	}
	for _, ts := range u.Tests {
		t := modelTest{gates: liveGates(ts)}
		settled := failsFirmly(ts, t.gates)
		for _, k := range ts.Criteria {
			t.failed += k.Weight * ts.Test.FailedPoints
			switch {
			case k.Weight == 0:
			case settled || !k.Mean.OK || !k.Earned.OK || ts.Outcome != Failed && k.Points.Why != "":
				t.fixed += k.Weight * k.Points.V
			default:
				points := k.Earned.V
				if ts.Outcome != Failed {
					points = k.Points.V
				}
				t.part(k, c.curves[k.index], points)
			}
		}
		if settled || len(t.gates) == 0 {
			m.add(t.straight)
			t.straight, t.gates = straight{}, nil
		}
		if len(t.gates) > 0 || len(t.parts) > 0 {
			m.tests = append(m.tests, t)
		}
	}
	return m
}

// part adds a criterion, which earned points by what was measured.
func (t *modelTest) part(k *CriterionScore, curve *gum.Curve, points float64) {
	d := ofValue(k.Mean)
	if slope, ok := d.straight(k.Criterion.Shape, curve, points); ok {
		l := straight{fixed: k.Weight * points, own: math.Abs(k.Weight * slope * d.own)}
		l.shared[d.share] = k.Weight * slope * d.common
		t.add(l)
		return
	}
	t.parts = append(t.parts, modelPart{drawn: d, curve: curve, weight: k.Weight, offset: points - curve.Value(k.Mean.V)})
}

// straight returns the slope of the curve if whatever is drawn lies on one straight stretch of it, and its
// points between 0 and 10.
func (d *drawn) straight(shape string, curve *gum.Curve, points float64) (slope float64, ok bool) {
	reach := farthest * (d.own + d.common)
	on, err := curve.At(d.v)
	switch lo, hi := d.v-reach, d.v+reach; {
	case reach == 0:
		return 0, true
	case err != nil:
		return 0, false
	case on.Outside < 0 && hi <= on.X0, on.Outside > 0 && lo >= on.X1:
		return 0, true
	case shape == gum.Linear && on.Outside == 0 && lo >= on.X0 && hi <= on.X1:
		rise := math.Abs(on.Slope) * reach
		return on.Slope, points-rise >= 0 && points+rise <= 10
	}
	return 0, false
}

// liveGates returns the gates that a draw may turn.
func liveGates(ts *TestScore) []modelGate {
	if ts.Outcome != Passed && ts.Outcome != Failed {
		return nil
	}
	var out []modelGate
	for i := range ts.Gates {
		if g := ts.Gates[i].model(); ts.Gates[i].Decided && g.live() {
			out = append(out, g)
		}
	}
	return out
}

// model is the gate by its rule: on the mean, or on those runs that have the measure.
func (g *TestGate) model() modelGate {
	out := modelGate{gate: limit(g.Gate)}
	if g.Mean != nil {
		out.on = []drawn{ofValue(g.Mean.Value)}
		return out
	}
	for _, r := range g.Runs {
		if r.Decided() {
			out.on = append(out.on, ofValue(r.Value))
		}
	}
	if g.Gate.Repeats == "majority" {
		out.more = len(g.Runs) / 2
	}
	return out
}

// live tells whether something of the gate lies near the limit.
func (g *modelGate) live() bool {
	for _, d := range g.on {
		if u := math.Hypot(d.own, d.common); math.Abs(d.v-g.gate.Limit) < settledU*u {
			return true
		}
	}
	return false
}

// passes tells whether the gate is passed by what was measured.
func (g *modelGate) passes() bool {
	n := 0
	for _, d := range g.on {
		if !g.gate.Inside(d.v) {
			n++
		}
	}
	return n <= g.more
}

// failsFirmly tells whether a test that failed did so by something that no draw can turn: a person's
// word, a gate far from its limit, or a guard band.
func failsFirmly(ts *TestScore, live []modelGate) bool {
	if ts.Outcome != Failed {
		return false
	}
	for _, r := range ts.Runs {
		if r.Failing {
			return true
		}
	}
	fails, turns := 0, 0
	for i := range ts.Gates {
		if ts.Gates[i].Fails {
			fails++
		}
	}
	for i := range live {
		if !live[i].passes() {
			turns++
		}
	}
	return turns < fails
}
