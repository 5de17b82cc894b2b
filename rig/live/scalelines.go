package live

import (
	"fmt"
	"strings"

	"quern/rig"
)

// shownWeighings is how many of the last weighings a screen holds.
const shownWeighings = 6

// lines prints what the scale shows and what is made of it.
func (s *ScaleNow) lines(p func(format string, args ...any)) {
	state := "moves"
	switch {
	case s.Why != "":
		state = s.Why
	case s.Ready:
		state = "ready"
	case s.AtRest:
		state = fmt.Sprintf("at rest for %.1f of %.1f s", s.RestS, s.NeedS)
	case !s.MassG.OK:
		state = "no reading"
	}
	if s.SlopeGPerMin.OK {
		state += shown(s.SlopeGPerMin, ", %+.1f g/min")
	}
	p("mass\t%s, %s", shown(s.MassG, "%g g"), state)
	if x := s.Expect; x != nil {
		p("weigh next\t%s", x.words())
	}
	if d := s.Drain; d != nil && d.DrainedS.OK {
		wait := ""
		if d.WaitS > 0 {
			wait = ", wait " + clock(rig.Fig(d.WaitS))
		}
		p("drained\t%s of %s, %s%s", clock(d.DrainedS), clock(rig.Fig(d.TargetS)), d.Timing, wait)
	}
	if c := s.Capture; c != nil && c.Fact == 0 && c.Why != "" {
		p("not taken\t%s: %s", shown(c.GrossG, "%g g"), c.Why)
	}
	for _, w := range s.Weighings[max(0, len(s.Weighings)-shownWeighings):] {
		p("weighing %d\t%s", w.Fact, w.words())
	}
	if len(s.Outstanding) > 0 && len(s.Weighings) > 0 {
		p("not weighed\t%s", words(s.Outstanding))
	}
}

// words puts what is expected on one line.
func (x *ExpectNow) words() string {
	text := within(Expect{Role: x.Role, Item: x.Item}.words(), x.Vessel)
	if x.TargetG.OK {
		text += shown(x.TargetG, ": %g") + shown(x.ToleranceG, " ±%g") + " g"
	}
	text += ", on the pan " + shown(x.NetG, "%g g net")
	if x.Why != "" {
		text += " (" + x.Why + ")"
	}
	return text
}

// words puts a weighing on one line.
func (w *WeighingNow) words() string {
	text := within(Expect{Role: w.Role, Item: w.Item}.words(), w.Vessel) + ": " + shown(w.NetG, "%g g net")
	if w.TargetG.OK && w.ToleranceG.OK && !near(w.NetG.V, w.TargetG.V, w.ToleranceG.V+1e-9) {
		text += shown(rig.Fig(w.NetG.V-w.TargetG.V), ", %+g g from what is wanted")
	}
	if w.Timing != "" && w.DrainedS.OK {
		text += fmt.Sprintf(", drained %s (%s)", clock(w.DrainedS), w.Timing)
	}
	var marks []string
	for _, m := range []struct {
		mark string
		is   bool
	}{{"by itself", w.Auto}, {"shaken", w.Shaken}, {"withdrawn", w.Withdrawn}} {
		if m.is {
			marks = append(marks, m.mark)
		}
	}
	if w.CorrectedG.OK {
		marks = append(marks, shown(w.CorrectedG, "corrected to %g g"))
	}
	if len(marks) > 0 {
		text += " (" + strings.Join(marks, ", ") + ")"
	}
	return text
}

func within(what, vessel string) string {
	if vessel == "" {
		return what
	}
	return what + " in " + vessel
}
