package plan

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"quern/rig"
)

// Bounds that keep any input finite; far beyond a campaign.
const (
	maxSlots  = 20000
	maxDays   = 1000
	maxRestS  = 7 * 86400 // s
	maxReason = 300       // bytes
)

// check says everything that is wrong with a sorted campaign.
func (c Campaign) check() error {
	var wrong []error
	add := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	if len(c.Units) == 0 {
		add("found no units, expected at least 1")
	}
	for i, u := range c.Units {
		if !rig.IsID(u) {
			add("found unit %q, expected %s", u, rig.IDWords)
		}
		if i > 0 && u == c.Units[i-1] {
			add("found unit %s twice: name each unit once; samples of one model are units of their own", u)
		}
	}
	if len(c.Procedures) == 0 {
		add("found no procedures, expected at least 1")
	}
	runs := 0
	for i, q := range c.Procedures {
		wrong = append(wrong, q.check()...)
		if i > 0 && q.ID == c.Procedures[i-1].ID {
			add("found procedure %s twice: name each once", q.ID)
		}
		if q.Minutes > 0 && q.Minutes <= dayMin && !c.fits(q) {
			add("procedure %s takes %d min, and no day is that long: lengthen a day", q.ID, q.Minutes)
		}
		runs += len(c.Units) * max(0, min(q.Repeats, maxSlots))
		if runs > maxSlots {
			add("found more than %d runs: split the campaign", maxSlots)
			break
		}
	}
	wrong = append(wrong, checkDays(c.Days)...)
	wrong = append(wrong, c.Control.check()...)
	return errors.Join(wrong...)
}

func (c Campaign) fits(q Procedure) bool {
	for _, d := range c.Days {
		if d.Minutes-c.Control.Minutes >= q.Minutes {
			return true
		}
	}
	return len(c.Days) == 0 // said elsewhere
}

func (q Procedure) check() (wrong []error) {
	if !rig.IsID(q.ID) {
		wrong = append(wrong, fmt.Errorf("found procedure %q, expected %s", q.ID, rig.IDWords))
	}
	for _, n := range []struct {
		what              string
		found, least, top int
	}{
		{"repeats", q.Repeats, 1, 1000},
		{"minutes a run", q.Minutes, 1, dayMin},
		{"s of rest", q.RestS, 0, maxRestS},
		{"runs a batch", q.Batch, 0, maxSlots},
	} {
		if n.found < n.least || n.found > n.top {
			wrong = append(wrong, fmt.Errorf("procedure %s: found %d %s, expected %d to %d", q.ID, n.found, n.what, n.least, n.top))
		}
	}
	return wrong
}

func (c Control) check() (wrong []error) {
	if c == (Control{}) {
		return nil
	}
	if !rig.IsID(c.Unit) || !rig.IsID(c.Procedure) {
		wrong = append(wrong, fmt.Errorf("found control unit %q, procedure %q, expected %s", c.Unit, c.Procedure, rig.IDWords))
	}
	if c.Minutes < 1 || c.Minutes > dayMin || c.RestS < 0 || c.RestS > maxRestS {
		wrong = append(wrong, fmt.Errorf("control: found %d min and %d s of rest, expected 1 to %d min and 0 to %d s", c.Minutes, c.RestS, dayMin, maxRestS))
	}
	return wrong
}

func checkDays(days []Day) (wrong []error) {
	add := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	if len(days) == 0 || len(days) > maxDays {
		add("found %d days, expected 1 to %d", len(days), maxDays)
	}
	seen := map[string]bool{}
	for _, d := range days {
		if !rig.IsID(d.Label) {
			add("found day %q, expected a date such as 2026-11-03, or a name of %s", d.Label, rig.IDWords)
		}
		if seen[d.Label] {
			add("found day %s twice: name each once, with all its benches", d.Label)
		}
		seen[d.Label] = true
		if d.OpenMin < 0 || d.Minutes < 1 || d.OpenMin > dayMin || d.Minutes > dayMin-d.OpenMin {
			add("day %s: found %d min from minute %d, expected at least 1 and an end by midnight", d.Label, d.Minutes, d.OpenMin)
		}
		if len(d.Benches) == 0 {
			add("day %s: found no bench, expected at least 1", d.Label)
		}
		benches := map[string]bool{}
		for _, b := range d.Benches {
			if !rig.IsID(b) || benches[b] {
				add("day %s: found bench %q, expected %s, each bench once", d.Label, b, rig.IDWords)
			}
			benches[b] = true
		}
	}
	at := starts(days)
	for i := 1; i < len(at); i++ {
		if at[i] <= at[i-1] {
			add("found day %s after %s, expected days in order of time", days[i].Label, days[i-1].Label)
		}
	}
	return wrong
}

// line tells whether s can stand as a reason or a note: one line of readable text.
func line(s string) bool {
	return len(s) <= maxReason && s == strings.TrimSpace(s) && strings.ToValidUTF8(s, "") == s && strings.IndexFunc(s, unreadable) < 0
}

// Line makes of what somebody wrote a line that can stand as a reason: sessions take longer ones. "": nothing is left.
func Line(s string) string {
	s = strings.Map(func(r rune) rune {
		if unreadable(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if s = strings.TrimSpace(s); len(s) <= maxReason {
		return s
	}
	const cut = "..."
	end := maxReason - len(cut)
	for !utf8.RuneStart(s[end]) {
		end--
	}
	return strings.TrimSpace(s[:end]) + cut
}

func unreadable(r rune) bool {
	return r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff
}
