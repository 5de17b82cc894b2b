// Package acquire runs the devices of a bench: each on its own, restarted when it fails or falls
// silent, its samples placed on one time base. The packages below it know the devices.
package acquire

import (
	"context"
	"time"

	"quern/rig"
)

// Device delivers one or several streams. A Device is used by one goroutine.
type Device interface {
	// Name is how messages call it: "scale on /dev/serial/by-id/...".
	Name() string
	// Streams tells what it delivers, before it runs. Most deliver one; a sound card may carry the
	// microphone and the clamp.
	Streams() []rig.Stream
	// Run opens the device and delivers to the sink until ctx ends, when it closes the device and
	// returns nil, or until the device fails, when it returns why and what to do. It holds no
	// goroutine, descriptor or child process after it has returned, and may be called again.
	Run(ctx context.Context, to Sink) error
}

// Sink takes what a device delivers. It copies what it keeps, and never blocks for long.
type Sink interface {
	// Samples takes samples of a waveform, in the stream's unit. got is when the last of them was in
	// the program's hands; lost is how many are known to have been lost just before the first.
	Samples(c rig.Channel, got time.Time, lost int64, samples []float64)
	// Reading takes one reading of a slow instrument.
	Reading(c rig.Channel, got time.Time, value float64, stable rig.Mark)
	// Reject tells of a frame that could not be taken for a reading or samples, and why. It is counted.
	Reject(c rig.Channel, why string)
	// Xrun tells that samples were lost without their number being known.
	Xrun(c rig.Channel)
	// Alive tells that the device speaks although it has nothing to deliver, such as a scale that is
	// out of range, and why: it is not silent.
	Alive(c rig.Channel, why string)
}
