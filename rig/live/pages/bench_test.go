package pages

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/live/guide"
)

// A check is done whoever put it on record: at this page, at a keyboard, or before the daemon was started again.
func TestChecksOnRecord(t *testing.T) {
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	b := newBench(func() time.Time { return at }, "")
	p := config.DefaultProcedure("mixed")
	now := live.Snapshot{Checks: []live.CheckNow{{Session: "s", Fact: 1, Kind: rig.CheckScale, Day: "2026-03-01"}, {Session: "r", Fact: 1, Kind: rig.CheckSound, Day: "2026-02-28"}}}
	if got := b.observe(now, &p).Checks; !slices.Equal(got, []rig.CheckKind{rig.CheckScale}) {
		t.Errorf("got %v, want that of this day", got)
	}
	now.Checks = slices.Clone(now.Checks)
	now.Checks[0].Withdrawn = true
	if got := b.observe(now, &p).Checks; len(got) > 0 {
		t.Errorf("taken back: got %v, want none", got)
	}
}

// A second tap does not end the session that the first began; what was refused may be tried again at once.
func TestTurnsOnceAPress(t *testing.T) {
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	b := newBench(func() time.Time { return at }, "")
	for i, c := range []struct {
		afterS float64
		fails  bool
		said   string
	}{{0, true, ""}, {0.1, false, "1"}, {0.3, false, "1"}, {0.3, false, "1"}, {0.3, false, "4"}, {0, true, "4"}} {
		at = at.Add(time.Duration(c.afterS * float64(time.Second)))
		said, err := b.turn(func() (string, error) {
			if c.fails {
				return "", errors.New("the motor runs")
			}
			return strconv.Itoa(i), nil
		})
		if said != c.said || err != nil && !c.fails {
			t.Errorf("press %d: said %q, %v, expected %q", i, said, err, c.said)
		}
	}
}

// What is refused is meant when it is pressed again: not by a bounce of the same press, and not much later.
func TestInsists(t *testing.T) {
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	b := newBench(func() time.Time { return at }, "")
	for i, c := range []struct {
		who    string
		afterS float64
		want   bool
	}{
		{"a", 0, false}, {"a", 0.2, false}, {"a", 2, true}, {"a", 1, false}, {"a", 20, false}, {"a", 3, true}, {"a", 0.1, false},
		{"a", 20, false}, {"b", 2, false}, {"b", 2, true}, {"a", 2, false}, // of two people each insists for themselves
	} {
		at = at.Add(time.Duration(c.afterS * float64(time.Second)))
		if got := b.insists(c.who); got != c.want {
			t.Errorf("press %d, %g s later: got %v, want %v", i+1, c.afterS, got, c.want)
		}
	}
}

// A button waits by the time that passes: after a step of the wall clock back it would not answer until that came again.
func TestPressesOutlastAStep(t *testing.T) {
	b := newBench(time.Now, "Europe/Berlin")
	if _, err := b.turn(func() (string, error) { return "", nil }); err != nil {
		t.Fatal(err)
	}
	b.insists("a")
	for what, at := range map[string]time.Time{"begin or end": b.turned, "insisting": b.refused, "what goes on": b.stirred} {
		if at == at.Round(0) { // that is without the time that passes
			t.Errorf("%s waits by the wall clock alone", what)
		}
	}
}

// What was cut off is a note, not a fault of the bench.
func TestCutOffIsNoted(t *testing.T) {
	p := config.DefaultProcedure("mixed")
	in := facts(live.Snapshot{Ready: true, Say: "ready", CutOff: []string{"the-one-before"}}, &p)
	if g := guide.Steps(p, in); !strings.HasPrefix(g.Note, "the-one-before: cut off") || g.Problem != "" {
		t.Errorf("noted %q, problem %q", g.Note, g.Problem)
	}
}
