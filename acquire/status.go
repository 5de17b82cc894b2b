package acquire

import (
	"time"

	"quern/rig"
)

// State is how a source does.
type State string

const (
	Starting State = "starting" // being opened, or nothing has come yet
	Live     State = "live"
	Late     State = "late" // nothing came for longer than its pace lets expect
	Lost     State = "lost" // failed or silent; it is opened again after a pause
)

// States in the order of their numbers in metrics.
var States = []State{Starting, Live, Late, Lost}

// Status is how one stream does.
type Status struct {
	Stream   rig.Stream
	Device   string // its name
	State    State
	Reason   string  // why, and what to do; "" while all is well
	Note     string  // what is odd about what comes: it repeats itself, floods, runs too fast
	AgeS     float64 // since the last samples or reading; -1: none ever came
	Samples  int64   // or readings
	Rejects  int64
	Reject   string // why the last one could not be taken; "": none was
	Gaps     int64
	Xruns    int64
	Missing  int64   // samples known to be missing
	Restarts int64   // times it was opened again
	DriftPPM float64 // of its clock against the system's; 0 with Drifts false: not known yet
	Drifts   bool
}

// Clock tells the time. A monotonic reading is used if it has one; a simulated bench's may run faster.
type Clock func() time.Time
