package mass

import "quern/rig"

// Timing is how a reading lies to the time that leftovers are to drain.
type Timing string

const (
	NotStarted Timing = "not-started"
	Early      Timing = "early"
	InTime     Timing = "in-time"
	Late       Timing = "late"
)

// Drain times how long leftovers drained. It refuses nothing: a reading is early or late.
type Drain struct {
	targetS, toleranceS float64
	armedS              float64
	startS              rig.Figure
}

// NewDrain returns a timer for leftovers that are read after targetS, give or take toleranceS. It
// starts with the first load placed at armedS or later, or when it is told.
func NewDrain(armedS, targetS, toleranceS float64) *Drain {
	return &Drain{targetS: targetS, toleranceS: toleranceS, armedS: armedS, startS: rig.Absent("drain-not-started")}
}

// Watch starts the timer at the first placement.
func (d *Drain) Watch(n Now) {
	if !d.startS.OK && n.PlacedS.OK && n.PlacedS.V >= d.armedS {
		d.startS = n.PlacedS
	}
}

// Start starts the timer at an instant, whatever came before.
func (d *Drain) Start(atS float64) { d.startS = rig.Fig(atS) }

// Drained is how long leftovers had drained at an instant, and what they still lost.
type Drained struct {
	DrainedS     rig.Figure // absent: "drain-not-started"
	Timing       Timing
	WaitS        float64    // until they can be read in time; 0: now, or it is too late
	SlopeGPerMin rig.Figure // of the mass curve at the reading; negative: they still lose
}

// At returns how long they have drained at an instant.
func (d *Drain) At(atS float64) Drained {
	if !d.startS.OK || atS < d.startS.V {
		return Drained{DrainedS: rig.Absent("drain-not-started"), Timing: NotStarted, SlopeGPerMin: rig.Absent("not-read")}
	}
	x := Drained{DrainedS: rig.Fig(atS - d.startS.V), Timing: InTime, SlopeGPerMin: rig.Absent("not-read")}
	const clockS = 1e-6 // s, far finer than any reading's time
	switch off := x.DrainedS.V - d.targetS; {
	case off < -d.toleranceS-clockS:
		x.Timing, x.WaitS = Early, -d.toleranceS-off
	case off > d.toleranceS+clockS:
		x.Timing = Late
	}
	return x
}

// Read returns how long they had drained when a weighing was taken, with its slope.
func (d *Drain) Read(c Candidate) Drained {
	x := d.At(c.AtS)
	x.SlopeGPerMin = c.SlopeGPerMin
	return x
}
