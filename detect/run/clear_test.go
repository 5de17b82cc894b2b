package run_test

import (
	"fmt"
	"strings"
	"testing"

	"quern/rig"
)

// TestClearWhileOn: a pause says nothing about the chamber, so the end of the load does not rest on it.
func TestClearWhileOn(t *testing.T) {
	quiet := func(fromS float64) moment { return moment{fromS, 0, 0.0005, 0, 40, 39, 25, false} }
	empty := func(fromS float64) moment { return moment{fromS, 2, 0.002, 0.05, 60, 61, 48, false} }
	loaded := func(fromS float64) moment { return moment{fromS, 4, 0.08, 0.05, 72, 72, 62, false} }
	for _, c := range []struct {
		course []moment
		onS    float64
	}{
		{[]moment{quiet(0), empty(3), loaded(8), empty(14), quiet(20)}, 6},
		{[]moment{quiet(0), empty(3), loaded(8), empty(14), quiet(17), empty(27), quiet(32)}, 8},
	} {
		b := bench{motor: "universal", lockedA: 25, seconds: 40, course: c.course}
		runs, _ := b.runs()
		said := ""
		for _, e := range runs[0].Events {
			if e.Kind == rig.LoadEnd {
				said = e.Evidence
			}
		}
		if want := fmt.Sprintf("for the last %.0f", c.onS); !strings.Contains(said, want) {
			t.Errorf("%q does not say %q", said, want)
		}
	}
}
