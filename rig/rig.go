// Package rig is the vocabulary of an instrumented test rig: what a channel delivers, what happened
// on the bench, and what came of it. It imports nothing of the project.
//
// Times named _s (fields ending in S) count seconds from the session's start on one monotonic time
// base. Other units stand at the end of each name: A (amperes, RMS unless the name says peak), DB
// (decibels re 20 µPa), G (grams), Hz.
package rig

// Channel names a place where the rig measures.
type Channel string

// The channels every bench knows.
const (
	Microphone Channel = "microphone"
	Clamp      Channel = "clamp"
	Scale      Channel = "scale"
)

// Form says what the numbers of a stream are.
type Form string

const (
	// Waveform is samples at a constant rate: Block.Samples.
	Waveform Form = "waveform"
	// RMS is one root-mean-square value a reading, over the time since the reading before: Block.Readings.
	RMS Form = "rms"
	// Mass is one indication of a scale a reading, in grams: Block.Readings.
	Mass Form = "mass"
	// Level is one A-weighted, F-weighted sound level a reading, as a meter shows it: Block.Readings.
	Level Form = "level"
	// Value is one value of an extra channel a reading: Block.Readings.
	Value Form = "value"
)

// Unit is the unit of a stream's numbers.
type Unit string

const (
	FullScale Unit = "fs" // fraction of digital full scale, -1 to 1: the bench's calibration makes it Pa or A
	Ampere    Unit = "A"
	Gram      Unit = "g"
	Decibel   Unit = "dB" // A-weighted, re 20 µPa
)

// Stream describes what one channel delivers in a session.
type Stream struct {
	Channel Channel
	Form    Form
	Unit    Unit
	RateHz  float64 // samples a second; 0 for readings, which carry their own times
}

// Block is a stretch of one stream. How a stream is cut into blocks never changes a result. A block
// without samples or readings says that nothing came up to StartS: the source was gone.
type Block struct {
	Channel  Channel
	StartS   float64   // instant of Samples[0]; for readings, only if there are none: nothing came up to it
	Samples  []float64 // Waveform: in the stream's unit
	Readings []Reading // RMS and Mass: in order of time
}

// Reading is one value of a slow instrument.
type Reading struct {
	AtS    float64
	Value  float64 // in the stream's unit
	Stable Mark    // a scale's own stability mark
}

// Mark is a yes, a no, or nothing said.
type Mark int8

const (
	Unsaid Mark = iota
	Yes
	No
)

// Source delivers the streams of a recording or a bench in order of time: the blocks of different
// channels interleave so that none runs more than about a second ahead of another.
type Source interface {
	Streams() []Stream
	// Next returns the next block; its slices are valid until the next call. At the end it
	// returns io.EOF.
	Next() (Block, error)
}
