package run_test

import (
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// A recording that ends in a stall or an overload does not show how that ended: neither a trip nor a short stall.
func TestRecordingEndsInAStall(t *testing.T) {
	for _, c := range []struct {
		name   string
		course course
		code   string
	}{
		{"short stall", course{{3, 30, 0}, {3.3, 3.9, 0}, {10, 31, 0}}, "ended-in-stall"},
		{"long stall", course{{3, 30, 0}, {3.3, 3.9, 0}, {7, 31, 0}}, "ended-in-stall"},
		{"overload", course{{3, 30, 0}, {3.3, 3.9, 0}, {7, 9, 0.01}}, "ended-in-overload"},
	} {
		runs, warnings := c.course.play(11.5, setup())
		if len(runs) != 1 {
			t.Fatalf("%s: %d runs, want 1", c.name, len(runs))
		}
		text := ""
		for _, w := range warnings {
			if w.Code == c.code {
				text = w.Text
			}
			if strings.HasPrefix(w.Code, "short-") {
				t.Errorf("%s: %s", c.name, w.Text)
			}
		}
		if !strings.Contains(text, "ended at 11.") {
			t.Errorf("%s: no warning says that the recording ended in it: %v", c.name, warnings)
		}
		last := runs[0].Events[len(runs[0].Events)-1]
		if last.Kind != rig.MotorStop {
			t.Errorf("%s: told as %s", c.name, last.Kind)
		}
		for _, e := range runs[0].Events {
			if strings.Contains(e.Evidence, "the current stopped") {
				t.Errorf("%s: %s: %s", c.name, e.Kind, e.Evidence)
			}
			if (e.Kind == rig.StallEnd || e.Kind == rig.OverloadEnd) && e.Sure.V > 0.3 {
				t.Errorf("%s: %s is %g sure, and was not seen", c.name, e.Kind, e.Sure.V)
			}
		}
	}
}

// A recording that ends just after the current did shows the stop, not a motor that runs on.
func TestRecordingEndsAtTheStop(t *testing.T) {
	runs, warnings := course{{3, 30, 0}, {3.3, 3.9, 0}, {11.96, 0, 0}}.play(12, setup())
	if len(runs) != 1 || runs[0].EndS() > 11.97 || len(warnings) > 0 {
		t.Errorf("got %v, %v; want a stop at 11.96 s and no warning", runs, warnings)
	}
}

// Without sound, what is left when a motor stops is another appliance's if as much was left when it stopped before.
func TestStopsOntoWhatWasLeft(t *testing.T) {
	for _, stepS := range []float64{0, 0.05} {
		b := bench{motor: "induction", lockedA: 25, stepS: stepS, deaf: true, seconds: 24}
		for _, x := range [][2]float64{{3, 24}, {3.3, 3.4}, {10, 0.9}, {14, 24}, {14.3, 3.5}, {20, 0.9}} {
			b.course = append(b.course, moment{fromS: x[0], rmsA: x[1], ragged: 0.001})
		}
		if got, w := b.play(); got != "motor_start@3 motor_stop@10 motor_start@14 motor_stop@20" {
			t.Errorf("readings every %g s: %s\n%v", stepS, got, w)
		}
	}
}

// A microphone that has died says nothing, neither that the motor stopped nor that it goes on.
func TestMicrophoneDies(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0.06, aDB, aDB, aDB - 10, false}
	}
	for _, c := range []struct {
		name, want string
		bench
	}{
		{"before a motor stops of whose clamp nothing is known", "motor_start@0 motor_stop@8",
			bench{motor: "universal", diesS: 6, course: []moment{at(0, 3, 0.05, 75), at(8, 0, 0, 45)}}},
		{"before a load goes", "motor_start@3 motor_stop@20",
			bench{motor: "universal", diesS: 10, course: []moment{at(0, 0, 0, 45), at(3, 1.2, 0.004, 66), at(8, 3.5, 0.08, 74), at(14, 1.2, 0.004, 66), at(20, 0, 0, 45)}}},
		{"not, and a motor stops as soon as the recording begins", "motor_start@0 motor_stop@1",
			bench{motor: "induction", course: []moment{at(0, 3.9, 0.004, 68), at(0.9, 0, 0, 45)}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := c.bench
			b.seconds, b.lockedA = 24, 25
			got, w := b.play()
			if lost := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "clamp-lost" }); got != c.want || lost {
				t.Errorf("got %q, want %q and no lost clamp; %v", got, c.want, w)
			}
		})
	}
}
