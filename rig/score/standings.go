package score

import (
	"math"
	"slices"

	"quern/rig"
	"quern/rig/score/gum"
	"quern/rig/score/rank"
)

// spread is how far runs of one unit under one procedure scatter, in points of the whole.
type spread struct {
	sd, dof float64
	ok      bool
}

// Standing is one line of the standings.
type Standing struct {
	*Unit
	Place     int            // from 1; ties share one; 0: not ranked
	Range     rank.Range     // where it may stand, all units together
	Groups    string         // letters: units that share one cannot be told apart; "" where the scatter of runs is not known
	U         rig.Figure     // standard uncertainty of the overall points, from the scatter of runs
	Half      rig.Figure     // half-width of the interval of its own
	Stability rank.Stability // over simulated rankings: measurement and repeats
	Weights   rank.Stability // over rankings with varied weights
}

// Standings is the ranking of a campaign.
type Standings struct {
	Lines    []Standing // ranked first, best first; then those without a place
	Without  []Without  // places with each test left out
	Sure     bool       // ranges could be told: there were repeats
	Once     []string   // procedures, by id, that keep them from it: no unit has two runs of them that count
	Campaign *Campaign
}

// Without is the ranking with one test left out.
type Without struct {
	Test   string
	Places []int // of the lines, in their order; 0: none
}

// Standings ranks the units. Ranges come from the scatter of repeated runs, pooled over units; the
// simulation is seeded by the scorecard.
func (c *Campaign) Standings() (*Standings, error) {
	s := &Standings{Campaign: c}
	c.best()
	for _, u := range c.Units {
		s.Lines = append(s.Lines, Standing{Unit: u})
	}
	points := make([]float64, len(s.Lines))
	for i, l := range s.Lines {
		points[i] = overall(l.Unit)
	}
	for i, p := range rank.Places(points, rank.High) {
		s.Lines[i].Place = p
	}
	sortLines(s.Lines)
	if err := s.ranges(); err != nil {
		return nil, err
	}
	if err := s.simulate(); err != nil {
		return nil, err
	}
	if err := s.vary(); err != nil {
		return nil, err
	}
	s.leaveOut()
	return s, nil
}

// overall is the unit's total, NaN if it has none.
func overall(u *Unit) float64 {
	if !u.Ranked {
		return math.NaN()
	}
	return u.Overall.V
}

// weigh finds how far runs scatter: for each procedure the points of the whole that each run makes.
func (c *Campaign) weigh() {
	c.pooled = make([]spread, len(c.Lab.Procedures))
	for p := range c.Lab.Procedures {
		var groups [][]float64
		for _, u := range c.Units {
			if z := u.perRun(c.Lab.Procedures[p].ID); len(z) > 1 {
				groups = append(groups, z)
			}
		}
		var x spread
		x.sd, x.dof, x.ok = rank.Pooled(groups)
		c.pooled[p] = x
	}
}

// perRun is what each run of a procedure adds to the unit's total, in points of the whole. A test that
// failed adds the same whatever its runs did.
func (u *Unit) perRun(procedure string) []float64 {
	var out []float64
	for _, ts := range u.Tests {
		if ts.Test.Procedure != procedure || ts.Outcome != Passed {
			continue
		}
		if out == nil {
			out = make([]float64, len(ts.Runs))
		}
		for _, k := range ts.Criteria {
			for i := range k.PerRun {
				switch p := &k.PerRun[i]; {
				case p.Floor:
					out[i] += k.Weight * ts.Test.FailedPoints
				case p.Points.OK:
					out[i] += k.Weight * p.Points.V
				default:
					out[i] += k.Weight * k.Points.V // no scatter of its own
				}
			}
		}
	}
	return out
}

// variance is that of a unit's total, with its degrees of freedom by Welch and Satterthwaite.
func (c *Campaign) variance(u *Unit) (variance, dof float64, ok bool) {
	below := 0.0
	for p := range c.Lab.Procedures {
		n := len(u.perRun(c.Lab.Procedures[p].ID))
		if n == 0 {
			continue
		}
		x := c.pooled[p]
		if !x.ok {
			return 0, 0, false
		}
		v := x.sd * x.sd / float64(n)
		variance += v
		below += v * v / x.dof
	}
	if variance == 0 {
		return 0, math.Inf(1), true
	}
	return variance, max(1, variance*variance/below), true
}

// ranges tells where each unit may stand, and which cannot be told apart.
func (s *Standings) ranges() error {
	c := s.Campaign
	var est []rank.Estimate
	s.Sure = true
	for i := range s.Lines {
		l := &s.Lines[i]
		e := rank.Estimate{Score: overall(l.Unit), Var: math.NaN()}
		if v, dof, ok := c.variance(l.Unit); ok && l.Ranked {
			e.Var, e.Dof, e.Pool = v, dof, 1 // one spread stands behind all units
			l.U = rig.Fig(math.Sqrt(v))
			l.Half = rig.Fig(tFactor(c.Lab.Scorecard.Level, dof) * math.Sqrt(v))
		} else if l.Ranked {
			s.once(l.Unit)
			l.U, l.Half = rig.Absent("no-repeats"), rig.Absent("no-repeats")
			s.Sure = false
		}
		est = append(est, e)
	}
	cmp, err := rank.Compare(est, 1-c.Lab.Scorecard.Level, rank.High)
	if err != nil {
		return err
	}
	for i, r := range cmp.Ranges() {
		s.Lines[i].Range = r
	}
	for n, g := range cmp.Groups() {
		for _, i := range g {
			l := &s.Lines[i]
			if !l.Half.OK {
				continue // nothing is known that could tell it from others, nor that could not
			}
			if n >= 26 && l.Groups != "" {
				l.Groups += " " // where one letter does not suffice
			}
			l.Groups += letter(n)
		}
	}
	return nil
}

// once notes the procedures that a unit ran and whose scatter no unit shows.
func (s *Standings) once(u *Unit) {
	c := s.Campaign
	for p := range c.Lab.Procedures {
		if id := c.Lab.Procedures[p].ID; !c.pooled[p].ok && len(u.perRun(id)) > 0 && !slices.Contains(s.Once, id) {
			s.Once = append(s.Once, id)
		}
	}
}

// letter names a group: a to z, then aa, ab ...
func letter(n int) string {
	if n < 26 {
		return string(rune('a' + n))
	}
	return letter(n/26-1) + letter(n%26)
}

// best marks the best and the worst of each criterion among the ranked units, by the points that count.
// What is missing is neither, whatever it counts.
func (c *Campaign) best() {
	all := make([][]*CriterionScore, len(c.Lab.Scorecard.Criteria))
	for _, u := range c.Units {
		u.criteria(func(_ *TestScore, k *CriterionScore) {
			k.Best, k.Worst = false, false
			if u.Ranked && k.Points.OK && k.Points.Why == "" {
				all[k.index] = append(all[k.index], k)
			}
		})
	}
	for _, of := range all {
		high, low := math.Inf(-1), math.Inf(1)
		for _, k := range of {
			high, low = max(high, k.Points.V), min(low, k.Points.V)
		}
		for _, k := range of {
			k.Best = k.Points.V == high && high > low
			k.Worst = k.Points.V == low && high > low
		}
	}
}

// sortLines puts ranked units first, best first; equal places by code.
func sortLines(lines []Standing) {
	slices.SortStableFunc(lines, func(a, b Standing) int {
		switch {
		case (a.Place == 0) != (b.Place == 0):
			if a.Place == 0 {
				return 1
			}
			return -1
		case a.Place != b.Place:
			return a.Place - b.Place
		case a.Unit.Unit.ID < b.Unit.Unit.ID:
			return -1
		case a.Unit.Unit.ID > b.Unit.Unit.ID:
			return 1
		}
		return 0
	})
}

// tFactor is the two-sided factor of Student's t.
func tFactor(level, dof float64) float64 {
	k, err := gum.CoverageFactor(level, dof)
	if err != nil {
		return math.NaN()
	}
	return k
}

// Rivals returns the units that cannot be told from the first by what was measured; nil if it is alone
// or ranges could not be told.
func (s *Standings) Rivals() []*Unit {
	var out []*Unit
	for i, l := range s.Lines {
		if i > 0 && l.Ranked && s.Sure && l.Range.Best == 1 {
			out = append(out, l.Unit)
		}
	}
	return out
}
