// Package series holds the series of a recorded session: envelopes at any zoom, third-octave spectra over
// time, and stretches of its recordings as WAV.
//
// Nothing here is part of the record: what is derived from a session stands in the hidden folder .series
// beside the sessions and may be deleted at any time.
//
// Times named _s count seconds from the session's start. A series is told as an envelope: so many columns
// of equal width, each with the least, the largest and the mean value that fell into it. A column in a gap
// has none.
package series

import (
	"errors"
	"fmt"

	"quern/config"
	"quern/rig"
)

// Errors of this package wrap these where they are about what was asked for, not about what went wrong.
var (
	ErrAbsent   = errors.New("the session has no such series")
	ErrUnsealed = errors.New("the session is not sealed")
)

// marked is an error with a text of its own.
type marked struct {
	what error
	text string
}

func mark(what error, format string, args ...any) error {
	return &marked{what, fmt.Sprintf(format, args...)}
}

func (m *marked) Error() string { return m.text }
func (m *marked) Unwrap() error { return m.what }

// span is a stretch of time, s.
type span struct{ fromS, toS float64 }

// gapLeastS is the least jump in time that counts as samples gone, s; a smaller one is the time base being
// corrected for the drift of the stream's own clock. It is that of the analysis.
const gapLeastS = 0.01

// longestS is more than any session lasts, s.
const longestS = 1e7

// factorOf returns what a sample of a waveform is multiplied with, and the unit that it then has. A sine
// whose peak just reaches full scale has the level FullScaleDB: its peak is the root of two above its RMS.
func factorOf(s rig.Stream, set config.Setup) (factor float64, unit string) {
	switch {
	case s.Channel == rig.Microphone:
		return peakPa(set.Bench.Microphone.FullScaleDB), "Pa"
	case s.Unit == rig.FullScale:
		return set.Bench.Clamp.FullScaleA, "A"
	}
	return 1, string(s.Unit)
}
