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
//
// One timer is for all leftovers of a run, and one scale weighs them one after the other. A reading is late that comes
// later than the tolerance after its turn, which is when they have drained for the stated time and the scale has been
// through with what was read before the first reading of their own. So a second reading of a vessel has no second turn.
type Drain struct {
	targetS, toleranceS float64
	armedS              float64
	startS              rig.Figure
	reads               []read // in the order of time, since the start
}

// read is a reading of leftovers.
type read struct {
	of  rig.Role
	atS float64
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
func (d *Drain) Start(atS float64) { d.startS, d.reads = rig.Fig(atS), nil }

// Drained is how long leftovers had drained at an instant, and what they still lost.
type Drained struct {
	DrainedS     rig.Figure // absent: "drain-not-started"
	Timing       Timing
	WaitS        float64    // until they can be read in time; 0: now, or it is too late
	SlopeGPerMin rig.Figure // of the mass curve at the reading; negative: they still lose
}

// At returns how long they have drained at an instant, and how a reading of some of them would lie then.
func (d *Drain) At(atS float64, of rig.Role) Drained {
	if !d.startS.OK || atS < d.startS.V {
		return Drained{DrainedS: rig.Absent("drain-not-started"), Timing: NotStarted, SlopeGPerMin: rig.Absent("not-read")}
	}
	x := Drained{DrainedS: rig.Fig(atS - d.startS.V), Timing: InTime, SlopeGPerMin: rig.Absent("not-read")}
	const clockS = 1e-6 // s, far finer than any reading's time
	switch off := x.DrainedS.V - d.targetS; {
	case off < -d.toleranceS-clockS:
		x.Timing, x.WaitS = Early, -d.toleranceS-off
	case atS-d.turnS(of) > d.toleranceS+clockS:
		x.Timing = Late
	}
	return x
}

// turnS returns the instant at which some leftovers can be read: they have drained, and the scale is free.
func (d *Drain) turnS(of rig.Role) float64 {
	turn := d.startS.V + d.targetS
	for _, r := range d.reads {
		if r.of == of {
			break
		}
		turn = max(turn, r.atS)
	}
	return turn
}

// Read returns how long they had drained when a weighing was taken, with its slope, and notes that it was.
func (d *Drain) Read(c Candidate, of rig.Role) Drained {
	x := d.At(c.AtS, of)
	x.SlopeGPerMin = c.SlopeGPerMin
	if x.DrainedS.OK {
		d.reads = append(d.reads, read{of, c.AtS})
	}
	return x
}
