package run_test

import (
	"strings"
	"testing"

	"quern/rig"
)

// TestDoubtIsTold: a current that another appliance may draw as well is not told as surely as one that is heard.
func TestDoubtIsTold(t *testing.T) {
	at := func(fromS, rmsA float64) moment { return moment{fromS, rmsA, 0.001, 0, 72, 72, 60, false} }
	off := moment{0, 0, 0, 0, 45, 45, 30, false}
	began := []moment{at(0, 8), {12, 0, 0, 0, 45, 45, 30, false}}
	atOnce := []moment{off, at(3, 14), at(3.3, 2), at(10, 8), at(15, 2), {20, 0, 0, 0, 45, 45, 30, false}}
	for _, c := range []struct {
		name   string
		course []moment
		deaf   bool
		kind   rig.Kind
		most   float64
	}{
		{"on when the recording began", began, true, rig.OverloadStart, 0.5},
		{"the stop", began, true, rig.Trip, 0.5},
		{"between two readings", atOnce, true, rig.OverloadStart, 0.6},
		{"the same, heard", atOnce, false, rig.OverloadStart, 0.95},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "universal", stepS: 0.05, seconds: 24, deaf: c.deaf, course: c.course}
			runs, w := b.runs()
			for _, r := range runs {
				for _, e := range r.Events {
					if e.Kind == c.kind {
						if doubted := c.most < 0.95; e.Sure.V != c.most || strings.Contains(e.Evidence, "another appliance's") != doubted {
							t.Errorf("%s: sure %g, %s", e.Kind, e.Sure.V, e.Evidence)
						}
						return
					}
				}
			}
			t.Errorf("no %s; %v", c.kind, w)
		})
	}
}
