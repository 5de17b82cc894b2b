package detect

import (
	"quern/detect/motor"
	"quern/detect/run"
	"quern/rig"
)

const (
	// settleS is left out of the frequency after a start: the phase of the current swings in the run-up, and the
	// tracker goes from what hum it may have followed onto the motor's current.
	settleS = 0.7
	// stopS is left out before a stop: the last windows may already hold it.
	stopS = 0.07
	// noteS is the least time between two phases that are kept, s: half a kilobyte a second.
	noteS = 0.05
	// leastTurnsS is the least time over which a frequency is told, s.
	leastTurnsS = 0.3
)

// turnBook keeps the phase of the fundamental every now and then while it can be followed. From how far it went over
// the time that the motor was on, the mean frequency follows far more closely than from any one cycle. When the motor
// was on is not known yet when the phases come: hum may be followed all the time before a start and after a stop.
type turnBook struct {
	stretches [][]phase // each without a break
	locked    bool
}

type phase struct{ atS, turns float64 }

func (t *turnBook) add(c motor.Cycle) {
	was := t.locked
	if t.locked = c.Locked; !c.Locked {
		return
	}
	if !was {
		t.stretches = append(t.stretches, nil)
	}
	s := &t.stretches[len(t.stretches)-1]
	if n := len(*s); n == 0 || c.EndS >= (*s)[n-1].atS+noteS {
		*s = append(*s, phase{c.EndS, c.Turns})
	}
}

// frequencyHz is the mean over the steady parts of the stretches in which the motor was on.
func (t *turnBook) frequencyHz(on []run.Interval) rig.Figure {
	turns, s := 0.0, 0.0
	for _, o := range on {
		for _, x := range t.stretches {
			fromS, toS := max(o.FromS, x[0].atS)+settleS, min(o.ToS, x[len(x)-1].atS)-stopS
			var first, last *phase
			for i := range x {
				if p := &x[i]; p.atS >= fromS && p.atS <= toS {
					if first == nil {
						first = p
					}
					last = p
				}
			}
			if first != nil {
				turns += last.turns - first.turns
				s += last.atS - first.atS
			}
		}
	}
	if s < leastTurnsS {
		return rig.Absent("too-short-for-frequency")
	}
	return rig.Fig(turns / s)
}
