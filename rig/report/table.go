package report

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"quern/rig"
)

// nameRunes is the widest a name may be in a table before it is cut.
const nameRunes = 40

// Table prints the runs of sessions for reading: one line a run, times from the session's start.
//
// Levels are to 0.1 dB; currents are RMS, to 0.01 A below 10 A and 0.1 A above. What could not be
// measured is "-" with a letter; below the table each letter's reason stands, and below that every
// warning on a line of its own. A count of stalls, overloads or trips is absent, not 0, where no
// current was seen.
func Table(w io.Writer, results []rig.Result) error {
	if len(results) == 0 {
		_, err := io.WriteString(w, "no sessions\n")
		return err
	}
	t := grid{left: 2, rows: [][]string{
		{"session", "unit", "run", "start", "run time", "LAeq", "LAFmax", "LCpeak", "idle", "mean", "max", "inrush", "mains", "stalls", "over-", "trips", "clear at"},
		{"", "", "", "m:ss.s", "m:ss.s", "dB", "dB", "dB", "A", "A", "A", "A", "Hz", "", "loads", "", "m:ss.s"},
	}}
	var notes footnotes
	for _, res := range results {
		session, unit := cut(Clean(res.Session), nameRunes), cut(Clean(res.Unit), nameRunes)
		for i, run := range res.Runs {
			row := []string{session, unit, fmt.Sprint(i + 1)}
			t.rows = append(t.rows, append(row, cells(res, run, &notes)...))
		}
		if len(res.Runs) == 0 {
			t.rows = append(t.rows, []string{session, unit, "no run"})
		}
	}
	var b bytes.Buffer
	t.print(&b)
	notes.print(&b)
	printWarnings(&b, results)
	_, err := w.Write(b.Bytes())
	return err
}

// cells returns the cells of a run from its start on.
func cells(res rig.Result, run rig.Run, notes *footnotes) []string {
	cell := func(f rig.Figure, print func(float64) string) string {
		if v, ok := f.Value(); ok {
			return print(v)
		}
		return notes.dash(f)
	}
	hertz := func(v float64) string { return fixed(v, 2) }
	count := func(k rig.Kind) string {
		n := 0
		for _, e := range run.Events {
			if e.Kind == k {
				n++
			}
		}
		// Nobody looked for stalls where there was no current: that is not none.
		if _, ok := run.Motor.MaxA.Value(); n == 0 && !ok {
			return notes.dash(run.Motor.MaxA)
		}
		return fmt.Sprint(n)
	}
	s, m := run.Sound, run.Motor
	return []string{
		cell(run.StartS, minutes), cell(run.RunTimeS, minutes),
		cell(s.LAeqDB, decibels), cell(s.LAFmaxDB, decibels), cell(s.LCpeakDB, decibels),
		cell(m.IdleA, amperes), cell(m.MeanA, amperes), cell(m.MaxA, amperes), cell(m.InrushA, amperes),
		cell(m.FrequencyHz, hertz),
		count(rig.StallStart), count(rig.OverloadStart), count(rig.Trip),
		cell(clearAt(res, run), minutes),
	}
}

// clearAt returns the instant from which the chamber was clear, from the session's start.
func clearAt(res rig.Result, run rig.Run) rig.Figure {
	at := rig.Absent("")
	for _, e := range run.Events {
		if e.Kind == rig.LoadEnd {
			at = e.AtS
		}
	}
	if at.OK || at.Why != "" {
		return at
	}
	for _, code := range []string{"clamp-saw-nothing", "clamp-saw-little", "no-current", "scale-only", "no-clamp", "no-load-not-seen", "not-clear"} {
		if reason(res.Warnings, code) != "" {
			return rig.Absent(code)
		}
	}
	return rig.Absent("load-end-not-told")
}

// Events prints the events of a run, one a line: the time from the session's start, the kind in
// words, how sure it is, and on what evidence.
func Events(w io.Writer, run rig.Run) error {
	if len(run.Events) == 0 {
		_, err := io.WriteString(w, "no events\n")
		return err
	}
	t := grid{left: 1, rows: [][]string{{"event", "at m:ss.s", "within s", "sure", "evidence"}}}
	t.leftTail = true
	for _, e := range run.Events {
		row := []string{KindWords(e.Kind), "-", "-", "-", Clean(e.Evidence)}
		if v, ok := e.AtS.Value(); ok {
			row[1] = minutes(v)
		}
		if v, ok := e.WithinS.Value(); ok {
			row[2] = "± " + fixed(math.Ceil(100*v-1e-9)/100, 2) // rounded up: not surer than it is
		}
		if v, ok := e.Sure.Value(); ok {
			row[3] = fixed(100*v, 0) + " %"
		}
		t.rows = append(t.rows, row)
	}
	var b bytes.Buffer
	t.print(&b)
	for _, x := range run.Extra {
		fmt.Fprintf(&b, "%s: mean %s %s, from %s to %s\n", Clean(string(x.Channel)), shown(x.Mean), Clean(string(x.Unit)), shown(x.Least), shown(x.Most))
	}
	_, err := w.Write(b.Bytes())
	return err
}

func shown(f rig.Figure) string {
	if v, ok := f.Value(); ok {
		return fixed(v, 1)
	}
	return "-"
}

// grid is rows of cells; the first columns are set to the left, the others to the right.
type grid struct {
	rows     [][]string
	left     int  // columns set left, counted from the first
	leftTail bool // the last column is set left too
}

func (g *grid) print(b *bytes.Buffer) {
	var wide []int
	for _, row := range g.rows {
		for i, c := range row {
			if i == len(wide) {
				wide = append(wide, 0)
			}
			wide[i] = max(wide[i], utf8.RuneCountInString(c))
		}
	}
	for _, row := range g.rows {
		var line strings.Builder
		for i, c := range row {
			pad := strings.Repeat(" ", wide[i]-utf8.RuneCountInString(c))
			if i > 0 {
				line.WriteString("  ")
			}
			if i < g.left || g.leftTail && i == len(wide)-1 {
				line.WriteString(c + pad)
			} else {
				line.WriteString(pad + c)
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}

// footnotes are the codes of the reasons for absent figures, in the order in which they came.
type footnotes struct{ codes []string }

// dash returns "-" with the letter of the figure's reason.
func (n *footnotes) dash(f rig.Figure) string {
	why := f.Why
	switch {
	case f.OK: // a number that is not one
		why = "not-finite"
	case why == "":
		why = "no reason given"
	}
	for i, c := range n.codes {
		if c == why {
			return "-" + letter(i)
		}
	}
	n.codes = append(n.codes, why)
	return "-" + letter(len(n.codes)-1)
}

// letter counts a to z, aa, ab and on.
func letter(i int) string {
	s := string(rune('a' + i%26))
	if i >= 26 {
		s = letter(i/26-1) + s
	}
	return s
}

func (n *footnotes) print(b *bytes.Buffer) {
	if len(n.codes) == 0 {
		return
	}
	b.WriteString("\nnot measured, because:\n")
	for i, c := range n.codes {
		fmt.Fprintf(b, "  -%s  %s\n", letter(i), Clean(c))
	}
}

func printWarnings(b *bytes.Buffer, results []rig.Result) {
	head := "\nwarnings:\n"
	for _, res := range results {
		for _, w := range res.Warnings {
			b.WriteString(head)
			head = ""
			fmt.Fprintf(b, "  %s: %s: %s\n", cut(Clean(res.Session), nameRunes), Clean(w.Code), Clean(w.Text))
		}
	}
}
