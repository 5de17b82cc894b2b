package sheet

import (
	"fmt"
	"slices"
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// disputeRow is what a maker may say against a result, and what the record holds on it.
type disputeRow struct {
	Attack string
	Held   []string
	Lacks  []string // what the record does not hold
}

// disputes answers the usual objections from the record, and says where it has nothing.
func (b *book) disputes(s *score.Standings, l *score.Standing, runs []*score.Run, of map[string]*exhibit) []disputeRow {
	d := disputant{b: b, s: s, l: l, runs: runs, of: of}
	return []disputeRow{d.supply(), d.water(), d.instructions(), d.early(), d.feeding(), d.sample(), d.meter(), d.protector(), d.rules(), d.voided()}
}

type disputant struct {
	b    *book
	s    *score.Standings
	l    *score.Standing
	runs []*score.Run
	of   map[string]*exhibit
}

// checksOn says what was checked of a kind on the days of the runs.
func (d disputant) checksOn(kind rig.CheckKind) (out []string) {
	for _, k := range d.b.checks(d.runs) {
		if k.What == string(kind) && !k.Withdrawn {
			text := k.Day + ": found " + k.Found
			if k.Nominal != "-" {
				text += ", should be " + k.Nominal
			}
			if k.Note != "" {
				text += " (" + k.Note + ")"
			}
			out = append(out, text)
		}
	}
	return out
}

// extra says what extra channels of some units read over the runs.
func (d disputant) extra(units ...string) (out []string) {
	for _, r := range d.runs {
		x := d.of[r.Record.Session]
		if r.N > len(x.result.Runs) {
			continue
		}
		for _, e := range x.result.Runs[r.N-1].Extra {
			if slices.Contains(units, string(e.Unit)) && e.Mean.OK {
				out = append(out, fmt.Sprintf("%s, %s: %.1f %s, from %.1f to %.1f", r.Name(), strings.ReplaceAll(string(e.Channel), "-", " "), e.Mean.V, e.Unit, e.Least.V, e.Most.V))
			}
		}
	}
	return out
}

// row puts a row together; lacks is said where nothing was found.
func row(attack string, held []string, lacks ...string) disputeRow {
	return disputeRow{Attack: attack, Held: held, Lacks: slices.DeleteFunc(lacks, func(s string) bool { return s == "" })}
}

// when returns a text if something is so.
func when(so bool, text string) string {
	if so {
		return text
	}
	return ""
}

func (d disputant) supply() disputeRow {
	checks, read := d.checksOn(rig.CheckSupply), d.extra("V")
	held := append(prefixed("Voltage at the socket, ", checks), prefixed("Voltage read during runs: ", read)...)
	lo, hi := 0.0, 0.0
	for _, r := range d.runs {
		x := d.of[r.Record.Session]
		if r.N <= len(x.result.Runs) {
			if f := x.result.Runs[r.N-1].Motor.FrequencyHz; f.OK {
				if lo == 0 || f.V < lo {
					lo = f.V
				}
				hi = max(hi, f.V)
			}
		}
	}
	if hi > 0 {
		held = append(held, fmt.Sprintf("Mains frequency, tracked through every run: %.2f to %.2f Hz.", lo, hi))
	}
	inrush := d.b.among(d.runs, "inrush_a")
	if inrush != nothing {
		held = append(held, "Inrush of the runs: "+inrush+". A sagging supply lowers it.")
		if !d.b.Masked {
			held = append(held, "The inrush of the other units is in the table of each procedure.")
		}
	}
	return row("The supply sagged.", held, when(len(checks)+len(read) == 0, "No voltage was put on record, neither by a check nor by a channel of its own."),
		when(hi == 0, "No mains frequency was measured."), when(inrush == nothing, "No inrush current was measured."))
}

func (d disputant) water() disputeRow {
	flow, temperature := d.checksOn(rig.CheckWater), d.extra("degC", "L/min")
	held := append(prefixed("Flow by weighing, ", flow), temperature...)
	var asked []string
	for _, r := range d.runs {
		text := fmt.Sprintf("%s: %g L/min", procedureTitle(r), r.Procedure.Water.FlowLPerMin)
		if r.Procedure.Water.TemperatureC > 0 {
			text += fmt.Sprintf(" at %g degC", r.Procedure.Water.TemperatureC)
		}
		if !slices.Contains(asked, text) {
			asked = append(asked, text)
		}
	}
	held = append(held, "Asked for: "+strings.Join(asked, "; ")+".")
	quiet := d.b.among(d.runs, "background_db")
	if quiet != nothing {
		held = append(held, "Level before the first start, running water included where it ran: "+quiet+".")
	}
	return row("There was not enough water, or it was hot.", held, when(quiet == nothing, "No level before the first start was measured."), when(len(flow) == 0, "The flow was not weighed on these days."), when(len(temperature) == 0, "The temperature was not read."))
}

func (d disputant) instructions() disputeRow {
	var held []string
	for _, r := range d.runs {
		text := procedureTitle(r) + ": the procedure is not marked as beyond the makers' instructions."
		if r.Procedure.Beyond {
			text = procedureTitle(r) + ": marked as beyond the makers' instructions, and the mark stands beside its result."
		}
		if !slices.Contains(held, text) {
			held = append(held, text)
		}
	}
	return row("Our instructions forbid that.", held)
}

func (d disputant) early() disputeRow {
	held := []string{"The rule is the same for all: the procedure's time limit on its clock, the chamber clear, then the flush."}
	hand := d.byHand()
	if hand < len(d.runs) {
		held = append(held, "The recordings are sealed: the end of a run can be heard, and seen in the current.")
	}
	for _, r := range d.runs {
		clear, last := r.Measure("clear_s"), r.Measure("run_time_s")
		if r.Status != score.Counts || !last.OK {
			continue
		}
		text := fmt.Sprintf("%s: it ran for %s of %s", r.Name(), report.TimeWords(last.V), report.TimeWords(r.Procedure.TimeLimitS))
		if clear.OK {
			text += fmt.Sprintf("; clear after %s, and it ran on for %s", report.TimeWords(clear.V), report.TimeWords(max(last.V-clear.V, 0)))
		} else {
			text += "; when the chamber was clear was not told (" + rig.WhyWords(clear.Why) + ")"
		}
		held = append(held, text+".")
	}
	return row("You stopped it too early.", held, when(hand > 0, rig.Count(hand, "run")+", taken by hand: there is no recording."), "Results at other times of running on were not measured.")
}

// byHand counts the runs that were not recorded.
func (d disputant) byHand() int {
	n := 0
	for _, r := range d.runs {
		if r.Record.Origin == rig.ByHand {
			n++
		}
	}
	return n
}

func (d disputant) feeding() disputeRow {
	var held []string
	fed, seen := false, false
	for _, r := range d.runs {
		x := d.of[r.Record.Session]
		if r.N > len(x.result.Runs) {
			continue
		}
		seen = seen || x.result.Runs[r.N-1].Motor.MaxA.OK
		if x.whyNot == "" && r.N <= len(x.shown) && len(x.shown[r.N-1].mass.AtS) > 0 {
			fed = true
		}
		for _, e := range x.result.Runs[r.N-1].Events {
			if e.Kind == rig.StallStart || e.Kind == rig.Trip {
				at := "-"
				if e.AtS.OK {
					at = report.TimeWords(e.AtS.V)
				}
				held = append(held, fmt.Sprintf("%s at %s: %s: %s", r.Name(), at, report.KindWords(e.Kind), e.Evidence))
			}
		}
		for _, m := range x.rec.Facts.Remarks {
			held = append(held, fmt.Sprintf("%s at %s, remark: %s", r.Name(), report.TimeWords(m.AtS), m.Text))
		}
	}
	if len(held) == 0 && seen {
		held = append(held, "No stall and no trip was found in any run whose current was recorded.")
	}
	held = append(held, "What was fed in which order, and each ingredient's mass, is in the table of each procedure.")
	if seen {
		held = append(held, "The current over time shows when it went in.")
	}
	if !d.b.Masked {
		held = append(held, "Stalls and trips of the other units under the same feed are in the table of each procedure.")
	}
	return row("That stall was your feeding.", held, when(!fed, "The scale did not follow the feed during the runs."), when(!seen, "No current was recorded: stalls and trips are as a person typed them."), "The video is kept by the reviewer, not by this program.")
}

func (d disputant) sample() disputeRow {
	u := d.l.Unit.Unit
	held := []string{fmt.Sprintf("Samples on record: %d. Runs that count: %d.", u.Samples, d.counting()), "The spread of the runs is in the repeats of each procedure, with the scatter of all units beside it."}
	return row("You had one bad sample.", held, when(u.Samples <= 1, "A second sample was not tested: spread from sample to sample is not known."), when(u.Samples > 1, "Which run was of which sample is not on record unless a remark says so."))
}

func (d disputant) counting() int {
	n := 0
	for _, r := range d.runs {
		if r.Status == score.Counts {
			n++
		}
	}
	return n
}

func (d disputant) meter() disputeRow {
	checks := d.checksOn(rig.CheckSound)
	held := append(prefixed("Calibrator on the microphone, ", checks), d.b.instruments()[1:4]...)
	held = append(held, "What all units share cancels between them: the comparison rests on differences on one bench, not on absolute digits.")
	return row("Your meter is a toy.", held, when(len(checks) == 0, "No calibrator was put on record for these days."), when(len(d.checksOn(rig.CheckScale)) == 0, "No check weight was put on record for these days."))
}

func (d disputant) protector() disputeRow {
	held := []string{"Trips and stalls are counted apart: stalls " + d.b.among(d.runs, "stalls") + "; presumed trips " + d.b.among(d.runs, "trips") + ", run by run."}
	seen := map[string]bool{}
	for _, r := range d.runs {
		if !seen[r.Procedure.ID] {
			seen[r.Procedure.ID] = true
			held = append(held, fmt.Sprintf("%s: a reset after %s, at most %d in a run, and %s of rest between runs, as the procedure says.", procedureTitle(r), report.TimeWords(r.Procedure.ResetWaitS), r.Procedure.Resets, report.TimeWords(r.Procedure.CooldownS)))
		}
	}
	return row("The protector did its job.", held)
}

func (d disputant) rules() disputeRow {
	held := []string{"Rules in force: version " + d.b.method(d.runs, nil).Rules + ", SHA-256 " + d.b.c.Lab.RulesSum() + ".",
		"The facts are kept apart from the rules: under any earlier rules the same sessions give the earlier table, and a comparison names what each rule moved."}
	return row("You changed the rules.", held)
}

func (d disputant) voided() disputeRow {
	var held []string
	for _, v := range d.b.voids(d.runs) {
		held = append(held, fmt.Sprintf("%s: %s: %s; its values: %s.", v.Session, v.Status, v.Why, v.Values))
	}
	if len(held) == 0 {
		held = []string{"No run of this unit is void: all are listed, and all count."}
	}
	return row("You voided the runs that suited you.", held)
}

func prefixed(prefix string, texts []string) (out []string) {
	for _, t := range texts {
		out = append(out, prefix+t)
	}
	return out
}
