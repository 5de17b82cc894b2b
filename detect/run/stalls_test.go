package run

import (
	"testing"

	"quern/rig"
)

// A stall that has ended by the instant at which it began was none.
func TestNoStallOfNoLength(t *testing.T) {
	for _, c := range []struct {
		endS float64
		want int
	}{{5, 0}, {4.99, 0}, {5.3, 2}} {
		g := &grip{events: []rig.Event{event(rig.MotorStart, 3, 0.01, 1, ""), event(rig.StallStart, 5, 0.02, 1, "")}}
		g.leaveStall(c.endS, 1, "")
		if n := len(g.events) - 1; n != c.want {
			t.Errorf("a stall from 5 to %g s leaves %d events, want %d", c.endS, n, c.want)
		}
	}
}
