package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// conditionRow is what a run was made under.
type conditionRow struct {
	Run, Day, Bench, Who                       string
	Background, Frequency, Idle, Inrush, Drain string
	Extra                                      []string
	Missing                                    []string // checks of the day that nobody made
}

func (b *book) conditions(runs []*score.Run, of map[string]*exhibit) (out []conditionRow) {
	for _, r := range runs {
		x := of[r.Record.Session]
		row := conditionRow{Run: procedureTitle(r) + ", " + r.Name(), Day: r.Day(), Bench: r.Record.Bench, Frequency: "-",
			Background: b.Style.Value("background_db", r.Measure("background_db")), Idle: b.Style.Value("idle_a", r.Measure("idle_a")), Inrush: b.Style.Value("inrush_a", r.Measure("inrush_a"))}
		if r.N <= len(x.result.Runs) {
			run := &x.result.Runs[r.N-1]
			if f := run.Motor.FrequencyHz; f.OK {
				row.Frequency = fmt.Sprintf("%.2f Hz", f.V)
			}
			for _, e := range run.Extra {
				if e.Mean.OK {
					row.Extra = append(row.Extra, fmt.Sprintf("%s %.1f %s (%.1f to %.1f)", strings.ReplaceAll(string(e.Channel), "-", " "), e.Mean.V, e.Unit, e.Least.V, e.Most.V))
				}
			}
		}
		var drained, who []string
		for _, w := range r.Record.Facts.Weighings {
			if w.DrainedS.OK && (w.Run == 0 || w.Run == r.N) {
				drained = append(drained, report.TimeWords(w.DrainedS.V))
			}
			if w.Who != "" && !slices.Contains(who, w.Who) {
				who = append(who, w.Who)
			}
		}
		row.Drain, row.Who = cmp.Or(strings.Join(drained, ", "), "-"), cmp.Or(strings.Join(who, ", "), "-")
		for _, m := range r.Remarks {
			if strings.HasPrefix(m, "no ") && strings.Contains(m, " on record for ") {
				row.Missing = append(row.Missing, m)
			}
		}
		out = append(out, row)
	}
	return out
}

// checks lists the checks of the benches on the days of the runs, in whichever session they were made.
func (b *book) checks(runs []*score.Run) (out []checkedView) {
	type benchDay struct{ bench, day string }
	days := map[benchDay]bool{}
	for _, r := range runs {
		days[benchDay{r.Record.Bench, r.Day()}] = true
	}
	for _, rec := range recordsOf(b.c.Runs) {
		if !days[benchDay{rec.Bench, rec.Day()}] {
			continue
		}
		for _, k := range checksOf(rec) {
			if b.Masked && !slices.ContainsFunc(runs, func(r *score.Run) bool { return r.Record == rec }) {
				k.Session = "" // that of another unit
			}
			out = append(out, k)
		}
	}
	return out
}

// instruments says what was measured with, and how well.
func (b *book) instruments() []string {
	k := &b.c.Lab.Bench
	out := []string{
		fmt.Sprintf("Supply: %g V, %g Hz nominal; the true frequency is tracked from the current.", k.Supply.VoltageV, k.Supply.FrequencyHz),
		fmt.Sprintf("Microphone: calibrated so that a sine of %g dB re 20 µPa just reaches full scale. Standard uncertainty of a level: %g dB of its own, %g dB shared by all units on the bench, which cancels between them but not against a limit.", k.Microphone.FullScaleDB, k.Errors.LevelDB, k.Errors.LevelCommonDB),
		fmt.Sprintf("Clamp: %g A at full scale, a peak. Its gain is known to %g %%, for all units alike.", k.Clamp.FullScaleA, 100*k.Errors.CurrentCommon),
		fmt.Sprintf("Scale: steps of %g g, class %s (OIML R 76), repeatability %g g.", k.Scale.DivisionG, k.Scale.Class, k.Scale.RepeatabilityG),
	}
	for _, v := range k.Vessels {
		text := fmt.Sprintf("Vessel %s: %g g dry", v.ID, v.DryG)
		if v.WetG > 0 {
			text += fmt.Sprintf(", %g g wet and drained", v.WetG)
		}
		if v.Checked != "" {
			text += ", checked on " + v.Checked
		}
		out = append(out, text+".")
	}
	if c := k.Control; c.Unit != "" {
		out = append(out, fmt.Sprintf("A control unit is run under %s at the start of each day; its chart says whether the bench has moved.", c.Procedure))
	} else {
		out = append(out, "No control unit is run on this bench: that it did not move from day to day is not shown by one.")
	}
	return out
}

// methodView says how was tested, and what was not.
type methodView struct {
	Tested, NotTested, Samples []string
	Rules                      string
	Dates                      string
	Glossary                   []pair // measures with their definitions
}

func (b *book) method(runs []*score.Run, units []*score.Unit) methodView {
	card := &b.c.Lab.Scorecard
	m := methodView{Dates: dates(runs), Rules: card.Version}
	count, hand := 0, 0
	for _, r := range runs {
		if r.Status == score.Counts {
			count++
		}
		if r.Record.Origin == rig.ByHand {
			hand++
		}
	}
	m.Tested = append(m.Tested, fmt.Sprintf("%s %s on record, of which %d count; those that do not are listed with their reasons.", rig.Count(len(runs), "run"), agree(len(runs), "is", "are"), count))
	if hand < len(runs) {
		m.Tested = append(m.Tested, "In recordings, runs, starts, stalls, trips and the instant at which the chamber is clear were found by one program, by the same thresholds for every unit; nobody held a stopwatch.")
	}
	if hand > 0 {
		m.Tested = append(m.Tested, fmt.Sprintf("%s %s taken by hand, without a recording, and marked so.", rig.Count(hand, "run"), agree(hand, "was", "were")))
	}
	m.Tested = append(m.Tested,
		"A gate is decided on full figures with their uncertainty, never on rounded ones. Points come from the curves of the scorecard.",
		fmt.Sprintf("Means of levels are %s; a missing value is treated by the rule “%s”.", map[string]string{"energy": "those of energies", "arithmetic": "arithmetic"}[card.Levels], missingRule(card)))
	if b.Style.Mass == report.Ounces {
		m.Tested = append(m.Tested, "Masses are printed in avoirdupois ounces of 28.349523125 g, from the same grams that everything was decided on; procedures, and what a number is made of, stay in grams as they are kept.")
	}
	for _, x := range rig.Measures {
		if slices.Contains(keyMeasures, x.Name) || slices.Contains(massMeasures, x.Name) {
			m.Glossary = append(m.Glossary, pair{report.NameWords(x.Name), x.What})
		}
	}
	m.NotTested = append(m.NotTested, "Life, wear, corrosion, leaks over months, what goes on in pipes and traps further down, electrical safety, and anything that is not listed on this page.")
	for i := range b.c.Lab.Procedures {
		pr := &b.c.Lab.Procedures[i]
		if !slices.ContainsFunc(runs, func(r *score.Run) bool { return r.Procedure == pr && r.Status == score.Counts }) {
			m.NotTested = append(m.NotTested, "Procedure "+cmp.Or(pr.Title, pr.ID)+": no run counts.")
		}
	}
	for _, u := range units {
		for _, ts := range u.Tests {
			if ts.Outcome == score.NotTested {
				m.NotTested = append(m.NotTested, fmt.Sprintf("%s: %s (%s).", u.Unit.Shown(b.Day), ts.Title(), ts.Why))
			}
		}
		from := "bought, as the list of units has it"
		if u.Unit.MakerSupplied {
			from = "supplied by its maker"
		}
		m.Samples = append(m.Samples, fmt.Sprintf("%s: %s, %s; %s motor, %g A rated.", u.Unit.Shown(b.Day), rig.Count(u.Unit.Samples, "sample"), from, u.Unit.Motor, u.Unit.RatedCurrentA))
	}
	return m
}

func missingRule(card *config.Scorecard) string {
	switch card.Missing {
	case "worst":
		return "it counts as the worst points of its curve"
	case "unranked":
		return "the unit is not ranked"
	}
	return "left out, the rest reweighted, and marked"
}
