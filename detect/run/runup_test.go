package run_test

import (
	"math"
	"testing"
)

// TestRunUpInALoudRoom starts a series motor in a room in which it is hardly heard: its current falls as it runs up, from
// its first cycle on and for long. A compressor's inrush stays as high until it is over at once.
func TestRunUpInALoudRoom(t *testing.T) {
	seriesMotor := func(age float64) float64 { return 1.2 + 3*math.Exp(-age/0.12) + 8*math.Exp(-age/0.01) }
	compressor := func(age float64) float64 {
		if age < 0.35 {
			return 8
		}
		return 1.2
	}
	for _, c := range []struct {
		name, want string
		amperes    func(age float64) float64
	}{
		{"a series motor", "motor_start@3 motor_stop@20", seriesMotor},
		{"a compressor", "", compressor},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := func(fromS, rmsA, aDB float64) moment {
				return moment{fromS, rmsA, 0.0005, 0, aDB, aDB - 1, aDB - 12, false}
			}
			b := bench{motor: "universal", seconds: 24, course: []moment{at(0, 0, 62)}}
			for age := 0.0; age < 3; age += 0.01 {
				b.course = append(b.course, at(3+age, c.amperes(age), 62+2*min(age/0.5, 1)))
			}
			b.course = append(b.course, at(6, 1.2, 64), at(20, 0, 62))
			if got, w := b.play(); got != c.want {
				t.Errorf("got %q, want %q\n%v", got, c.want, w)
			}
		})
	}
}
