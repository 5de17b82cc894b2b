package detect

import (
	"errors"
	"io"

	"quern/config"
	"quern/rig"
)

// aheadS is how far another stream must have run ahead before a sampled one counts as ended: a Source
// keeps its streams within about a second of each other.
const aheadS = 5.0

// Analyse reads a source to its end and returns the result of the session.
func Analyse(src rig.Source, set config.Setup, session string, trace Trace) (rig.Result, error) {
	a, err := New(set, src.Streams(), trace)
	if err != nil {
		return rig.Result{}, err
	}
	for {
		b, err := src.Next()
		if errors.Is(err, io.EOF) {
			return a.Finish(session), nil
		}
		if err != nil {
			return rig.Result{}, err
		}
		if err := a.Push(b); err != nil {
			return rig.Result{}, err
		}
		a.endLaggards(b.StartS)
	}
}

// endLaggards ends sampled streams that a block of another begins far behind the end of, so that a short recording
// beside a long one does not make the analysis wait, and grow, to the end.
func (a *Analysis) endLaggards(beginsS float64) {
	for _, s := range a.order {
		if s.Form == rig.Waveform && !s.ended && s.endS < beginsS-aheadS {
			a.End(s.Channel)
		}
	}
}
