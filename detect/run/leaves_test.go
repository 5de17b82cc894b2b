package run_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestInrushComesOnce puts what falls fast to little beside an induction motor that is not heard to be loaded: once it is a
// small motor's inrush, and twice it is pieces that reach the cutters.
func TestInrushComesOnce(t *testing.T) {
	for _, c := range []struct {
		name      string
		againS    float64
		appliance bool
	}{
		{"once", 100, true},
		{"again soon after", 8.3, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			motor := func(t float64) complex128 {
				switch {
				case t >= 3 && t < 3.3:
					return complex(22, -20)
				case t >= 3 && t < 20:
					return complex(0.4, -3.9)
				}
				return 0
			}
			more := func(t float64) complex128 {
				if t < 8 || t >= 12 {
					return 0
				}
				v := 1.2
				if t < 8.12 {
					v = 4
				} else if age := t - c.againS; age >= 0 && age < 0.12 {
					v = 3.4
				}
				return complex(v*math.Cos(0.6), -v*math.Sin(0.6))
			}
			sound := steps(0.05, stretch{3, 45}, stretch{20, 70}, stretch{40, 45})
			got, w := conductor{motor, more, sound, false}.play(24, of("induction"))
			if want := "motor_start@3.0 motor_stop@20.0"; got != want {
				t.Errorf("got %s, want %s", got, want)
			}
			if told := strings.Contains(fmt.Sprint(w), "other-appliance"); told != c.appliance {
				t.Errorf("another appliance told: %v\n%v", told, w)
			}
		})
	}
}
