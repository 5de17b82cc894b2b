package live

import (
	"quern/acquire"
	"quern/rig"
)

// sourceLog is how each source was when the log last told of it: whoever reads the log later wants to know when a plug
// was out. One that is late for a moment is not told.
type sourceLog map[rig.Channel]acquire.State

// tellSources logs which sources were lost since the last look, and which deliver.
func (e *Engine) tellSources() {
	for _, s := range e.sup.Status() {
		channel := s.Stream.Channel
		was := e.plugged[channel]
		if s.State == was || s.State != acquire.Live && s.State != acquire.Lost {
			continue
		}
		e.plugged[channel] = s.State
		if s.State == acquire.Live {
			e.opts.Log.Info("a source delivers", "channel", channel, "device", s.Device)
			continue
		}
		e.opts.Log.Warn("a source is lost; it is opened again and again", "channel", channel, "device", s.Device, "why", s.Reason)
	}
}
