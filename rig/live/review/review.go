// Package review opens recorded sessions for looking at them: series at any zoom, what the session came
// to, what people put on record since, and what other settings would change.
//
// A [Shelf] keeps the last few sessions of a folder open and serves them over HTTP. Nothing here is part
// of the record: what rig/report/series derives from a session may be deleted at any time. Only facts are added to a session, through rig/session, and an analysis
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
	"strings"
	"time"

	"quern/config"
	"quern/rig/report/series"
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
	switch {
	case errors.As(err, &f):
		return f.Status
	case errors.Is(err, series.ErrAbsent):
		return http.StatusNotFound
	case errors.Is(err, series.ErrUnsealed):
		return http.StatusConflict
	}
	return http.StatusInternalServerError
}

// clip40 shortens what is quoted in a message.
func clip40(s string) string {
	if len(s) > 40 {
		s = strings.ToValidUTF8(s[:40], "") + "..."
	}
	return s
}
