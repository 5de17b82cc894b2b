// Package run tells what happened on the bench: starts, stalls, overloads, trips, stops, load and
// the clear chamber, from current, sound and mass together.
//
// It is a state machine (see States) fed in order of time with records of a few milliseconds: a
// Current every half mains cycle or reading, a Heard every 10 ms, a Pan every reading of the scale.
// Every instant it reports is the cause, the crossing, found by looking back; never the confirmation.
package run

import (
	"math"

	"quern/config"
	"quern/rig"
)

// Current is one record of the current: a cycle of a waveform, or one RMS reading.
type Current struct {
	StartS, EndS float64
	RMSA         float64
	SwingA       float64 // RMS about the window's own mean: without the d.c. of a start
	FundA        float64 // RMS of the fundamental; NaN: a reading
	ThirdA       float64 // and of the third harmonic, which a heater draws none of
	PeakA        float64
	Quarters     [4]float64 // largest |i| in each quarter of the later half of the window
	Turns        float64    // phase of the fundamental, cycles; meaningful if Locked
	Locked       bool
	Torn         bool // the window is not one cycle long: not for figures
	Missing      bool // the source was gone for at least part of it: the other figures mean nothing
	Wave         bool // from a waveform; false: a reading, whose Quarters say nothing

	// FirstA is the largest RMS over one cycle since a current was switched on, renewed every half cycle; 0 in all records
	// but the one at which it is known.
	FirstA float64
	// SecondA is the same from the second cycle on, about the mean of each window.
	SecondA float64
}

// midS is the instant a value stands for: the middle of its window.
func (c *Current) midS() float64 { return (c.StartS + c.EndS) / 2 }

// rowS is the length of a reading, s; 0 of a waveform's cycle.
func (c *Current) rowS() float64 {
	if c.Wave {
		return 0
	}
	return c.EndS - c.StartS
}

// between returns those of some records, in order of time, that lie wholly between two instants.
func between(cs []Current, fromS, toS float64) []Current {
	to := len(cs)
	for to > 0 && cs[to-1].EndS > toS {
		to--
	}
	from := to
	for from > 0 && cs[from-1].StartS >= fromS {
		from--
	}
	return cs[from:to]
}

// Heard is 10 ms of sound: A- and C-weighted exposure in Pa² s.
type Heard struct {
	StartS, EndS float64
	EA, EC       float64
	ET           float64 // and that above 4 kHz; NaN: not known
	Octave       Octaves // and that in octaves from 63 Hz to 8 kHz, flat; 0: not known
	Dead         bool    // the input did not change at all: no sound, but a fault
	Missing      bool    // the source was gone; Dead is set too
}

// Octaves are exposures in octave bands.
type Octaves [8]float32

// Pan is one reading of the scale.
type Pan struct {
	AtS    float64
	MassG  float64
	Stable rig.Mark // the scale's own mark
}

// Interval is a stretch of time.
type Interval struct{ FromS, ToS float64 }

// Lasts returns its length, s.
func (i Interval) Lasts() float64 { return i.ToS - i.FromS }

func event(kind rig.Kind, atS, withinS, sure float64, evidence string) rig.Event {
	return rig.Event{Kind: kind, AtS: rig.Fig(atS), WithinS: rig.Fig(withinS), Sure: rig.Fig(sure), Evidence: evidence}
}

func levelDB(meanSquare float64) float64 {
	return 10 * math.Log10(max(meanSquare, 1e-20)/(20e-6*20e-6))
}

// limits are the thresholds of one unit in amperes, from its nameplate and the settings.
type limits struct {
	set         config.DetectMotor
	ratedA      float64
	lockedA     float64 // 0: not on the nameplate
	induction   bool
	pulsed      bool    // a rectifier feeds it: its current comes in pulses, which other appliances' hardly does
	compressorA float64 // inrush that no other appliance's motor passes
	priorIdle   float64 // least no-load current to be expected before one is learned
}

func newLimits(s *config.Setup) limits {
	l := limits{set: s.Bench.Detect.Motor, ratedA: s.Unit.RatedCurrentA, lockedA: s.Unit.LockedRotorA, induction: s.Unit.Motor == "induction",
		pulsed: s.Unit.Motor == "permanent-magnet", compressorA: compressorVA / s.Bench.Supply.VoltageV}
	// No-load share of rated: 50-85 % for an induction motor, from 20 % for a series motor, which turns its fan, and from
	// 10 % behind a rectifier (common practice).
	switch {
	case l.induction:
		l.priorIdle = 0.5 * l.ratedA
	case l.pulsed:
		l.priorIdle = 0.1 * l.ratedA
	default:
		l.priorIdle = 0.2 * l.ratedA
	}
	return l
}

// locked is what a locked rotor draws, of the nameplate or as usual.
func (l *limits) locked() float64 {
	if l.lockedA > 0 {
		return l.lockedA
	}
	return usualLocked * l.ratedA
}

// meanOver is a running mean over time.
type meanOver struct{ sum, s, fromS float64 }

func (m *meanOver) add(v, s float64) { m.sum += v * s; m.s += s }
func (m *meanOver) mean() float64 {
	if m.s == 0 {
		return 0
	}
	return m.sum / m.s
}
