package run_test

import (
	"strings"
	"testing"

	"quern/rig"
)

// A recording that ends in a stall or an overload does not show how that ended: neither a trip nor a short stall.
func TestRecordingEndsInAStall(t *testing.T) {
	for _, c := range []struct {
		name   string
		course course
		code   string
	}{
		{"short stall", course{{3, 30, 0}, {3.3, 3.9, 0}, {10, 31, 0}}, "ended-in-stall"},
		{"long stall", course{{3, 30, 0}, {3.3, 3.9, 0}, {7, 31, 0}}, "ended-in-stall"},
		{"overload", course{{3, 30, 0}, {3.3, 3.9, 0}, {7, 9, 0.01}}, "ended-in-overload"},
	} {
		runs, warnings := c.course.play(11.5, setup())
		if len(runs) != 1 {
			t.Fatalf("%s: %d runs, want 1", c.name, len(runs))
		}
		text := ""
		for _, w := range warnings {
			if w.Code == c.code {
				text = w.Text
			}
			if strings.HasPrefix(w.Code, "short-") {
				t.Errorf("%s: %s", c.name, w.Text)
			}
		}
		if !strings.Contains(text, "ended at 11.") {
			t.Errorf("%s: no warning says that the recording ended in it: %v", c.name, warnings)
		}
		last := runs[0].Events[len(runs[0].Events)-1]
		if last.Kind != rig.MotorStop {
			t.Errorf("%s: told as %s", c.name, last.Kind)
		}
		for _, e := range runs[0].Events {
			if strings.Contains(e.Evidence, "the current stopped") {
				t.Errorf("%s: %s: %s", c.name, e.Kind, e.Evidence)
			}
			if (e.Kind == rig.StallEnd || e.Kind == rig.OverloadEnd) && e.Sure.V > 0.3 {
				t.Errorf("%s: %s is %g sure, and was not seen", c.name, e.Kind, e.Sure.V)
			}
		}
	}
}
