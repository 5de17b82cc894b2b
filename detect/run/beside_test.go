package run_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// TestJogBesideAHeater starts an induction motor for a moment beside a heater, before it was ever seen empty: its current
// goes as it had come, a quarter turn behind the heater's.
func TestJogBesideAHeater(t *testing.T) {
	motor := func(t float64) complex128 {
		for _, s := range []float64{4, 6} {
			if age := t - s; age >= 0 && age < 0.15 {
				return complex(22, -20)
			}
		}
		if t >= 4 && t < 4.7 || t >= 6 && t < 20 {
			return complex(0.4, -3.9)
		}
		return 0
	}
	heater := func(t float64) complex128 {
		if t > 1.5 && t < 12 {
			return 7
		}
		return 0
	}
	sound := func(t float64) float64 {
		switch {
		case t >= 4 && t < 4.7 || t >= 6 && t < 20:
			return 66
		case t >= 4.7 && t < 6:
			return max(45, 66-10*(t-4.7)) // coasts
		case t >= 20:
			return max(45, 66-10*(t-20))
		}
		return 45
	}
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "induction", 6, 30
	got, w := conductor{motor, heater, sound, false}.play(24, set)
	if want := "motor_start@4.0 motor_stop@4.7 motor_start@6.0 motor_stop@20.0"; got != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, w)
	}
}

// TestTooLittleForTheMotor: beside what came while an induction motor ran, a step down to less than its own no-load current
// is its stop, not the other's end.
func TestTooLittleForTheMotor(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment { return moment{fromS, rmsA, 0.0005, 0, aDB, aDB, 50, false} }
	b := bench{motor: "induction", lockedA: 25, stepS: 0.025, seconds: 24, course: []moment{at(0, 0, 45),
		at(3, 24, 70), at(3.3, 3.8, 70), at(6, 4.2, 76), at(7, 3.8, 70), at(10, 6.2, 70), at(14, 1.8, 69.5), at(15, 1.8, 60), at(16, 1.8, 50), at(17, 1.8, 45)}}
	if got, w := b.play(); got != "motor_start@3 motor_stop@14" {
		t.Errorf("got %s; %v", got, w)
	}
}

// TestStopAcrossAHeater: the no-load current of an induction motor stands across a heater's far larger one and takes little
// with it when it goes. The sound falls with it; a load that goes off is heard as well, and takes none of that away.
func TestStopAcrossAHeater(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.0003, 0, aDB, aDB, aDB - 15, false}
	}
	for _, c := range []struct {
		name, want string
		rest       []moment
	}{
		{"stops", "motor_start@3 motor_stop@20", []moment{at(20, 11.6, 60), at(20.5, 11.6, 48), at(21, 11.6, 40)}},
		{"is heard to go on", "motor_start@3 motor_stop@30", []moment{at(20, 11.6, 70)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "induction", lockedA: 30, stepS: 0.1, seconds: 30, course: append([]moment{at(0, 0, 40),
				at(3, 24, 70), at(3.4, 4, 70), at(8, 12.5, 70)}, c.rest...)}
			got, w := b.play()
			if got = withoutOverloads(got); got != c.want {
				t.Errorf("got %s, want %s; %v", got, c.want, w)
			}
		})
	}
}

// TestStopThatMeansShow: readings whose windows are no whole cycles beat, by more than the stop beside a heater takes away;
// their means show it.
func TestStopThatMeansShow(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.03, 0, aDB, aDB, aDB - 15, false}
	}
	for _, c := range []struct {
		motor         string
		lockedA       float64
		inrushA, idle float64
		withA, leftA  float64
	}{
		{"induction", 30, 24, 4, 12.5, 11.6},
		{"universal", 20, 14, 1.6, 7.3, 5.7},
	} {
		t.Run(c.motor, func(t *testing.T) {
			b := bench{motor: c.motor, lockedA: c.lockedA, stepS: 0.022, seconds: 30, course: []moment{at(0, 0, 40), at(3, c.inrushA, 70), at(3.4, c.idle, 70),
				at(8, c.withA, 70), at(20, c.leftA, 60), at(20.5, c.leftA, 48), at(21, c.leftA, 40)}}
			got, w := b.play()
			if got = withoutOverloads(got); got != "motor_start@3 motor_stop@20" {
				t.Errorf("got %s; %v", got, w)
			}
		})
	}
}

// TestLessThanTheHeater: beside a heater that was there before the motor, readings of less than it draws say that it has
// gone. It moved the current, and no load did.
func TestLessThanTheHeater(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, aDB, aDB - 10, false}
	}
	b := bench{motor: "universal", lockedA: 20, stepS: 0.1, seconds: 30, course: []moment{at(0, 7.5, 0, 45), at(4, 19, 0, 70), at(4.3, 9.1, 0.001, 70),
		at(8, 10.5, 0.04, 78), at(14, 9.1, 0.001, 70), at(20, 1.6, 0.002, 70), at(26, 0, 0, 45)}}
	if got, w := b.play(); got != "motor_start@4 motor_stop@26" {
		t.Errorf("got %s; %v", got, w)
	}
	loads := b.loads()
	if len(loads) != 2 || !(math.Abs(loads[0].AtS.V-8) <= 0.5) || !(math.Abs(loads[1].AtS.V-14) <= 0.5) {
		t.Errorf("got %v; want load from 8 to 14 s", loads)
	}
}

// TestOverloadBesideWhatCameWithTheInrush: what came unseen amid the inrush, and lifted all that flows so high that no empty
// motor draws it, made an overload of a load. When the motor stops, and it goes on, that is taken back.
func TestOverloadBesideWhatCameWithTheInrush(t *testing.T) {
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 20:
			return 0
		case t < 3.3:
			return complex(22, -20)
		}
		return complex(0.4+3*max(min(t-10, 1, 16-t), 0), -3.9)
	}
	heater := func(t float64) complex128 {
		if t < 3.05 || t >= 26 {
			return 0
		}
		return 4.5
	}
	sound := steps(0.02, stretch{3, 45}, stretch{20, 70}, stretch{40, 45})
	got, w := wired{conductor: conductor{motor, heater, sound, false}, third: 0.05}.play(34, setup())
	if want := "motor_start@3.0 motor_stop@20.0"; got != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, w)
	}
}

// TestUnheardBetweenReadings: between two readings load may come that drives the current. What came and went by the same,
// and was never heard, was another appliance's; what is heard with its current is the motor's.
func TestUnheardBetweenReadings(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, aDB, aDB - 10, false}
	}
	for _, c := range []struct {
		name, motor, want string
		told              bool
		course            []moment
	}{
		{"a heater amid load", "universal", "motor_start@3 motor_stop@24", true, []moment{at(0, 0, 0, 45), at(3, 12, 0, 70), at(3.3, 1.6, 0.001, 70),
			at(8, 3.2, 0.04, 73), at(12, 8.2, 0.016, 73), at(18, 3.2, 0.04, 73), at(24, 0, 0, 45)}},
		{"an overload that is heard", "universal", "motor_start@3 overload_start@12 overload_end@18 motor_stop@24", false, []moment{at(0, 0, 0, 45), at(3, 12, 0, 70), at(3.3, 1.6, 0.001, 70),
			at(8, 3.2, 0.04, 73), at(12, 8.2, 0.016, 77), at(18, 3.2, 0.04, 73), at(24, 0, 0, 45)}},
		{"an overload that ends otherwise", "universal", "motor_start@3 overload_start@12 overload_end@18 motor_stop@24", false, []moment{at(0, 0, 0, 45), at(3, 12, 0, 70), at(3.3, 1.6, 0.001, 70),
			at(8, 3.2, 0.04, 73), at(12, 8.2, 0.016, 73), at(18, 1.6, 0.001, 73), at(24, 0, 0, 45)}},
		{"a heater beside a motor whose load nobody has heard yet", "induction", "motor_start@3 motor_stop@28", true, []moment{at(0, 0, 0, 45), at(3, 24, 0, 70), at(3.3, 3.4, 0.004, 70),
			at(12, 8, 0.004, 70)}},
		{"a load after another that nobody heard", "induction", "motor_start@3 overload_start@12 overload_end@18 motor_stop@24", false, []moment{at(0, 0, 0, 45), at(3, 24, 0, 70), at(3.3, 3.4, 0.004, 70),
			at(8, 4, 0.04, 70), at(12, 8.2, 0.012, 70), at(18, 5, 0.012, 70), at(20, 3.4, 0.004, 70), at(24, 0, 0, 45)}},
		{"a load that comes as suddenly, and is ragged", "induction", "motor_start@3 overload_start@12 overload_end@18 motor_stop@24", false, []moment{at(0, 0, 0, 45), at(3, 24, 0, 70), at(3.3, 3.4, 0.004, 70),
			at(12, 8.2, 0.012, 70), at(18, 5, 0.012, 70), at(20, 3.4, 0.004, 70), at(24, 0, 0, 45)}},
		{"a stall, and the heater goes on over the stop", "permanent-magnet", "motor_start@3 stall_start@14 stall_end@16 motor_stop@16", true, []moment{at(0, 0, 0, 45), at(3, 12, 0, 70), at(3.3, 1.6, 0.001, 70),
			at(8, 8, 0.04, 73), at(14, 12, 0.001, 50), at(16, 5, 0.02, 46), at(22, 0, 0, 45)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: c.motor, stepS: 0.03, seconds: 28, course: c.course}
			got, w := b.play()
			if told := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "other-appliance" }); got != c.want || told != c.told {
				t.Errorf("got  %s, another appliance told: %v\nwant %s, %v\n%v", got, told, c.want, c.told, w)
			}
		})
	}
}

// TestStallEndsWhatCame: what came within a cycle and was not seen to go before a stall whose end takes all the current was
// the motor's.
func TestStallEndsWhatCame(t *testing.T) {
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 20:
			return 0
		case t < 3.2, t >= 16:
			return complex(22, -20)
		case t >= 12:
			return complex(7.4, -3.9)
		}
		return complex(0.9, -3.9)
	}
	sound := steps(0.02, stretch{3, 45}, stretch{16, 70}, stretch{20, 56}, stretch{40, 45})
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "induction", 6, 30
	got, w := conductor{motor, func(float64) complex128 { return 0 }, sound, false}.play(24, set)
	if want := "motor_start@3.0 overload_start@12.0 stall_start@16.0 overload_end@16.0 stall_end@20.0 trip@20.0"; got != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, w)
	}
}

// withoutOverloads leaves out what a heater on top of the motor is told as where nothing shows that it is one.
func withoutOverloads(events string) string {
	var out []string
	for _, e := range strings.Fields(events) {
		if !strings.HasPrefix(e, "overload") {
			out = append(out, e)
		}
	}
	return strings.Join(out, " ")
}

// TestHeaterGoesWhileAStartIsHeldBack: what came with the motor, unseen, goes while it is not told yet that the motor started.
func TestHeaterGoesWhileAStartIsHeldBack(t *testing.T) {
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 20:
			return 0
		case t < 3.3:
			return complex(5, -7)
		}
		return complex(0.4, -3.9)
	}
	heater := func(t float64) complex128 {
		if t < 3 || t >= 5 {
			return 0
		}
		return 6
	}
	sound := steps(0.02, stretch{3, 45}, stretch{20, 70}, stretch{40, 45})
	got, w := wired{conductor: conductor{motor, heater, sound, false}, third: 0.05}.play(24, setup())
	if want := "motor_start@3.0 motor_stop@20.0"; got != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, w)
	}
}

// TestTakesSeveralReadings: what is switched on is there by the next reading; an overload of an induction motor takes some
// cycles, and so several short readings, though nothing is heard of it beside what grinds already.
func TestTakesSeveralReadings(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.005, 0, aDB, aDB, aDB - 10, false}
	}
	for _, c := range []struct {
		name, want string
		ramp       []moment
	}{
		{"an overload", "motor_start@3 overload_start@12 overload_end@16 motor_stop@20", []moment{at(12, 5.3, 74), at(12.03, 6.3, 74), at(12.06, 7.2, 74)}},
		{"a heater", "motor_start@3 motor_stop@20", []moment{at(12.015, 8.2, 74)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			course := append([]moment{at(0, 0, 45), at(3, 24, 70), at(3.3, 3.8, 70), at(8, 4.4, 74)}, c.ramp...)
			b := bench{motor: "induction", lockedA: 30, stepS: 0.03, seconds: 24, course: append(course, at(12.09, 8.2, 74), at(16, 4.4, 74), at(20, 0, 45))}
			if got, w := b.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestToldOnce: an appliance that was told of when it came is not told of again when the motor stops and it goes on.
func TestToldOnce(t *testing.T) {
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 30:
			return 0
		case t < 3.3:
			return complex(22, -20)
		}
		return complex(0.4, -3.9)
	}
	sound := steps(0.02, stretch{3, 45}, stretch{30, 70}, stretch{40, 45})
	heater := func(t float64) complex128 {
		if t < 20 {
			return 0
		}
		return 8
	}
	_, w := conductor{motor, heater, sound, false}.play(40, setup())
	got := 0
	for _, w := range w {
		if w.Code == "other-appliance" {
			got++
		}
	}
	if got != 1 {
		t.Errorf("told %d times, expected once: %v", got, w)
	}
}
