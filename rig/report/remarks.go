package report

import (
	"bytes"
	"fmt"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
)

// remarks lists what failed, what is missing and what was set aside.
func remarks(b *bytes.Buffer, s *score.Standings, day string) {
	said := false
	say := func(unit *config.Unit, text string) {
		if !said {
			b.WriteString("To be read with it\n")
			said = true
		}
		fmt.Fprintf(b, "  %s: %s\n", Clean(unit.Shown(day)), Clean(text))
	}
	for _, l := range s.Lines {
		if l.Unit.Unit.MakerSupplied {
			say(l.Unit.Unit, "the sample came from its maker")
		}
		for i, ts := range l.Tests {
			if ts.Outcome == score.Failed {
				say(l.Unit.Unit, FailedWords(ts, ts.Why))
			}
			if first(l.Tests, i) {
				if n := aside(ts, score.Void); n > 0 {
					say(l.Unit.Unit, fmt.Sprintf("%s: %s, listed with reasons by quern score", ts.Title(), rig.Count(n, "void run")))
				}
			}
		}
		for _, m := range l.Missing {
			say(l.Unit.Unit, m)
		}
	}
	for _, l := range s.Campaign.Loose {
		if !said {
			b.WriteString("To be read with it\n")
			said = true
		}
		fmt.Fprintf(b, "  session %s is left out: %s\n", Clean(l.Session), Clean(l.Why))
	}
}

// FailedWords says that a test was failed, why, and what that cost.
func FailedWords(ts *score.TestScore, why string) string {
	text := fmt.Sprintf("%s failed (%s)", ts.Title(), why)
	if ts.Points.OK {
		text += fmt.Sprintf(": %s points instead of %s", points(ts.Points), points(ts.Earned))
	}
	return text
}

// first tells whether no test before this one has the same procedure.
func first(tests []*score.TestScore, i int) bool {
	for _, t := range tests[:i] {
		if t.Test.Procedure == tests[i].Test.Procedure {
			return false
		}
	}
	return true
}

func aside(ts *score.TestScore, status score.Status) int {
	n := 0
	for _, r := range ts.Aside {
		if r.Status == status {
			n++
		}
	}
	return n
}

// robust says what changes with each test left out.
func robust(b *bytes.Buffer, s *score.Standings, day string) {
	var moved []string
	for _, o := range s.Without {
		var of []string
		for i, l := range s.Lines {
			if p := o.Places[i]; p > 0 && p != l.Place {
				of = append(of, fmt.Sprintf("%s %d to %d", Clean(l.Unit.Unit.Shown(day)), l.Place, p))
			}
		}
		if len(of) > 0 {
			moved = append(moved, fmt.Sprintf("  without %s: %s", o.Test, strings.Join(of, ", ")))
		}
	}
	if len(s.Without) == 0 {
		return
	}
	b.WriteString("\nOne test left out\n")
	if len(moved) == 0 {
		b.WriteString("  no place changes\n")
	}
	for _, m := range moved {
		b.WriteString(m + "\n")
	}
}
