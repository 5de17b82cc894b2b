package run_test

import "testing"

// TestJogs switches on for a moment what draws no more than an appliance may. More than the rated current, of which nothing
// is left, was the motor; so was less, just after it. A compressor's inrush leaves what that draws then.
func TestJogs(t *testing.T) {
	at := func(fromS, rmsA float64) moment { return moment{fromS, rmsA, 0.001, 0.06, 45, 45, 30, false} }
	again := []moment{at(5, 18), at(5.3, 2), at(8, 0)}
	for _, c := range []struct {
		name, want string
		course     []moment
	}{
		{"the motor", "motor_start@3 motor_stop@3", []moment{at(3, 8), at(3.2, 0)}},
		{"a compressor", "", []moment{at(3, 8), at(3.2, 0.6), at(8, 0)}},
		{"too little for a start", "", []moment{at(3, 3), at(3.2, 0)}},
		{"as little, just after a stop", "motor_start@5 motor_stop@8 motor_start@9 motor_stop@9", append(again, at(9, 3), at(9.2, 0))},
		{"as little, long after it", "motor_start@5 motor_stop@8", append(again, at(14, 3), at(14.2, 0))},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "universal", lockedA: 20, seconds: 18, course: append([]moment{at(0, 0)}, c.course...)}
			if got, w := b.play(); got != c.want {
				t.Errorf("got %q, want %q\n%v", got, c.want, w)
			}
		})
	}
}

// TestUnheardHeater: where nothing is heard, a current that is from its first cycle on what it stays, and more than the motor
// draws empty, is what heats. One that falls, or is no more than that, is the motor's.
func TestUnheardHeater(t *testing.T) {
	at := func(fromS, rmsA float64) moment { return moment{fromS: fromS, rmsA: rmsA, ragged: 0.001, third: 0.06} }
	for _, c := range []struct {
		name, want string
		course     []moment
	}{
		{"a heater", "", []moment{at(3, 5.5), at(9, 0)}},
		{"a motor that is loaded at once", "motor_start@3 motor_stop@9", []moment{at(3, 10), at(3.3, 5.5), at(9, 0)}},
		{"a motor that is brought up gently", "motor_start@3 motor_stop@9", []moment{at(3, 3), at(9, 0)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "universal", lockedA: 20, seconds: 12, deaf: true, course: append([]moment{at(0, 0)}, c.course...)}
			if got, w := b.play(); got != c.want {
				t.Errorf("got %q, want %q\n%v", got, c.want, w)
			}
		})
	}
}

// TestStartsWithLittle switches a motor on again while its rotor still turns: it draws little from then on, and a tap drowns
// it. It comes in a rectifier's pulses, just after the switch was jogged; long after that it may be anything's.
func TestStartsWithLittle(t *testing.T) {
	at := func(fromS, rmsA, ragged, third, aDB float64) moment {
		return moment{fromS, rmsA, ragged, third, aDB, aDB - 1, aDB - 12, false}
	}
	for _, c := range []struct {
		name, want string
		againS     float64
		third      float64
	}{
		{"just after a jog", "motor_start@3 motor_stop@3 motor_start@5 motor_stop@20", 5, 0.8},
		{"long after it", "motor_start@3 motor_stop@3", 8, 0.8},
		{"a sine", "motor_start@3 motor_stop@3", 5, 0.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "permanent-magnet", ratedA: 4, seconds: 24, course: []moment{at(0, 0, 0, 0, 45), at(3, 6, 0.05, 0.8, 52), at(3.4, 0, 0, 0, 45),
				at(c.againS, 0.5, 0.0005, c.third, 45.5), at(20, 0, 0, 0, 45)}}
			if got, w := b.play(); got != c.want {
				t.Errorf("got %s, want %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestSwitchedOnAgainWhileItTurns jogs a series motor beside a tap that is about as loud: its rotor turns still when it is
// switched on for good, so it starts without an inrush, and is heard no more than before. A kettle that follows draws
// something else.
func TestSwitchedOnAgainWhileItTurns(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.004, 0.06, aDB, aDB, aDB - 10, false}
	}
	for _, c := range []struct {
		againA float64
		want   string
	}{
		{1.9, "motor_start@5 motor_stop@6 motor_start@8 motor_stop@20"},
		{3.2, "motor_start@5 motor_stop@6"},
	} {
		b := bench{motor: "universal", lockedA: 20, seconds: 24, course: []moment{at(0, 0, 57), at(5, 14, 58), at(5.1, 4, 58), at(5.2, 2, 58), at(5.9, 0, 57.5), at(7.6, c.againA, 57.5), at(20, 0, 57)}}
		if got, w := b.play(); got != c.want {
			t.Errorf("%g A: got %s, want %s; %v", c.againA, got, c.want, w)
		}
	}
}
