package run_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// TestStartsOnTopOfAnother switches a compressor on just as a tap is opened, and the motor some seconds later on top of it; or
// the motor first. What leaps by more than any rotor's standing still at the start drew, or by the harmonics that only the
// motor has, is the motor's start, and not what came before it.
func TestStartsOnTopOfAnother(t *testing.T) {
	const motors, early = "motor_start@6.0 motor_stop@15.0", "motor_start@3.0 motor_stop@15.0"
	starts := func(atS, inrushA, idleA float64, lag complex128) func(float64) complex128 {
		return func(t float64) complex128 {
			switch {
			case t < atS || t >= 15:
				return 0
			case t < atS+0.4:
				return complex(inrushA, 0) * lag
			}
			return complex(idleA, 0) * lag
		}
	}
	tap := func(roseDB float64) func(float64) float64 {
		return func(t float64) float64 {
			switch {
			case t < 2.9 || t >= 16:
				return 40
			case t < 6 || t >= 15:
				return 55
			}
			return 55 + roseDB
		}
	}
	boots := func(t float64) complex128 { // charges its capacitors, and brings the motor up from what they draw then
		switch {
		case t < 3 || t >= 15:
			return 0
		case t < 3.1:
			return 5
		case t < 3.7:
			return 0.9
		}
		return complex(1.2+8*math.Exp(-(t-3.7)/0.15), 0)
	}
	for _, c := range []struct {
		name, motor, want string
		rated             float64
		motorAt           func(float64) complex128
		otherAt           func(float64) complex128
		third             float64
		roseDB            float64
		deaf              bool
	}{
		{name: "a larger inrush", motor: "universal", rated: 4, want: motors, motorAt: starts(6, 12, 1.2, 1), otherAt: starts(3, 6, 0.9, 0.8-0.6i), deaf: true},
		{name: "an inrush no larger, with the motor's harmonics", motor: "universal", rated: 4, want: motors, motorAt: starts(6, 6.5, 1.2, 1), otherAt: starts(3, 6, 0.9, 0.8-0.6i), third: 0.2, deaf: true},
		{name: "the motor first, and a compressor after it", motor: "universal", rated: 4, want: early, motorAt: starts(3, 6, 1.2, 1), otherAt: starts(6, 9, 0.9, 0.8-0.6i), third: 0.2, deaf: true},
		{name: "electronics that bring the motor up", motor: "permanent-magnet", rated: 4, want: early, motorAt: boots, otherAt: func(float64) complex128 { return 0 }, third: 0.6, deaf: true},
		{name: "the motor first, and a compressor that is not heard", motor: "universal", rated: 4, want: early, motorAt: starts(3, 6, 1.2, 1), otherAt: starts(6, 9, 0.9, 0.8-0.6i)},
		{name: "the motor first, and a load or a heater, heard, that stays", motor: "universal", rated: 4, want: "motor_start@3.0 overload_start@6.0 overload_end@15.0 trip@15.0", motorAt: starts(3, 6, 1.2, 1), otherAt: starts(6, 9, 9, 1), roseDB: 12},
		{name: "the motor first, and a smaller inrush as it is fed", motor: "universal", rated: 4, want: early, motorAt: starts(3, 7, 1.2, 1), otherAt: starts(6, 6, 0.9, 0.8-0.6i), roseDB: 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := setup()
			set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = c.motor, c.rated, 6*c.rated
			w := wired{conductor: conductor{motor: c.motorAt, other: c.otherAt, laDB: tap(c.roseDB), deaf: c.deaf}, third: c.third, rest: 1.2 * c.third}
			got, warned := w.play(20, set)
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, warned)
			}
		})
	}
}

// TestStartHeldBack looks at a session in progress: a start that may still be a compressor's is shown at once, but not settled
// for four seconds; one whose inrush no compressor has is.
func TestStartHeldBack(t *testing.T) {
	for _, c := range []struct {
		name              string
		inrushA           float64
		atS, decidedS     float64 // looked at then; decided from there on
		runs              int
		state             rig.State
		startedS, lastOnS float64
	}{
		{"a small inrush", 6, 5, 3, 1, rig.Starting, 3, 2},
		{"a small inrush, later", 6, 7.5, 7, 1, rig.NoLoad, 3, 4.5},
		{"a large one", 17, 5, 4.5, 1, rig.NoLoad, 3, 2},
		{"the same again", 6, 14, 13.5, 1, rig.NoLoad, 3, 7 + 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := setup()
			set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "universal", 4, 24
			m := run.NewMachine(set)
			for k := 2; float64(k)/120 <= c.atS; k++ {
				end, a := float64(k)/120, 0.01
				switch mid := end - 1.0/240; {
				case mid > 10 && mid < 12, mid < 3:
				case mid > 3.4 && mid < 12 || mid > 12.4:
					a = 1.2
				default:
					a = c.inrushA
				}
				p := a * math.Sqrt2
				m.Current(run.Current{StartS: end - 1.0/60, EndS: end, RMSA: a, SwingA: a, FundA: a, PeakA: p, Quarters: [4]float64{p, p, p, p}, Turns: 60 * end, Locked: a > 0.5, Wave: true})
			}
			n := m.Now(c.atS, false)
			if d := m.DecidedS(); d > c.decidedS && c.state == rig.Starting || d < c.decidedS && c.state != rig.Starting {
				t.Errorf("decided up to %.2f s, want %.2f", d, c.decidedS)
			}
			if n.Runs != c.runs || n.State != c.state || !n.Running || !(math.Abs(n.StartS-c.startedS) <= 0.02) || !(math.Abs(n.OnS-c.lastOnS) <= 0.03) || len(n.Events) == 0 {
				t.Errorf("shows %+v", n)
			}
			if f := m.Finish(c.atS); len(f) != 1 || !(math.Abs(f[0].StartS()-c.startedS) <= 0.02) {
				t.Errorf("in the end %v", f)
			}
		})
	}
}

// TestReadingsOnTopOfAnother does the same with readings, in which the compressor's hum is heard and the motor louder; and
// lets a motor that was heard to start draw more once it is fed, or when it jams.
func TestReadingsOnTopOfAnother(t *testing.T) {
	at := func(fromS, rmsA, laDB float64) moment {
		return moment{fromS, rmsA, 0.002, 0, laDB, laDB, laDB - 15, false}
	}
	for _, c := range []struct {
		name, want string
		told       bool
		course     []moment
	}{
		{"a larger inrush", "motor_start@6 motor_stop@15", true, []moment{at(0, 0, 40), at(3, 5.8, 46), at(3.4, 1, 46), at(6, 9, 65), at(6.3, 2.2, 70), at(15, 1, 46)}},
		{"a jam that frees itself", "motor_start@3 stall_start@6 stall_end@7 motor_stop@15", false, []moment{at(0, 0, 40), at(3, 5.8, 60), at(3.4, 1.6, 66), at(6, 9, 55), at(7, 1.6, 66), at(15, 0, 40)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "permanent-magnet", ratedA: 4, lockedA: 9, stepS: 0.05, seconds: 20, course: c.course}
			got, w := b.play()
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
			if told := strings.Contains(fmt.Sprint(w), "s that of the motor came on top of it"); told != c.told {
				t.Errorf("told of another appliance: %v, want %v; %v", told, c.told, w)
			}
		})
	}
}

// TestLoadedWhileHeldBack steps the current of an induction motor up as a heater does, while its start may still be a
// compressor's, and lets all of it go in one cycle: then none came, and the start is the motor's in that reading too.
func TestLoadedWhileHeldBack(t *testing.T) {
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "induction", 4, 24
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 15:
			return 0
		case t < 3.3:
			return complex(8, -9)
		case t < 5.5:
			return complex(0.3, -2.6)
		}
		return complex(5.3, -2.6)
	}
	got, w := conductor{motor: motor, other: func(float64) complex128 { return 0 }, deaf: true}.play(20, set)
	if want := "motor_start@3.0 overload_start@5.5 overload_end@15.0 trip@15.0"; got != want {
		t.Errorf("got %s, want %s; %v", got, want, w)
	}
}
