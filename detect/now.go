package detect

import (
	"quern/detect/run"
	"quern/rig"
)

// Now is what a session in progress shows.
type Now struct {
	run.Now
	AtS      float64    // up to here everything is in
	LevelDB  rig.Figure // last LAF
	CurrentA rig.Figure // last half-cycle RMS, or reading
}

// Now returns what is known of a session in progress, without ending it: the same that Finish will
// tell, as far as it is known. load looks for load_start and load_end again, which costs more the
// longer the run.
func (a *Analysis) Now(load bool) Now {
	var n Now
	atS := a.settledS()
	switch {
	case a.machine != nil:
		n.Now = a.machine.Now(atS, load)
	case a.listener != nil:
		n.Now = a.listener.Now()
	default:
		n.State = rig.Unknown
	}
	n.AtS = atS
	n.LevelDB, n.CurrentA = a.lately.levelDB, rig.Fig(a.lately.currentA)
	if a.machine == nil || a.lately.gone {
		n.CurrentA = rig.Absent("clamp-gap")
	}
	if a.listener == nil {
		n.LevelDB = rig.Absent("no-microphone")
	}
	return n
}

// settledS is the instant up to which the channels that decide are in.
func (a *Analysis) settledS() float64 {
	at, first := 0.0, true
	for _, s := range a.order {
		if s.Channel != rig.Clamp && s.Channel != rig.Microphone || s.ended {
			continue
		}
		if end := max(s.endS, s.toldS); first || end < at {
			at, first = end, false
		}
	}
	return at
}
