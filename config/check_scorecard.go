package config

import (
	"cmp"
	"fmt"
	"strings"

	"quern/rig"
)

// checkScorecard checks the scorecard against itself and the lab, whose other files are read.
func (l *Lab) checkScorecard(r *reader) {
	s := &l.Scorecard
	categories, tests, criteria := known{}, known{}, known{}
	for i := range s.Categories {
		r.once(categories, &s.Categories[i].ID, "category")
	}
	for i := range s.Tests {
		t := &s.Tests[i]
		r.once(tests, &t.ID, "test")
		if _, ok := categories[t.Category]; len(categories) > 0 && !ok {
			r.fault(&t.Category, r.stand(&t.Category, t.Category), "one of the categories: "+strings.Join(s.categoryIDs(), ", "), "a test without a category would earn nothing")
		} else if len(categories) == 0 && t.Category != "" {
			r.fault(&t.Category, r.stand(&t.Category, t.Category), "a category that is described as [[category]]", "add it, or leave the key out")
		}
		if t.Procedure != "" && l.Procedure(t.Procedure) == nil {
			var known []string
			for _, p := range l.Procedures {
				known = append(known, p.ID)
			}
			r.fault(&t.Procedure, r.stand(&t.Procedure, t.Procedure), "one of "+strings.Join(known, ", "), meantID(t.Procedure, known))
		}
		if !s.judges(t.ID) && len(r.problems) == 0 {
			r.fault(&t.ID, "test "+t.ID+" without a criterion", "at least one [[criterion]] with test = \""+t.ID+"\"", "a test that nothing is judged in earns nothing")
		}
	}
	for i := range s.Criteria {
		c := &s.Criteria[i]
		r.once(criteria, &c.ID, "criterion")
		t := s.Test(c.Test)
		if t == nil {
			var known []string
			for _, t := range s.Tests {
				known = append(known, t.ID)
			}
			want := "one of the tests: " + strings.Join(known, ", ")
			if len(known) == 0 {
				want = "a test that is described as [[test]]"
			}
			r.fault(&c.Test, r.stand(&c.Test, c.Test), want, cmp.Or(meantID(c.Test, known), "add it, with its procedure"))
		} else {
			l.checkJudged(r, t, c)
		}
		r.checkCurve(c)
	}
	for i := range s.Categories {
		c := &s.Categories[i]
		used := false
		for _, t := range s.Tests {
			used = used || t.Category == c.ID
		}
		if !used && len(r.problems) == 0 {
			r.fault(&c.ID, "category "+c.ID+" without a test", "at least one [[test]] with category = \""+c.ID+"\"", "")
		}
	}
}

func meantID(id string, known []string) string {
	if n := nearest(id, known); n != "" {
		return "did you mean " + n + "?"
	}
	return ""
}

// checkJudged sees that the test has what the criterion judges.
func (l *Lab) checkJudged(r *reader, t *Test, c *Criterion) {
	m, ok := rig.FindMeasure(c.Measure)
	p := l.Procedure(t.Procedure)
	switch {
	case !ok || t.Procedure != "" && p == nil: // said already
	case m.Part == rig.OfHand && p != nil:
		r.fault(&c.Measure, r.stand(&c.Measure, c.Measure), "a measure of the runs of "+p.ID, "put what is entered by hand into a test without a procedure")
	case m.Part != rig.OfHand && p == nil:
		r.fault(&c.Measure, r.stand(&c.Measure, c.Measure), "hand.NAME: the test "+t.ID+" has no procedure", "give the test a procedure, or the criterion a value entered by hand")
	case p != nil:
		r.taken(p, &c.Measure, c.Measure)
		r.checkExtra(&l.Bench, &c.Measure, c.Measure)
	}
}

// checkCurve sees that a curve says one thing of every measure.
func (r *reader) checkCurve(c *Criterion) {
	if len(c.Curve) == 1 {
		r.fault(&c.Curve[0].At, "a curve of one point", "at least two", "say at which measure points begin and end")
	}
	for i := 1; i < len(c.Curve); i++ {
		a, b := &c.Curve[i-1], &c.Curve[i]
		if r.origins[&a.At].wrong || r.origins[&b.At].wrong || a.At < b.At {
			continue
		}
		r.fault(&b.At, fmt.Sprintf("%s after at = %g", r.stand(&b.At, b.At), a.At), "a curve whose measure increases from point to point", "sort the points by the measure; no two at the same")
	}
	for i := range c.Curve {
		if r.inPercent(c.Measure, &c.Curve[i].At, c.Curve[i].At) {
			break // of one mistake the others follow
		}
	}
	if m, ok := rig.FindMeasure(c.Measure); ok && len(c.Curve) == 0 && m.Part != rig.OfHand {
		r.fault(&c.ID, "criterion "+c.ID+" without a curve", "curve = [{at = ..., points = ...}, ...]", "only what is entered by hand may be its own points")
	}
}

// beyond faults a limit that no value of the measure could come near.
func (r *reader) beyond(measure string, at *float64, v float64) {
	if r.inPercent(measure, at, v) {
		return
	}
	if m, ok := rig.FindMeasure(measure); ok && !m.Share() && !r.origins[at].wrong && m.Fits(v) != nil {
		r.fault(at, r.stand(at, v), "0 or more", measure+" is never less")
	}
}

// inPercent faults a share that was written in per cent, of which no run could come near.
func (r *reader) inPercent(measure string, at *float64, v float64) bool {
	m, ok := rig.FindMeasure(measure)
	if !ok || !m.Share() || r.origins[at].wrong || m.Fits(v) == nil {
		return false
	}
	r.fault(at, r.stand(at, v), "a share of 1, such as 0.05 for 5 %", fmt.Sprintf("write %g if %g %% is meant", v/100, v))
	return true
}

func (s *Scorecard) categoryIDs() []string {
	var out []string
	for _, c := range s.Categories {
		out = append(out, c.ID)
	}
	return out
}

func (s *Scorecard) judges(test string) bool {
	for _, c := range s.Criteria {
		if c.Test == test {
			return true
		}
	}
	return false
}

// Test returns the test of an id; nil: there is none.
func (s *Scorecard) Test(id string) *Test {
	for i := range s.Tests {
		if s.Tests[i].ID == id {
			return &s.Tests[i]
		}
	}
	return nil
}
