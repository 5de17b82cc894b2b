package config

import (
	"fmt"
	"strings"

	"quern/rig"
)

// steps is a list to follow.
type steps struct{ all []string }

func (s *steps) step(format string, args ...any) {
	s.all = append(s.all, fmt.Sprintf(format, args...))
}

// Steps returns the procedure as the list that a tester follows, a sentence or two each.
func (pr *Procedure) Steps() []string {
	s := &steps{}
	pr.list(s)
	for i := range s.all {
		s.all[i] = strings.ReplaceAll(s.all[i], "~", " ")
	}
	return s.all
}

// procedure explains a procedure as a list that a tester could follow.
func (p *printer) procedure(pr *Procedure) {
	title := pr.ID
	if pr.Title != "" {
		title += ", " + pr.Title
	}
	p.line("")
	p.line("Procedure %s", title)
	if pr.Beyond {
		p.text("Beyond the makers' instructions: said beside every result.")
	}
	s := &steps{}
	pr.list(s)
	for i, text := range s.all {
		p.text("%d.~%s", i+1, text)
	}
}

// list lists what is done, in its order.
func (pr *Procedure) list(s *steps) {
	if which := pr.Checks.list(); len(which) > 0 {
		s.step("Once that day: %s. Without it the run carries a remark.", strings.Join(which, ", "))
	}
	pr.charge(s)
	pr.start(s)
	pr.feeding(s)
	pr.ending(s)
	pr.weighing(s)
	for i := range pr.Gates {
		s.step("Gate: %s", pr.Gates[i].Words())
	}
	s.step("Clean; the unit rests %s before its next run. %s of each unit %s; more are kept, marked as unplanned.", minutes(pr.CooldownS), rig.Count(pr.Repeats, "run"), counts(pr.Repeats))
}

func (c *Checks) list() []string {
	var out []string
	for _, x := range []struct {
		yes  bool
		what string
	}{{c.Sound, "a calibrator on the microphone"}, {c.Scale, "a check weight on the scale"}, {c.Clamp, "a known load through the clamp"},
		{c.Supply, "the voltage at the socket"}, {c.Water, "the flow, by weighing what half a minute gives"}} {
		if x.yes {
			out = append(out, x.what)
		}
	}
	return out
}

func (pr *Procedure) charge(s *steps) {
	for _, it := range pr.Items {
		text := fmt.Sprintf("Weigh in %g~g of %s, ±%g~g", it.MassG, strings.ReplaceAll(it.Name, "-", " "), it.ToleranceG)
		for _, more := range []string{it.Cut, it.Preparation} {
			if more != "" {
				text += ", " + more
			}
		}
		if it.Pieces > 0 {
			text += fmt.Sprintf(", %d pieces", it.Pieces)
		}
		if it.HeldBack > 0 {
			text += fmt.Sprintf("; hold %d of them back", it.HeldBack)
		}
		s.step("%s.", text)
	}
	switch total := pr.Charge(); {
	case total == 0:
		s.step("The charge is not stated: what goes in is not weighed.")
	case len(pr.Items) == 0:
		s.step("Weigh in a charge of %g~g.", total)
	default:
		s.step("In all %g~g. If there is raw meat or fish in it: two hours out of the cold at most, gloves, and wash what it touched.", total)
	}
}

func (pr *Procedure) start(s *steps) {
	if pr.Checks.BackgroundS > 0 {
		s.step("Everything off: %g~s of quiet for the background.", pr.Checks.BackgroundS)
	}
	text := fmt.Sprintf("Water on, %g~L/min", pr.Water.FlowLPerMin)
	if pr.Water.TemperatureC > 0 {
		text += fmt.Sprintf(", %g~degC", pr.Water.TemperatureC)
	}
	s.step("%s; switch on and let it run empty for a few seconds.", text)
}

func (pr *Procedure) feeding(s *steps) {
	var order, back []string
	for _, it := range pr.Items {
		name := strings.ReplaceAll(it.Name, "-", " ")
		order = append(order, name)
		if it.HeldBack > 0 {
			back = append(back, fmt.Sprintf("%d of %s", it.HeldBack, name))
		}
	}
	switch {
	case len(order) == 0:
		s.step("Feed the charge. Guard in place, eye protection, face away from the opening.")
	case len(back) == 0:
		s.step("Feed in this order: %s. Guard in place, eye protection, face away from the opening.", strings.Join(order, ", "))
	default:
		s.step("Feed in this order: %s; when it has gone through, what was held back: %s. Guard in place, eye protection, face away from the opening.", strings.Join(order, ", "), strings.Join(back, ", "))
	}
}

func (pr *Procedure) ending(s *steps) {
	clock := "the time the motor is on, pauses left out"
	if pr.Clock == "elapsed" {
		clock = "the time from the first start to the last stop, pauses and all"
	}
	s.step("At most %g~s on the %s clock, which counts %s. A stop longer than %s ends the run.", pr.TimeLimitS, pr.Clock, clock, minutes(pr.LongestPauseS))
	s.step("If it trips: pull the plug before touching anything, for some protectors close by themselves; wait %s before the reset; at most %d resets.", minutes(pr.ResetWaitS), pr.Resets)
	s.step("When the chamber is clear let the water run %g~s more, then switch off and pull the plug.", pr.Water.FlushS)
}

func (pr *Procedure) weighing(s *steps) {
	a := &pr.After
	roles := pr.Weighs()
	if len(roles) == 0 {
		s.step("Nothing is weighed afterwards.")
		return
	}
	var what []string
	for _, role := range roles {
		switch role {
		case rig.Chamber:
			what = append(what, "what stayed in the chamber")
		case rig.Coarse:
			what = append(what, "the coarse sieve, "+SieveWords(a.CoarseSieveMM))
		case rig.Fine:
			what = append(what, "the fine sieve, "+SieveWords(a.FineSieveMM))
		case rig.Passed:
			what = append(what, "what went through")
		}
	}
	text, order := fmt.Sprintf("Drain %g~s (±%g~s), then weigh", a.DrainS, a.DrainToleranceS), ", in this order: "
	if len(what) == 1 {
		order = " "
	}
	text += order + strings.Join(what, "; ") + "."
	if a.CoarseSieveMM > 0 || a.FineSieveMM > 0 {
		text += " Sieves are tared wet and drained: a film of water on one is 9 to 19 g."
	}
	s.step("%s", text)
	doubtful := fmt.Sprintf("More than %g~%%", percent(a.OutputHigh))
	if a.Passed { // else what is missing went down the drain
		doubtful += fmt.Sprintf(" or less than %g~%%", percent(a.OutputLow))
	}
	s.step("Repeat a weighing that looks wrong while the leftovers still exist; the last one counts. %s of the input out is doubtful.", doubtful)
}

// Words puts a gate into a sentence.
func (g *Gate) Words() string {
	limit := fmt.Sprintf("%g", g.Limit)
	if m, ok := rig.FindMeasure(g.Measure); ok && m.Unit != "" {
		limit += "~" + m.Unit
	} else if strings.HasSuffix(g.Measure, "_share") || strings.Contains(g.Measure, "_of_") {
		limit = fmt.Sprintf("%g~%%", percent(g.Limit))
	}
	m, _ := rig.FindMeasure(g.Measure)
	text := fmt.Sprintf("%s %s %s", g.Measure, strings.ReplaceAll(g.Side, "-", " "), limit)
	switch {
	case m.Counted(): // exactly; there is nothing to be close by
	case g.Rule == "simple":
		text += ", the limit alone deciding"
	case g.Rule == "guarded":
		text += fmt.Sprintf(", passed only inside the limit by %g standard uncertainties", g.Band)
	default:
		text += fmt.Sprintf(", said to be close within %g standard uncertainties", g.Band)
	}
	switch g.Repeats {
	case "any":
		text += "; one run that fails it fails the test"
	case "majority":
		text += "; it fails the test if more than half of the runs fail it"
	case "mean":
		text += "; the mean of the runs is judged"
	}
	if g.Note != "" {
		text += " (" + g.Note + ")"
	}
	return text + "."
}

// minutes writes a length of time as a person would say it.
func minutes(s float64) string {
	if s >= 120 && s == float64(int(s/60))*60 {
		return fmt.Sprintf("%g~min", s/60)
	}
	return fmt.Sprintf("%g~s", s)
}

func counts(n int) string {
	if n == 1 {
		return "counts"
	}
	return "count"
}
