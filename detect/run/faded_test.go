package run_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"quern/rig"
)

// settles is a compressor whose inrush fades within some cycles, as a rotor's does that comes up to speed.
func settles(from, to, amps float64) func(float64) complex128 {
	return func(t float64) complex128 {
		if t < from || t >= to {
			return 0
		}
		return cmplx.Rect(amps*(1+4.5/(1+math.Exp((t-from-0.35)/0.03))), -0.9)
	}
}

// TestStopsBesideACompressor: what is switched off is gone within a cycle, whatever a small motor does at that time, and no
// sag of the supply leaves as much of what that draws.
func TestStopsBesideACompressor(t *testing.T) {
	stands := func(from, to float64) func(float64) complex128 { return fromTo(from, to, complex(22, -20)) }
	rectified := func(from, to float64) func(float64) complex128 {
		return func(t float64) complex128 { return fromTo(from, to, 1.5)(t) + fromTo(from, from+0.05, 7)(t) }
	}
	both := func(a, b func(float64) complex128) func(float64) complex128 {
		return func(t float64) complex128 { return a(t) + b(t) }
	}
	for _, c := range []struct {
		name, motor  string
		third        float64 // of the motor's current
		own, another func(float64) complex128
		want         string
	}{
		{"it was switched on just before the motor stopped", "induction", 0.05, turns(5, 30), settles(29.9, 50, 1.4), "motor_start@5.0 motor_stop@30.0<"},
		{"and before a rotor's that stood", "induction", 0, both(turns(5, 26), stands(26, 30)), settles(29.8, 50, 0.7), "motor_start@5.0 stall_start@26.0 stall_end@30.0 trip@30.0<"},
		{"or just after", "induction", 0.05, turns(5, 29.98), settles(30.055, 50, 1.4), "motor_start@5.0 motor_stop@30.0"},
		{"it came with a rotor that never turned", "induction", 0, stands(5, 12), settles(5.02, 50, 1.5), "motor_start@5.0 stall_start@5.0 stall_end@12.0 trip@12.0"},
		{"a heater beside it is switched off just before the motor", "induction", 0.05, turns(5, 30), both(settles(2, 50, 1.4), fromTo(12, 29.4, 6)), "motor_start@5.0 motor_stop@30.0"},
		{"the motor starts again within half a second", "induction", 0.05, both(turns(5, 20), turns(20.5, 30)), settles(2, 50, 1.4), "motor_start@5.0 motor_stop@20.0 motor_start@20.5 motor_stop@30.0"},
		{"and one behind a rectifier, sooner", "permanent-magnet", 0.6, both(rectified(5, 20), rectified(20.2, 30)), settles(8, 50, 0.8), "motor_start@5.0 motor_stop@20.0 motor_start@20.2 motor_stop@30.0"},
		{"which by then draws more than it did", "permanent-magnet", 0.6, both(rectified(5, 20), rectified(20.5, 30)), func(t float64) complex128 {
			return settles(8, 50, 0.8)(t) * complex(1+0.04*max(t-8, 0), 0)
		}, "motor_start@5.0 motor_stop@20.0 motor_start@20.5 motor_stop@30.0"},
		{"the supply sags", "permanent-magnet", 0.6, both(rectified(5, 20), rectified(20.3, 30)), func(t float64) complex128 {
			return settles(8, 50, 2)(t) - 0.4*fromTo(20, 20.3, settles(8, 50, 2)(t))(t)
		}, "motor_start@5.0 motor_stop@30.0"},
		{"the supply sags a little", "permanent-magnet", 0.6, both(rectified(5, 20), rectified(20.3, 30)), func(t float64) complex128 {
			return settles(8, 50, 2)(t) - 0.1*fromTo(20, 20.3, settles(8, 50, 2)(t))(t)
		}, "motor_start@5.0 motor_stop@30.0"},
		{"the supply sags, and the motor goes on drawing a little", "permanent-magnet", 0.56, func(t float64) complex128 {
			return rectified(5, 20)(t)*0.7 + fromTo(20, 20.3, 0.32)(t) + rectified(20.3, 30)(t)*0.7
		}, fromTo(2, 50, 6.5), "motor_start@5.0 motor_stop@30.0"},
		{"electronics let the motor run down when the last piece has gone", "permanent-magnet", 0.6, func(t float64) complex128 {
			return rectified(5, 40)(t)*complex(min(1, 1/(1+math.Exp((t-30)/0.02))), 0) + fromTo(27, 29.6, 2)(t)
		}, fromTo(50, 50, 0), "motor_start@5.0 motor_stop@30.0"},
		{"a run-up ends at once in less than an induction motor usually draws", "induction", 0.05, func(t float64) complex128 {
			x := complex(1/(1+math.Exp((t-5.5)/0.012)), 0)
			return fromTo(5, 30, x*complex(22, -20)+(1-x)*complex(0.4, -1.7))(t)
		}, fromTo(50, 50, 0), "motor_start@5.0 motor_stop@30.0"},
		{"or when a compressor has just started", "permanent-magnet", 0.6, func(t float64) complex128 {
			return rectified(5, 40)(t) * complex(min(1, 1/(1+math.Exp((t-30)/0.02))), 0)
		}, settles(29.5, 50, 0.6), "motor_start@5.0 motor_stop@30.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			third := func(t float64) float64 { return c.third * cmplx.Abs(c.own(t)) }
			talk := func(t float64) float64 { return 68 }
			var got []string // what was told by looking back is marked
			for _, r := range (vectors{c.own, c.another, third, talk}).runs(40, of(c.motor)) {
				for _, e := range r.Events {
					back := ""
					if strings.Contains(e.Evidence, "which had just started") {
						back = "<"
					}
					if e.Kind == rig.MotorStop && !strings.Contains(e.Evidence, " A to ") {
						t.Errorf("%s: not said what is left", e.Evidence)
					}
					if e.Kind != rig.LoadStart && e.Kind != rig.LoadEnd {
						got = append(got, fmt.Sprintf("%s@%.1f%s", e.Kind, e.AtS.V, back))
					}
				}
			}
			if got := strings.Join(got, " "); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// TestHumGoesBesideAHeater: nothing but its hum is heard of a rotor that stands, and it goes when that is switched off, whatever
// flows on. One that breaks free is heard to run up, and a heater may go in a stall.
func TestHumGoesBesideAHeater(t *testing.T) {
	const rises, ends = 5.0, 30.0
	type heard struct{ aDB, cDB float64 }
	room, hum, runs := heard{45, 48}, heard{60, 75}, heard{70, 72}
	for _, c := range []struct {
		name, want string
		goesS      float64    // from then on
		left       complex128 // of the motor's current,
		heaterA    complex128 // and the heater's
		was, is    heard
	}{
		{"it is switched off", "motor_start@5.0 stall_start@5.0 stall_end@12.0 trip@12.0", 12, 0, 4.3, hum, room},
		{"it breaks free", "motor_start@5.0 stall_start@5.0 stall_end@12.0 motor_stop@30.0", 12, complex(0.4, -3.9), 4.3, hum, runs},
		{"it breaks free, and what was said falls silent", "motor_start@5.0 stall_start@5.0 stall_end@12.0 motor_stop@30.0", 12, complex(0.4, -3.9), 4.3, heard{80, 82}, runs},
		{"it breaks free, and what hummed besides falls silent", "motor_start@5.0 stall_start@5.0 stall_end@12.0 motor_stop@30.0", 12, complex(0.4, -3.9), 4.3, heard{60, 80}, runs},
		{"it breaks free, and hums on", "motor_start@5.0 stall_start@5.0 stall_end@12.0 motor_stop@30.0", 12, complex(0.4, -3.9), 4.3, hum, heard{60, 74}},
		{"it starts, and is quieter when it runs", "motor_start@5.0 motor_stop@30.0", 5.6, complex(0.4, -3.9), 0, hum, heard{58, 61}},
		{"the heater goes", "motor_start@5.0 stall_start@5.0 stall_end@30.0 trip@30.0", 12, complex(22, -20), 0, hum, room},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := func(t float64) heard {
				switch {
				case t < rises || t >= ends:
					return room
				case t < c.goesS:
					return c.was
				}
				return c.is
			}
			v := vectors{
				motor: func(t float64) complex128 {
					return fromTo(rises, c.goesS, complex(22, -20))(t) + fromTo(c.goesS, ends, c.left)(t)
				},
				other: func(t float64) complex128 { // a heater, which draws less as it warms
					return fromTo(7, c.goesS, 5)(t) + fromTo(c.goesS, 60, c.heaterA)(t)
				},
				third: func(float64) float64 { return 0 },
				laDB:  func(t float64) float64 { return at(t).aDB },
			}
			got := switchings(v.hum(40, of("induction"), func(t float64) float64 { return at(t).cDB - at(t).aDB }))
			if got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}
