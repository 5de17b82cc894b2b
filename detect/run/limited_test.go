package run_test

import "testing"

// TestLimitedStalls holds the rotor of a motor whose electronics limit its current.
func TestLimitedStalls(t *testing.T) {
	quiet := func(fromS float64) moment { return moment{fromS, 0, 0.0005, 0, 40, 39, 25, false} }
	empty := func(fromS, ragged float64) moment { return moment{fromS, 1, ragged, 0.8, 70, 69, 58, false} }
	// Freed, electronics bring the rotor up again: its current rises as evenly as a line.
	freed := []moment{quiet(0), empty(3, 0.0005), {10, 4, 0.2, 0.8, 82, 81, 70, false}, {14, 8, 0.0003, 0.8, 50, 49, 38, false}}
	for age := 0.0; age < 0.8; age += 0.005 {
		freed = append(freed, moment{16 + age, 2 + 5*age, 0.0003, 0.8, 50 + 15*age, 49 + 15*age, 38 + 15*age, false})
	}
	freed = append(freed, empty(16.8, 0.0005), quiet(25))
	for _, c := range []struct {
		name, want string
		bench
	}{
		{"one that is freed and brought up again", "motor_start@3 stall_start@14 stall_end@16 motor_stop@25", bench{course: freed}},
		{"a start that fails below what heavy grinding draws", "motor_start@3 stall_start@3 stall_end@5 motor_stop@5 motor_start@15 motor_stop@25",
			bench{course: []moment{quiet(0), {3, 5, 0.0005, 0.8, 41, 40, 25, false}, quiet(5), empty(15, 0.0005), quiet(25)}}},
		{"a start that fails at more than a socket's appliance draws", "motor_start@3 stall_start@3 stall_end@7 trip@7 motor_start@15 motor_stop@25",
			bench{stepS: 0.04, ratedA: 8, course: []moment{quiet(0), {3, 17, 0.001, 0.8, 41, 40, 25, false}, quiet(7), empty(15, 0.0005), quiet(25)}}},
		{"a loaded start that is heard", "motor_start@3 motor_stop@5 motor_start@15 motor_stop@25",
			bench{course: []moment{quiet(0), {3, 5, 0.0005, 0.8, 72, 71, 60, false}, quiet(5), empty(15, 0.0005), quiet(25)}}},
		{"readings that are no whole cycles, as even as the empty motor's", "motor_start@3 stall_start@14 stall_end@16 motor_stop@16",
			bench{stepS: 0.04, course: []moment{quiet(0), empty(3, 0.06), {10, 4, 0.2, 0.8, 82, 81, 70, false}, {14, 8, 0.03, 0.8, 66, 65, 54, false}, quiet(16)}}},
		{"readings more ragged than those", "motor_start@3 motor_stop@16",
			bench{stepS: 0.04, course: []moment{quiet(0), empty(3, 0.015), {10, 4, 0.2, 0.8, 82, 81, 70, false}, {14, 8, 0.06, 0.8, 66, 65, 54, false}, quiet(16)}}},
		{"the tap hides the empty motor, but the sound falls as the current rises", "motor_start@3 stall_start@14 stall_end@15 motor_stop@15",
			bench{course: []moment{quiet(0), {3, 1, 0.0005, 0.8, 60, 59, 45, false}, {10, 4, 0.2, 0.8, 75, 74, 66, false}, {14, 8, 0.0005, 0.8, 66, 65, 58, false}, quiet(15)}}},
		{"by readings, and the sound falls as far as the tap lets it", "motor_start@3 stall_start@14 stall_end@15 motor_stop@15",
			bench{stepS: 0.04, course: []moment{{0, 0, 0.0005, 0, 64, 63, 54, false}, {3, 1, 0.0005, 0.8, 67, 66, 57, false}, {10, 4, 0.2, 0.8, 75, 74, 66, false}, {14, 8, 0.0005, 0.8, 65, 64, 55, false}, {15, 0, 0.0005, 0, 64, 63, 54, false}}}},
		{"by readings, and it falls no further in a quiet room", "motor_start@3 motor_stop@15",
			bench{stepS: 0.04, course: []moment{quiet(0), {3, 1, 0.0005, 0.8, 67, 66, 57, false}, {10, 4, 0.2, 0.8, 75, 74, 66, false}, {14, 8, 0.0005, 0.8, 65, 64, 55, false}, quiet(15)}}},
		{"by a few readings, of whose sound only the treble falls", "motor_start@3 motor_stop@19",
			bench{stepS: 0.5, course: []moment{quiet(0), {3, 4.2, 0.002, 0.8, 74, 73, 70, false}, {14, 4.2, 0.002, 0.8, 74, 73, 55, false}, quiet(19)}}},
		{"nothing is heard, and it is less ragged than before it rose", "motor_start@3 stall_start@14 stall_end@15 motor_stop@15",
			bench{deaf: true, course: []moment{quiet(0), empty(3, 0.0005), {10, 4, 0.004, 0.8, 0, 0, 0, false}, {14, 8, 0.0004, 0.8, 0, 0, 0, false}, quiet(15)}}},
		{"nothing is heard, and it is as ragged", "motor_start@3 motor_stop@15",
			bench{deaf: true, course: []moment{quiet(0), empty(3, 0.0005), {10, 4, 0.001, 0.8, 0, 0, 0, false}, {14, 8, 0.0005, 0.8, 0, 0, 0, false}, quiet(15)}}},
		{"the room hides how much quieter it is, and it is less ragged than before it rose", "motor_start@3 stall_start@14 stall_end@15 motor_stop@15",
			bench{course: []moment{{0, 0, 0.0005, 0, 57, 56, 43, false}, {3, 1, 0.0005, 0.8, 60, 59, 45, false}, {10, 4, 0.004, 0.8, 60, 59, 45, false}, {14, 8, 0.0004, 0.8, 59.2, 58.2, 44.2, false}, {15, 0, 0.0005, 0, 57, 56, 43, false}}}},
		{"a heavier load that grinds on as loud", "motor_start@3 motor_stop@15",
			bench{course: []moment{quiet(0), {3, 1, 0.0005, 0.8, 60, 59, 45, false}, {10, 4, 0.2, 0.8, 75, 74, 66, false}, {14, 8, 0.0005, 0.8, 76, 75, 66, false}, quiet(15)}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := c.bench
			b.motor, b.seconds = "permanent-magnet", 30
			if got, w := b.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}
