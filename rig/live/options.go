package live

import (
	"log/slog"
	"time"

	"quern/config"
	"quern/rig"
)

// Options is what an engine needs.
type Options struct {
	Dir   string // folder of the sessions; it exists
	Setup config.Setup
	Tool  string // the program and its version, for manifests
	Log   *slog.Logger
	Wall  func() time.Time // wall time; it may step
	// Free returns the bytes left on the disk of a folder, or what keeps anyone from writing there.
	Free func(dir string) (uint64, error)
	// Told is called with every event as it becomes known, from the engine's goroutine; may be nil.
	Told func(Told)
	// Closed is called with the result of every session, from the engine's goroutine; may be nil.
	Closed func(dir string, res rig.Result)
	// Published is called when there is something new to be seen, from the engine's goroutine, which must not
	// be held up; may be nil.
	Published func()
	// CutOff are the folders of the sessions that [RecoverAll] had to recover; until one more is closed it is told which.
	CutOff []string
}

// Told is an event as it became known.
type Told struct {
	Event  rig.Event
	Run    int
	EpochS float64 // its instant, s since the supervisor's epoch
}
