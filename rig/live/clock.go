package live

import (
	"fmt"
	"math"
	"time"

	"golang.org/x/sys/unix"

	"quern/rig"
	"quern/rig/session"
)

// wallClock watches the wall clock against the sources' time. A board without a clock battery starts in
// the wrong year and steps when the network tells it the time; what is recorded never moves.
type wallClock struct {
	seen  bool
	lessS float64 // wall time less the sources' time
}

// stepLeastS is the least difference that is a step, s; less is the slewing of a time service.
const stepLeastS = 0.5

// look returns by how much the wall clock has stepped since the last look.
func (w *wallClock) look(wall time.Time, nowS float64) (stepS float64, stepped bool) {
	less := float64(wall.UnixNano())/1e9 - nowS
	step := less - w.lessS
	seen := w.seen
	w.seen, w.lessS = true, less
	return step, seen && math.Abs(step) > stepLeastS
}

// synchronised says whether the kernel holds the wall clock to be set by a time service.
func synchronised() bool {
	state, err := unix.Adjtimex(&unix.Timex{})
	return err == nil && state != unix.TIME_ERROR
}

// noteClock writes into a session how far its wall time can be trusted.
func (e *Engine) noteClock(r *recorder) error {
	if synchronised() {
		return nil
	}
	return r.warn("clock-not-set", "the wall clock was not set by a time service when this session began: dates and times of day may be wrong, instants in seconds are not")
}

// stepped notes a step of the wall clock.
func (e *Engine) stepped(stepS float64) {
	e.opts.Log.Warn("the wall clock stepped; recorded time goes on evenly", "step_s", round3(stepS))
	if e.rec == nil {
		return
	}
	at := max(0, e.sup.NowS()-e.rec.fold.baseS)
	err := e.rec.w.AppendFigures("clock", at, 0, session.Named{Name: "step_s", Figure: rig.Fig(stepS)})
	if err == nil {
		err = e.rec.warn("clock-stepped", fmt.Sprintf("the wall clock stepped by %.3f s at %.1f s: the date this session states was taken before; it began at %s by the clock as it is now",
			stepS, at, e.opts.Wall().Add(-time.Duration(at*float64(time.Second))).UTC().Format(time.RFC3339)))
	}
	if err != nil {
		e.broken(err)
	}
}
