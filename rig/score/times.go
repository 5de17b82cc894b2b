package score

import (
	"cmp"
	"math"

	"quern/rig"
	"quern/rig/score/gum"
)

// time returns a measure of time.
func (r *Run) time(name string) (Value, bool) {
	var f rig.Figure
	outer, inner := true, true // whether the first start and the last stop, and those between, bear on it
	elapsed := name == "run_time_s" && r.Procedure.Clock == "elapsed"
	switch {
	case name == "elapsed_s" || elapsed:
		f, inner = r.run.ElapsedS, false
	case name == "motor_on_s" || name == "run_time_s": // by the rules in force, not those of the recording's day
		f = r.run.MotorOnS
	case name == "pause_s":
		f, outer = r.run.ElapsedS, false
		if f.OK && r.run.MotorOnS.OK {
			f = rig.Fig(max(0, f.V-r.run.MotorOnS.V))
		} else if f.OK {
			f = r.run.MotorOnS
		}
	case name == "clear_s":
		return r.clear(), true
	case name == "stall_s":
		return r.spent(rig.StallStart, rig.StallEnd), true
	case name == "overload_s":
		return r.spent(rig.OverloadStart, rig.OverloadEnd), true
	default:
		return Value{}, false
	}
	if why := cmp.Or(r.before(), r.beyond()); outer && f.OK && why != "" {
		return absent(why), true
	}
	v := Value{Figure: f}
	variance := 0.0
	for _, e := range r.run.Events {
		end := e.AtS == r.run.StartS || e.AtS == r.run.EndS
		switch e.Kind {
		case rig.MotorStart, rig.MotorStop, rig.Trip:
			if end && outer || !end && inner {
				variance += square(r.stepU(e.WithinS))
				v.From = append(v.From, ofEvent(e))
			}
		}
	}
	v.U = math.Sqrt(variance)
	return v, true
}

// before is why the time from the first start on is not known, only what it was at least; "": it is.
func (r *Run) before() string {
	if r.N == 1 && r.Record.Result.Warned(rig.BeganRunning) {
		return "began-before-the-recording"
	}
	return ""
}

// beyond is the same of the time to the last stop, as where a loss of power cut a recording off.
func (r *Run) beyond() string {
	if r.N == len(r.Record.Result.Runs) && r.Record.Result.Warned(rig.EndedRunning) {
		return "went-on-after-the-recording"
	}
	return ""
}

func ofEvent(e rig.Event) Trace {
	return Trace{What: "event", AtS: e.AtS, Text: string(e.Kind) + ": " + e.Evidence}
}

// clear is the time from the first start to the chamber's being clear, on the procedure's clock.
func (r *Run) clear() Value {
	var at rig.Event
	for _, e := range r.run.Events {
		if e.Kind == rig.LoadEnd {
			at = e
		}
	}
	if !at.AtS.OK || !r.run.StartS.OK {
		return absent("never-clear")
	}
	if why := r.before(); why != "" {
		return absent(why)
	}
	e := &r.lab.Bench.Errors
	v := Value{U: math.Hypot(e.StartS, max(e.ClearS, gum.FromHalfWidth(at.WithinS.V))), From: []Trace{ofEvent(at)}}
	s := at.AtS.V - r.run.StartS.V
	if r.Procedure.Clock != "elapsed" {
		s = r.onUntil(at.AtS.V)
	}
	v.Figure = rig.Fig(s)
	return v
}

// onUntil is how long the motor had been on at an instant.
func (r *Run) onUntil(atS float64) float64 {
	on, from, running := 0.0, 0.0, false
	for _, e := range r.run.Events {
		switch {
		case e.AtS.V > atS:
		case e.Kind == rig.MotorStart && !running:
			from, running = e.AtS.V, true
		case (e.Kind == rig.MotorStop || e.Kind == rig.Trip) && running:
			on += e.AtS.V - from
			running = false
		}
	}
	if running {
		on += atS - from
	}
	return on
}

// noCurrent is why nothing is said of jams without a clamp: what is not heard may have been.
const noCurrent = "no-current"

// spent sums up the time between events of two kinds.
func (r *Run) spent(start, end rig.Kind) Value {
	if !r.run.Motor.MeanA.OK {
		return absent(noCurrent)
	}
	v := Value{Figure: rig.Fig(0)}
	variance := 0.0
	var from rig.Event
	for _, e := range r.run.Events {
		switch {
		case e.Kind == start:
			from = e
		case e.Kind == end && from.AtS.OK:
			v.V += e.AtS.V - from.AtS.V
			variance += square(r.stepU(from.WithinS)) + square(r.stepU(e.WithinS))
			v.From = append(v.From, ofEvent(from), ofEvent(e))
			from = rig.Event{}
		}
	}
	v.U = math.Sqrt(variance)
	return v
}

// counts returns a measure that counts events.
func (r *Run) counts(name string) (Value, bool) {
	var kind rig.Kind
	switch name {
	case "pauses":
		kind = rig.MotorStart
	case "stalls":
		kind = rig.StallStart
	case "overloads":
		kind = rig.OverloadStart
	case "trips":
		kind = rig.Trip
	default:
		return Value{}, false
	}
	if name != "pauses" && !r.run.Motor.MeanA.OK {
		return absent(noCurrent), true
	}
	v := Value{Figure: rig.Fig(0)}
	stopped := false
	for _, e := range r.run.Events {
		if e.Kind == kind && (name != "pauses" || stopped) { // a start after no stop is the first
			v.V++
			v.From = append(v.From, ofEvent(e))
		}
		stopped = e.Kind == rig.MotorStop || e.Kind == rig.Trip || stopped && e.Kind != rig.MotorStart
	}
	return v, true
}
