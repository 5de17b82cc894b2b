package score

import (
	"math"

	"quern/rig"
)

// Value is a measure of one run, or of a mean of runs.
type Value struct {
	rig.Figure
	U       float64    // standard uncertainty of this value alone, in its unit
	UCommon float64    // standard uncertainty shared by all units on the bench
	Share   ErrorOf    // with what else UCommon is shared
	Typed   bool       // by a person
	Old     rig.Figure // what was measured before a person said otherwise
	From    []Trace    // what it was computed from
	Note    string     // such as "less than 1 g: half of it counts"
}

// ErrorOf names an error that all values of its kind share.
type ErrorOf string

const (
	NoShared     ErrorOf = ""
	LevelShared  ErrorOf = "level"
	CurrentShare ErrorOf = "current"
)

// Total is the standard uncertainty against a limit: what is shared counts too.
func (v Value) Total() float64 { return math.Hypot(v.U, v.UCommon) }

// Trace is one thing that a number came from.
type Trace struct {
	What string     // "weighing", "event", "figure", "correction", "setting", "measure"
	Fact int        // number of a weighing or correction
	AtS  rig.Figure // s of the session
	Text string
}

func absent(why string) Value { return Value{Figure: rig.Absent(why)} }
