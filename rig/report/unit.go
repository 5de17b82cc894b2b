package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"quern/rig"
	"quern/rig/score"
	"quern/rig/score/gum"
)

// Units prints what each of several units came to; of those without a run it only says that they have none, unless all
// are.
func Units(w io.Writer, c *score.Campaign, units []*score.Unit, day string) error {
	ran := map[string]bool{}
	for _, r := range c.Runs {
		ran[r.Unit] = true
	}
	var idle []string
	said := false
	for _, u := range units {
		if !ran[u.Unit.ID] && len(ran) > 0 && len(units) > 1 {
			idle = append(idle, Clean(u.Unit.Shown(day)))
			continue
		}
		if said {
			fmt.Fprintln(w) // an error of w comes again below
		}
		said = true
		if err := Unit(w, c, u, day); err != nil {
			return err
		}
	}
	if len(idle) > 0 {
		fmt.Fprintf(w, "\nno run of %s\n", strings.Join(idle, ", "))
	}
	return nil
}

// Unit prints what one unit came to: every test with its runs, gates, criteria and points. Names obey
// the release date on the given day.
func Unit(w io.Writer, c *score.Campaign, u *score.Unit, day string) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %s points\n", Clean(u.Unit.Shown(day)), points(u.Overall))
	for i, ts := range u.Tests {
		fmt.Fprintf(&b, "\n%s: %s, %s points", titled(ts.Test.ID, ts.Test.Title), OutcomeWords(ts), points(ts.Points))
		if ts.Outcome == score.Failed && ts.Earned.OK {
			fmt.Fprintf(&b, " (its measures would have earned %s)", points(ts.Earned))
		}
		b.WriteString("\n")
		if ts.Why != "" {
			fmt.Fprintf(&b, "  %s\n", Clean(ts.Why))
		}
		if first(u.Tests, i) {
			gateTable(&b, ts)
		}
		pointsTable(&b, ts)
	}
	b.WriteString("\n")
	for i, ts := range u.Tests {
		if first(u.Tests, i) {
			runRemarks(&b, ts)
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// Run prints what a run came to at once, while the leftovers still exist: masses, gates and remarks.
func Run(w io.Writer, r *score.Run) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s, %s under %s: %s", Clean(r.Name()), Clean(r.Unit), r.Procedure.ID, RunOutcomeWords(r))
	if r.Status != score.Counts && r.Status != score.Void {
		fmt.Fprintf(&b, " (%s)", r.Status)
	}
	b.WriteString("\n")
	if r.Why != "" {
		fmt.Fprintf(&b, "  %s\n", Clean(r.Why))
	}
	t := grid{left: 1}
	for _, name := range []string{"run_time_s", "input_g", "left_g", "coarse_g", "fine_g", "passed_g", "left_share", "coarse_share", "fine_share", "recovered_share", "laeq_db", "trips"} {
		if v := r.Measure(name); v.OK || v.Why != "not-weighed" {
			t.rows = append(t.rows, []string{"  " + name, ValueWords(name, v)})
		}
	}
	t.print(&b)
	for _, g := range r.Gates {
		fmt.Fprintf(&b, "  gate: %s\n", gateText(g))
	}
	if len(r.Gates) == 0 {
		b.WriteString("  no gate to check: the procedure sets none, so nothing could fail. [[gate]] in its file sets one\n")
	}
	for _, m := range r.Remarks {
		fmt.Fprintf(&b, "  note: %s\n", Clean(m))
	}
	_, err := w.Write(b.Bytes())
	return err
}

// gateText says how a gate was decided and how surely.
func gateText(g score.GateResult) string {
	limit := strings.ReplaceAll(g.Gate.Side, "-", " ") + " " + MeasureWords(g.Gate.Measure, g.Gate.Limit)
	if !g.Decided() {
		return fmt.Sprintf("%s %s: not measurable (%s)", g.Gate.Measure, limit, Clean(rig.WhyWords(g.Why)))
	}
	text := fmt.Sprintf("%s %s: %s, at %s", g.Gate.Measure, limit, g.Verdict, ValueWords(g.Gate.Measure, g.Value))
	if words := SurelyWords(g); words != noDoubt {
		text += "; it " + words
	}
	if g.Verdict == gum.PassClose || g.Verdict == gum.FailClose {
		text += "; too close to call"
	}
	return text
}

func gateTable(b *bytes.Buffer, ts *score.TestScore) {
	if len(ts.Gates) == 0 {
		return
	}
	t := grid{left: 2, rows: [][]string{{"  gate", "limit"}}}
	for _, r := range ts.Runs {
		t.rows[0] = append(t.rows[0], cut(Clean(r.Name()), nameRunes))
	}
	for _, g := range ts.Gates {
		row := []string{"  " + g.Gate.Measure, strings.ReplaceAll(g.Gate.Side, "-", " ") + " " + MeasureWords(g.Gate.Measure, g.Gate.Limit)}
		for _, res := range g.Runs {
			cell := "not measurable"
			if res.Decided() {
				cell = fmt.Sprintf("%s %s", MeasureWords(g.Gate.Measure, res.Value.V), res.Verdict)
			}
			row = append(row, cell)
		}
		t.rows = append(t.rows, row)
	}
	t.print(b)
}

func pointsTable(b *bytes.Buffer, ts *score.TestScore) {
	t := grid{left: 2, rows: [][]string{{"  criterion", "measure"}}}
	for i := range ts.Runs {
		t.rows[0] = append(t.rows[0], fmt.Sprintf("run %d", i+1))
	}
	t.rows[0] = append(t.rows[0], "mean", "± 95 %", "points", "weight")
	for _, k := range ts.Criteria {
		row := []string{"  " + k.Title(), k.Criterion.Measure}
		for i, p := range k.PerRun {
			if ts.Runs == nil {
				break
			}
			cell := "-"
			if p.Value.OK {
				cell = MeasureWords(k.Criterion.Measure, p.Value.V)
			}
			for _, o := range k.Repeats.Outliers {
				if o == i {
					cell += " (far off)"
				}
			}
			row = append(row, cell)
		}
		half := "-"
		if k.Repeats.Half.OK {
			half = strings.TrimPrefix(HalfWords(k.Criterion.Measure, k.Repeats.Half.V), "±")
		}
		row = append(row, MeanWords(k), half, points(k.Earned), fixed(100*k.Weight, 1)+" %")
		t.rows = append(t.rows, row)
	}
	t.print(b)
}

// runRemarks lists what has to be known of each run, the void ones with their values.
func runRemarks(b *bytes.Buffer, ts *score.TestScore) {
	for _, r := range ts.Runs {
		for _, m := range r.Remarks {
			fmt.Fprintf(b, "%s: %s\n", Clean(r.Name()), Clean(m))
		}
	}
	for _, r := range ts.Aside {
		why := string(r.Status)
		if r.Status == score.Void {
			why = fmt.Sprintf("void (%s): %s", r.Cause, r.Why)
		}
		fmt.Fprintf(b, "%s: %s; its values: ", Clean(r.Name()), Clean(why))
		var values []string
		for _, k := range ts.Criteria {
			if v := r.Measure(k.Criterion.Measure); v.OK {
				values = append(values, k.Criterion.Measure+" "+MeasureWords(k.Criterion.Measure, v.V))
			}
		}
		b.WriteString(strings.Join(values, ", ") + "\n")
	}
}

// Charts prints the control charts.
func Charts(w io.Writer, charts []score.Chart) error {
	var b bytes.Buffer
	if len(charts) == 0 {
		b.WriteString("no control run: [control] in bench.toml names the unit and the procedure of the bench's own runs\n")
	}
	for _, ch := range charts {
		fmt.Fprintf(&b, "%s", ch.Measure)
		if ch.Why != "" {
			fmt.Fprintf(&b, ": no limits yet (%s)\n", ch.Why)
		} else {
			low, high := ch.Chart.Limits(2)
			low3, high3 := ch.Chart.Limits(3)
			fmt.Fprintf(&b, ": centre %s, warned outside %s to %s, out outside %s to %s\n", MeasureWords(ch.Measure, ch.Chart.Centre),
				MeasureWords(ch.Measure, low), MeasureWords(ch.Measure, high), MeasureWords(ch.Measure, low3), MeasureWords(ch.Measure, high3))
		}
		t := grid{left: 2}
		for _, p := range ch.Points {
			value := "-"
			if p.Value.OK {
				value = MeasureWords(ch.Measure, p.Value.V)
			}
			state := string(p.State)
			if p.Verdict.Rule != "" {
				state += ": " + string(p.Verdict.Rule)
			}
			if p.State == "" {
				state = "baseline"
			}
			t.rows = append(t.rows, []string{"  " + p.Run.Day(), Clean(p.Run.Name()), value, state})
		}
		t.leftTail = true
		t.print(&b)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// TraceWords tells where a number came from.
func TraceWords(t score.Trace) string {
	text := t.What
	if t.Fact > 0 {
		text += fmt.Sprintf(" %d", t.Fact)
	}
	if t.AtS.OK {
		if at := AtWords(t.AtS.V); strings.HasSuffix(at, "later") {
			text += ", " + at
		} else {
			text += " at " + at
		}
	}
	return text + ": " + Clean(t.Text)
}
