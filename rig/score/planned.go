package score

import (
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score/plan"
)

// PlanOf is what a plan is drawn for: the lab's units and procedures on the given days.
func PlanOf(c *Campaign, days []plan.Day, seed uint64, procedures []string) plan.Campaign {
	out := plan.Campaign{Days: days, Seed: seed}
	wanted := map[string]bool{}
	for _, p := range procedures {
		wanted[p] = true
	}
	control := &c.Lab.Bench.Control
	for i := range c.Lab.Units {
		if id := c.Lab.Units[i].ID; id != control.Unit {
			out.Units = append(out.Units, id)
		}
	}
	for i := range c.Lab.Procedures {
		p := &c.Lab.Procedures[i]
		if p.ID == control.Procedure && control.Unit != "" {
			out.Control = plan.Control{Unit: control.Unit, Procedure: p.ID, Minutes: int(p.RunMinutes), RestS: int(p.CooldownS)}
			if !scored(c.Lab, p.ID) {
				continue
			}
		}
		if len(wanted) > 0 && !wanted[p.ID] {
			continue
		}
		out.Procedures = append(out.Procedures, plan.Procedure{ID: p.ID, Repeats: p.Repeats, Minutes: int(p.RunMinutes), RestS: int(p.CooldownS), Batch: p.BatchRuns})
	}
	return out
}

// Outcomes says what became of the slots of a plan: of each unit and procedure a run takes the first slot of
// its own day that is left, or if there is none the first of all: on the day after a lost one the work goes on
// by that day's list. One that no verdict can be given on, for want of a weighing as a rule, takes its slot and says
// so: as long as what it left still lies there it can be weighed, and if not, the run has to be voided and repeated.
func (c *Campaign) Outcomes(p plan.Plan) []plan.Outcome {
	type key struct{ unit, procedure string }
	slots := map[key][]plan.Slot{}
	for _, s := range p.Slots {
		if s.What != plan.Skipped {
			k := key{s.Unit, s.Procedure}
			slots[k] = append(slots[k], s)
		}
	}
	var out []plan.Outcome
	for _, r := range c.Runs {
		k := key{r.Unit, r.Procedure.ID}
		if len(slots[k]) == 0 || r.Status == Conditioning {
			continue
		}
		day := r.Day()
		i := max(0, slices.IndexFunc(slots[k], func(s plan.Slot) bool { return s.Day == day }))
		o := plan.Outcome{Slot: slots[k][i].Number, What: plan.Done, Day: day}
		if r.Status == Void {
			o.What, o.Reason = plan.Void, plan.Line(r.Why)
			if o.Reason == "" {
				o.Reason = "void, " + r.Cause
			}
		}
		if o.What == plan.Done && r.Outcome == NotMeasurable {
			o.Reason = plan.Line("but " + r.undecided())
		}
		slots[k] = slices.Delete(slots[k], i, i+1)
		out = append(out, o)
	}
	return out
}

// undecided says which gate of a run has no verdict, and why; further ones are counted.
func (r *Run) undecided() string {
	text, more := "", 0
	for _, g := range r.Gates {
		switch why, _, _ := strings.Cut(g.Why, ":"); {
		case g.Decided():
		case text == "":
			text = fmt.Sprintf("%s cannot be judged (%s)", g.Gate.Measure, rig.WhyWords(why))
		default:
			more++
		}
	}
	if more > 0 {
		text += fmt.Sprintf(", nor %d more", more)
	}
	return text
}

// scored tells whether any test of the scorecard is of a procedure.
func scored(l *config.Lab, procedure string) bool {
	for _, t := range l.Scorecard.Tests {
		if t.Procedure == procedure {
			return true
		}
	}
	return false
}
