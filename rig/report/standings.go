package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"quern/rig/score"
)

// Standings prints a ranking for reading: places with the range that each unit may have, points by
// category, how stable that is, then every criterion with its best and worst. Names obey the release
// dates on the given day, such as 2026-12-01.
func Standings(w io.Writer, s *score.Standings, day string) error {
	var b bytes.Buffer
	card := &s.Campaign.Lab.Scorecard
	heading := card.Title
	if heading == "" {
		heading = "Standings"
	}
	fmt.Fprintf(&b, "%s\n\n", Clean(heading))
	placesTable(&b, s, day)
	b.WriteString("\n")
	explainPlaces(&b, s)
	b.WriteString("\n")
	criteriaTable(&b, s, day)
	remarks(&b, s, day)
	robust(&b, s, day)
	_, err := w.Write(b.Bytes())
	return err
}

func placesTable(b *bytes.Buffer, s *score.Standings, day string) {
	card := &s.Campaign.Lab.Scorecard
	head := []string{"place", "unit", "points", "±", "range", "alike"}
	for i := range card.Categories {
		head = append(head, titled(card.Categories[i].ID, card.Categories[i].Title))
	}
	head = append(head, "first in", "simulated", "weights varied", "failed", "missing")
	t := grid{rows: [][]string{head}}
	for _, l := range s.Lines {
		row := []string{"-", Clean(l.Unit.Unit.Shown(day)), points(l.Overall), points(l.Half), "-", l.Groups}
		if l.Place > 0 {
			row[0] = fmt.Sprint(l.Place)
			if len(l.Missing) > 0 {
				row[0] += "*"
			}
		}
		if l.Range.Best > 0 && l.Half.OK {
			row[4] = placesText(l.Range.Best, l.Range.Worst)
		}
		for _, c := range l.Categories {
			row = append(row, points(c.Points))
		}
		first, simulated, varied := "-", "-", "-"
		if l.Ranked {
			first = fixed(100*l.Stability.Top1, 0) + " %"
			simulated = placesText(l.Stability.Low, l.Stability.High)
			varied = placesText(l.Weights.Low, l.Weights.High)
		}
		row = append(row, first, simulated, varied, count(len(l.Failed)), count(len(l.Missing)))
		t.rows = append(t.rows, row)
	}
	t.left = 2
	t.print(b)
}

func titled(id, title string) string {
	if title != "" {
		return Clean(title)
	}
	return id
}

func placesText(a, b int) string {
	if a == b {
		return fmt.Sprint(a)
	}
	return fmt.Sprintf("%d-%d", a, b)
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

// explainPlaces says what the columns mean, and what may be said of the first place.
func explainPlaces(b *bytes.Buffer, s *score.Standings) {
	card := &s.Campaign.Lab.Scorecard
	line := func(format string, args ...any) { fmt.Fprintf(b, format+"\n", args...) }
	for _, l := range s.Lines {
		if l.Place > 0 && len(l.Missing) > 0 {
			line("*: something is missing; see below what, and what was done about it.")
			break
		}
	}
	line("±: half-width of a %.0f %% interval from the scatter of repeated runs, pooled over units.", 100*card.Level)
	line("range: places that hold for all units together at %.0f %% (Tukey). Units that share a letter cannot be told apart.", 100*card.Level)
	line("first in, simulated: share of %d simulated rankings in which it is first, and its places in 95 %% of them.", card.Draws)
	line("weights varied: its places in 95 %% of rankings with every weight changed by up to %.0f %%.", 100*card.Vary)
	if once := OnceWords(s); once != "" {
		line("%s", once)
	}
	if alone := AloneWords(s); alone != "" {
		line("%s", alone)
	}
	for _, l := range s.Lines {
		if l.Unit.Unit.Samples == 1 {
			line("One sample of a unit says nothing about the spread from sample to sample.")
			break
		}
	}
}

// OnceWords says why ranges are not told, and what would tell them; "": they are.
func OnceWords(s *score.Standings) string {
	if len(s.Campaign.Lab.Scorecard.Criteria) == 0 {
		return "The scorecard has no criterion: runs are judged by their gates, and no unit has points or a place."
	}
	if s.Sure {
		return ""
	}
	var titles []string
	for _, id := range s.Once {
		title := id
		for _, p := range s.Campaign.Lab.Procedures {
			if p.ID == id && p.Title != "" {
				title = p.Title
			}
		}
		titles = append(titles, title)
	}
	text := "Ranges are not told: nothing shows how runs scatter"
	if len(titles) > 0 {
		text += " under " + strings.Join(titles, ", ") + ", for no unit has two that count there"
	}
	return text + ". Repeats of one unit would tell it for all."
}

// surely is the share of simulated rankings from which a first place may be called sure.
const surely = 0.95

// alone says what may be said of a first place that its runs tell from all others.
func alone(l score.Standing) string {
	if l.Stability.Top1 >= surely {
		return "The first is told from all others."
	}
	return fmt.Sprintf("The first is told from all others by the scatter of its runs, but is first in only %.0f %% of the simulated rankings: what was measured, or a gate, is too close.", 100*l.Stability.Top1)
}

// criteriaTable prints what every unit was measured to and earned by every criterion.
func criteriaTable(b *bytes.Buffer, s *score.Standings, day string) {
	card := &s.Campaign.Lab.Scorecard
	for i := range card.Tests {
		test := &card.Tests[i]
		fmt.Fprintf(b, "%s (best: +, worst: -)\n", titled(test.ID, test.Title))
		head := []string{"  unit", "outcome", "points"}
		for _, k := range card.Criteria {
			if k.Test == test.ID {
				head = append(head, titled(k.ID, k.Title), "points", "")
			}
		}
		t := grid{left: 2, rows: [][]string{head}}
		means := Style{}.MeansOf(i, s.Lines)
		for n, l := range s.Lines {
			ts := l.Tests[i]
			row := []string{"  " + Clean(l.Unit.Unit.Shown(day)), OutcomeWords(ts), points(ts.Points)}
			for j, k := range ts.Criteria {
				row = append(row, means[n][j], points(k.Earned), bestWorst(k))
			}
			t.rows = append(t.rows, row)
		}
		t.print(b)
		b.WriteString("\n")
	}
}

// OutcomeWords tells what came of a test: "passed (3 of 3)". Where nothing could have failed it says so.
func OutcomeWords(ts *score.TestScore) string {
	switch {
	case ts.NoGate() && len(ts.Runs) == 0:
		return "entered by hand"
	case ts.NoGate():
		return noGate
	}
	if n := len(ts.Runs); n > 0 && len(ts.Gates) > 0 && ts.Outcome != score.NotMeasurable {
		passed := 0
		for _, r := range ts.Runs {
			if r.Outcome == score.Passed {
				passed++
			}
		}
		return fmt.Sprintf("%s (%d of %d)", ts.Outcome, passed, n)
	}
	return string(ts.Outcome)
}

// noGate stands instead of "passed" where nothing could have failed.
const noGate = "no gate to check"

// RunOutcomeWords tells what came of a run.
func RunOutcomeWords(r *score.Run) string {
	if r.NoGate() {
		return noGate
	}
	return string(r.Outcome)
}

// OutcomeKey is what style sheets call an outcome; noGate is that of one without gates.
func OutcomeKey(o score.Outcome, noGate bool) string {
	if noGate {
		return "none"
	}
	return strings.ReplaceAll(string(o), " ", "-")
}

// MeanWords prints the mean of a criterion's measure, "-" if there is none.
func MeanWords(k *score.CriterionScore) string { return Style{}.Mean(k) }

func bestWorst(k *score.CriterionScore) string {
	switch {
	case k.Best:
		return "+"
	case k.Worst:
		return "-"
	}
	return ""
}
