package rank

import (
	"errors"
	"fmt"
	"math"
)

// MinBaseline is how many values a baseline must have. With ten, s is known to about a quarter of
// itself; twenty or more are the custom.
const MinBaseline = 10

// d2 turns a mean moving range of two into a standard deviation: the expected range of two standard
// normals, 2/sqrt(pi), as the NIST/SEMATECH e-Handbook 6.3.2.2 rounds it (from memory).
const d2 = 1.128

var (
	ErrShortBaseline = errors.New("baseline too short for limits")
	ErrFlatBaseline  = errors.New("baseline does not vary, so it gives no limits")
)

// Chart is an individuals control chart, in the unit of its values.
type Chart struct {
	Centre float64
	S      float64 // standard deviation, by the mean moving range
	N      int     // values in the baseline
}

// NewChart draws a chart from the values of a time when the bench was well, in their order. A
// baseline that gives no limits is [ErrShortBaseline] or [ErrFlatBaseline].
func NewChart(baseline []float64) (Chart, error) {
	vs := present(baseline)
	if len(vs) < MinBaseline {
		return Chart{}, fmt.Errorf("%w: %d values, expected at least %d", ErrShortBaseline, len(vs), MinBaseline)
	}
	moving := 0.0
	for i, v := range vs[1:] {
		moving += math.Abs(v - vs[i])
	}
	c := Chart{Centre: mean(vs), S: moving / float64(len(vs)-1) / d2, N: len(vs)}
	if !(c.S > 1e-12*math.Abs(c.Centre)) || !finite(c.S) {
		return Chart{}, ErrFlatBaseline
	}
	return c, nil
}

// Limits returns the limits at times*S: 2 warns, 3 acts.
func (c Chart) Limits(times float64) (low, high float64) {
	return c.Centre - times*c.S, c.Centre + times*c.S
}

// State is what the chart says of a value.
type State string

const (
	InControl State = "in control"
	Warning   State = "warning" // beyond 2 s, by itself one in 22
	Out       State = "out"     // the bench has moved
	NoValue   State = "no value"
)

// Alarm is the rule by which a value is out: Western Electric, Statistical Quality Control Handbook,
// 1956 (from memory), without its rule of four in five beyond 1 s.
type Alarm string

const (
	BeyondThree Alarm = "one beyond 3 s"
	TwoOfThree  Alarm = "two of three beyond 2 s on one side"
	EightInRow  Alarm = "eight in a row on one side"
)

// Verdict is what the chart says of one value.
type Verdict struct {
	State State
	Rule  Alarm   // of those that hold the first in the order above; "" unless Out
	Z     float64 // distance from the centre in S
}

// Judge returns the verdict on each of the values that came after the baseline, in their order. A value
// that is not finite is passed over: it neither makes nor breaks a row. An alarm does not reset the
// rows: a bench that stays off stays flagged.
func (c Chart) Judge(values []float64) []Verdict {
	out := make([]Verdict, len(values))
	var last [3]float64 // the latest three, the newest first
	row := 0            // signed: values in a row above or below the centre
	for i, v := range values {
		if !finite(v) || !(c.S > 0) {
			out[i] = Verdict{State: NoValue}
			continue
		}
		z := (v - c.Centre) / c.S
		last = [3]float64{z, last[0], last[1]}
		switch {
		case z > 0:
			row = max(row, 0) + 1
		case z < 0:
			row = min(row, 0) - 1
		default:
			row = 0
		}
		out[i] = verdict(z, last, row)
	}
	return out
}

func verdict(z float64, last [3]float64, row int) Verdict {
	same := 0 // of the latest three beyond 2 s on the side of the newest
	for _, x := range last {
		if math.Abs(x) > 2 && x > 0 == (z > 0) {
			same++
		}
	}
	switch {
	case math.Abs(z) > 3:
		return Verdict{Out, BeyondThree, z}
	case math.Abs(z) > 2 && same >= 2:
		return Verdict{Out, TwoOfThree, z}
	case row >= 8 || row <= -8:
		return Verdict{Out, EightInRow, z}
	case math.Abs(z) > 2:
		return Verdict{State: Warning, Z: z}
	}
	return Verdict{State: InControl, Z: z}
}
