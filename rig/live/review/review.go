// Package review opens recorded sessions for looking at them: series at any zoom, what the session came
// to, what people put on record since, and what other settings would change.
//
// A [Shelf] keeps the last few sessions of a folder open and serves them over HTTP. Nothing here is part
// of the record: what is derived from a session stands in the hidden folder .series beside the sessions
// and may be deleted at any time. Only facts are added to a session, through rig/session, and an analysis
// that it lacks.
//
// Times named _s count seconds from the session's start. A series is told as an envelope: so many columns
// of equal width, each with the least, the largest and the mean value that fell into it. A column in a gap
// has none.
package review

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
)

// Options is what a shelf needs. Any of the functions may be nil.
type Options struct {
	Dir  string // folder of the sessions; it exists
	Tool string // the program and its version, for addenda and analyses
	Log  *slog.Logger
	Now  func() time.Time
	// Lab returns the lab under whose procedures runs are judged; nil: there is none.
	Lab func() *config.Lab
	// Campaign returns the season as it was last scored, from which points come; nil: not scored yet. It
	// does not wait for a score.
	Campaign func() *score.Campaign
	// Changed is told of every session that facts were added to, or an analysis. It must not call the shelf.
	Changed func(name string)
	// Who says who asks, as it is to stand on record ("": nobody that is known), and whether the request
	// may not name somebody else. Without it only a name in the request counts.
	Who func(*http.Request) (name string, firm bool)
	// Operator says whether the request may add facts. Without it none may.
	Operator func(*http.Request) bool
	// WhatIfWithin is how long an analysis under other settings may take; 0: a minute.
	WhatIfWithin time.Duration
}

// Fault is an error that is the asker's, or passes: Status is that of HTTP, Text says what was found, what
// was expected and what to do.
type Fault struct {
	Status int
	Text   string
}

// Error returns the text.
func (f *Fault) Error() string { return f.Text }

func fault(status int, format string, args ...any) error {
	return &Fault{status, fmt.Sprintf(format, args...)}
}

// statusOf returns the status of HTTP for an error.
func statusOf(err error) int {
	var f *Fault
	if errors.As(err, &f) {
		return f.Status
	}
	return http.StatusInternalServerError
}

// span is a stretch of time, s.
type span struct{ fromS, toS float64 }

// gapLeastS is the least jump in time that counts as samples gone, s; a smaller one is the time base being
// corrected for the drift of the stream's own clock. It is that of the analysis.
const gapLeastS = 0.01

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
