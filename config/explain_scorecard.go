package config

import (
	"fmt"
	"slices"
	"strings"

	"quern/rig"
)

// scorecard explains how measures become points and a ranking.
func (p *printer) scorecard(l *Lab) {
	s := &l.Scorecard
	p.line("Scorecard %s", strings.TrimSpace(s.Title+" "+s.Version))
	if len(s.Tests) == 0 {
		p.text("It describes no test: each procedure is one, judged by its gates, and no points come of it.")
		return
	}
	total := 0.0
	for _, c := range s.Categories {
		total += c.Weight
	}
	for i := range s.Categories {
		c := &s.Categories[i]
		p.text("%s counts %.3g~%% of the whole.", named(c.ID, c.Title), 100*c.Weight/total)
		p.tests(l, c.ID)
	}
	if len(s.Categories) == 0 {
		p.tests(l, "")
	}
	switch s.Missing {
	case "reweight":
		p.text("A value that is missing is left out, the rest is reweighted, and the unit is marked.")
	case "worst":
		p.text("A value that is missing counts as the worst points of its curve, and is marked.")
	case "unranked":
		p.text("A unit with a value missing is not ranked.")
	}
	of := "Each run earns points; their mean counts."
	if s.PointsOf == "mean" {
		of = "The mean of the runs earns points."
	}
	p.text("%s The first runs in order of time count, as many as the procedure repeats; void ones are repeated and shown.", of)
	p.text("Ranks are told with %g~%% ranges that hold for all units together (Tukey), beside %d simulated rankings from seed %d.", percent(s.Level), s.Draws, s.Seed)
	for _, n := range l.twins() {
		p.text("Note: %s", n)
	}
}

func named(id, title string) string {
	if title == "" {
		return id
	}
	return fmt.Sprintf("%s (%s)", title, id)
}

func (p *printer) tests(l *Lab, category string) {
	s := &l.Scorecard
	total := 0.0
	for _, t := range s.Tests {
		if t.Category == category {
			total += t.Weight
		}
	}
	for i := range s.Tests {
		t := &s.Tests[i]
		if t.Category != category {
			continue
		}
		of := ""
		if category != "" {
			of = " of " + category
		}
		p.text("- %s, %.3g~%%%s: %s.", named(t.ID, t.Title), 100*t.Weight/total, of, l.runsOf(t))
		p.criteria(l, t)
	}
}

// runsOf says which runs count for a test, and what its gates do to its points.
func (l *Lab) runsOf(t *Test) string {
	if t.Procedure == "" {
		return "entered by hand"
	}
	of := "runs of " + t.Procedure
	p := l.Procedure(t.Procedure)
	if p == nil || len(p.Gates) == 0 {
		return of + ", which sets no gate"
	}
	if !t.Gated {
		return of + ", whether or not they pass its gates"
	}
	of += fmt.Sprintf("; failing a gate there gives %g points", t.FailedPoints)
	most := slices.ContainsFunc(p.Gates, func(g Gate) bool { return g.Repeats == "majority" })
	if most && l.Scorecard.PointsOf == "run" {
		of += ", and so does each run that fails one where most pass"
	}
	return of
}

func (p *printer) criteria(l *Lab, t *Test) {
	total := 0.0
	for _, c := range l.Scorecard.Criteria {
		if c.Test == t.ID {
			total += c.Weight
		}
	}
	for i := range l.Scorecard.Criteria {
		c := &l.Scorecard.Criteria[i]
		if c.Test != t.ID {
			continue
		}
		p.text("~~- %s, %.3g~%%: %s.", named(c.ID, c.Title), 100*c.Weight/total, c.words())
	}
}

// words says what a criterion's curve does: "laeq_db: 60 dB earns 10, 90 dB earns 0, straight lines between".
func (c *Criterion) words() string {
	m, _ := rig.FindMeasure(c.Measure)
	if len(c.Curve) == 0 {
		return c.Measure + ", from 0 to 10, is its own points"
	}
	var parts []string
	for _, a := range c.Curve {
		at := fmt.Sprintf("%g", a.At)
		if m.Unit != "" {
			at += "~" + m.Unit
		}
		parts = append(parts, fmt.Sprintf("%s earns %g", at, a.Points))
	}
	between, beyond := "straight lines between", "the same beyond the ends"
	if c.Shape == "monotone" {
		between = "a monotone cubic between"
	}
	if c.Outside == "refuse" {
		beyond = "no points beyond the ends"
	}
	return fmt.Sprintf("%s: %s, %s, %s", c.Measure, strings.Join(parts, ", "), between, beyond)
}

// twins tells of measures that are nearly one another, counted twice in one test.
func (l *Lab) twins() []string {
	alike := [][2]string{{"run_time_s", "motor_on_s"}, {"run_time_s", "elapsed_s"}, {"run_time_s", "clear_s"}, {"motor_on_s", "elapsed_s"}, {"laeq_db", "laeq_uncorrected_db"}, {"laeq_db", "lae_db"}, {"left_share", "left_g"}}
	var out []string
	for _, t := range l.Scorecard.Tests {
		has := map[string]bool{}
		for _, c := range l.Scorecard.Criteria {
			if c.Test == t.ID {
				has[c.Measure] = true
			}
		}
		for _, a := range alike {
			if has[a[0]] && has[a[1]] {
				out = append(out, fmt.Sprintf("%s judges %s and %s, which are nearly one: it counts twice.", t.ID, a[0], a[1]))
			}
		}
	}
	return out
}
