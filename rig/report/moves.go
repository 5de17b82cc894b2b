package report

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"quern/rig/score"
	"quern/rig/score/rank"
)

// Moves prints who moved between two rankings, by how much and because of what; the causes add up.
func Moves(w io.Writer, moves []score.Move, shown func(unit string) string) error {
	var b bytes.Buffer
	t := grid{left: 1, rows: [][]string{{"unit", "place", "was", "points", "were", "move"}}}
	place := func(n int) string {
		if n == 0 {
			return "-"
		}
		return fmt.Sprint(n)
	}
	for _, m := range moves {
		move := "-"
		if m.Old.OK && m.New.OK {
			move = signed(m.New.V - m.Old.V)
		}
		t.rows = append(t.rows, []string{Clean(shown(m.Unit)), place(m.NewPlace), place(m.OldPlace), points(m.New), points(m.Old), move})
	}
	t.print(&b)
	for _, m := range moves {
		if len(m.Parts) == 0 {
			continue
		}
		fmt.Fprintf(&b, "\n%s: %s points, because of\n", Clean(shown(m.Unit)), signed(m.New.V-m.Old.V))
		rest := 0.0
		for _, p := range m.Parts {
			if math.Abs(p.Points) < shownPoints {
				rest += p.Points
				continue
			}
			fmt.Fprintf(&b, "  %s  %s: %s%s\n", signed(p.Points), p.ID, causeWords(p.Cause), measureMove(m, p))
		}
		if math.Abs(rest) >= shownPoints {
			fmt.Fprintf(&b, "  %s  the rest, each less than 0.001\n", signed(rest))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// shownPoints is the least part of a move that has a line of its own, points.
const shownPoints = 0.0005

func signed(v float64) string {
	// Differences end in the last bits of a float64: a move and the one part that it has read alike.
	s := fixed(math.Round(v*1e9)/1e9, 3)
	if !strings.HasPrefix(s, "-") {
		s = "+" + s
	}
	return s
}

func causeWords(c rank.Cause) string {
	switch c {
	case rank.CauseWeight:
		return "another weight"
	case rank.CauseCurve:
		return "another curve"
	case rank.CauseMeasure:
		return "another measure"
	case rank.CauseGate:
		return "a gate is decided otherwise"
	case rank.CauseAdded:
		return "it counts now"
	case rank.CauseRemoved:
		return "it counts no longer"
	}
	return "other points"
}

func measureMove(m score.Move, p rank.Part) string {
	if p.Cause != rank.CauseMeasure {
		return ""
	}
	for _, k := range m.Criteria {
		if k.ID == p.ID && k.Old.OK && k.New.OK {
			return fmt.Sprintf(", %s instead of %s", MeasureWords(k.Measure, k.New.V), MeasureWords(k.Measure, k.Old.V))
		}
	}
	return ""
}
