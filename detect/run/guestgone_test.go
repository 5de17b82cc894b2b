package run_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestOthersEndByReadings: beside an appliance that came while an induction motor of 3.8 A without load ran, readings step
// down, unheard. It is that appliance's end if it leaves what the motor drew, and could not be the motor's stop; else it
// is the motor's own: its stop, or the end of its load.
func TestOthersEndByReadings(t *testing.T) {
	const idleA = 3.8
	at := func(fromS, loadA, heaterA, aDB float64) moment {
		return moment{fromS, math.Hypot(loadA+heaterA, idleA), 0.0005, 0, aDB, aDB, 50, false}
	}
	alone := func(fromS, heaterA, aDB float64) moment {
		return moment{fromS, heaterA, 0.0005, 0, aDB, aDB, 50, false}
	}
	starts := []moment{alone(0, 0, 45), {3, 24, 0.0005, 0, 70, 70, 50, false}, at(3.3, 0, 0, 70), {6, 4.2, 0.0005, 0, 76, 76, 50, false}, at(7, 0, 0, 70)}
	grows := func(fromS, loadA float64) (out []moment) { // as load does: over many readings
		for i := range 40 {
			out = append(out, at(fromS+float64(i)*0.05, loadA*float64(i+1)/40, 0, 70))
		}
		return out
	}
	quiet := []moment{alone(22, 0, 65), alone(22.5, 0, 55), alone(23, 0, 45)}
	for _, c := range []struct {
		name, want string
		gone       string // when the other appliance is told to have been switched off
		course     []moment
	}{
		{"it goes", "motor_start@3 motor_stop@22", "14", []moment{at(10, 0, 5, 70), at(14, 0, 0, 70)}},
		{"it goes while the motor is loaded", "motor_start@3 motor_stop@22", "14", append(grows(7.5, 2), at(10, 2, 3, 70), at(14, 2, 0, 70))},
		{"it goes, and had come to draw less", "motor_start@3 motor_stop@22", "14",
			[]moment{at(10, 0, 3.7, 70), at(11.5, 0, 3.4, 70), at(12, 0, 3.1, 70), at(12.5, 0, 2.8, 70), at(13, 0, 2.6, 70), at(14, 0, 0, 70)}},
		{"a large load goes, and it stays", "motor_start@3 overload_start@9 overload_end@14 motor_stop@22", "18",
			append(grows(7.5, 7), at(10, 7, 2, 70), at(14, 2, 2, 70), at(18, 2, 0, 70))},
		{"the motor stops, coasting as loud as it ran, and leaves about as much as it drew", "motor_start@3 motor_stop@14", "",
			[]moment{at(10, 0, 4.5, 70), alone(14, 4.5, 69.5), alone(15, 4.5, 60), alone(16, 4.5, 50), alone(17, 4.5, 45), alone(22, 4.5, 45)}},
		{"the motor stops, and leaves less than it drew", "motor_start@3 motor_stop@14", "",
			[]moment{at(10, 0, 2.4, 70), alone(14, 2.4, 69.5), alone(15, 2.4, 60), alone(16, 2.4, 50), alone(17, 2.4, 45), alone(22, 2.4, 45)}},
		{"it goes with the motor, and half of it comes back", "motor_start@3 motor_stop@14", "",
			[]moment{at(10, 0, 6, 70), alone(14, 2.8, 69.5), alone(15, 2.8, 60), alone(16, 2.8, 50), alone(17, 2.8, 45), alone(22, 2.8, 45)}},
	} {
		b := bench{motor: "induction", lockedA: 25, stepS: 0.025, seconds: 26, course: append(append(append([]moment{}, starts...), c.course...), quiet...)}
		got, warnings := b.play()
		var gone []string
		for _, w := range warnings {
			var from, to, atS float64
			if n, _ := fmt.Sscanf(w.Text, "current fell from %f A to %f A at %f s", &from, &to, &atS); n == 3 {
				gone = append(gone, fmt.Sprintf("%.0f", atS))
			}
		}
		if got != c.want || strings.Join(gone, " ") != c.gone {
			t.Errorf("%s: got %s, ends of the other at %v, want %s, %s\n%v", c.name, got, gone, c.want, c.gone, warnings)
		}
	}
}
