package run_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/detect/run"
)

// level is what is heard from an instant on, dB, A- and C-weighted.
type level struct{ fromS, laDB, lcDB float64 }

// TestRumble: without current, starts and stops are told by what rumbles. Water hisses: IEC 61672-1 takes about 1 dB
// less off it by A than by C above 1 kHz; a motor's hum at twice the mains is 17 to 19 dB louder in C.
func TestRumble(t *testing.T) {
	quiet, tap, empty := level{0, 42, 44}, level{0, 63, 61}, level{0, 71, 75}
	at := func(s float64, l level) level { l.fromS = s; return l }
	for _, c := range []struct {
		name string
		make []level
		want string
	}{
		{"motor", []level{quiet, at(3, empty), at(20, quiet)}, "motor_start@3.0 motor_stop@20.0"},
		{"tap a second before it, and on after it", []level{quiet, at(2, tap), at(3, empty), at(20, tap)}, "motor_start@3.0 motor_stop@20.0"},
		{"tap long before it", []level{quiet, at(2, tap), at(9, empty), at(20, tap), at(22, quiet)}, "motor_start@9.0 motor_stop@20.0"},
		{"a jam hums on", []level{quiet, at(3, empty), at(9, level{0, 80, 81}), at(14, level{0, 55, 69}), at(18, quiet)}, "motor_start@3.0 motor_stop@18.0"},
		{"grinding that drowns the rumble", []level{quiet, at(3, empty), at(6, level{0, 86, 85}), at(16, empty), at(22, quiet)}, "motor_start@3.0 motor_stop@22.0"},
		{"a motor that the tap drowns", []level{quiet, at(1, tap), at(4, level{0, 63.5, 66}), at(20, tap)}, "motor_start@4.0 motor_stop@20.0"},
		// What follows was found with recordings of real rooms, machines and talk.
		{"a room as loud as a motor", []level{{0, 64, 70}, {7, 78, 79}, {20, 64, 70}}, "motor_start@7.0 motor_stop@20.0"},
		{"a motor from the beginning, which then grinds", []level{{0, 72, 80}, {7, 82, 84}, {12, 72, 80}, {20, 42, 44}}, "motor_start@0.0 motor_stop@20.0"},
		{"a recording that sets in quietly", []level{{0, 20, 24}, {0.3, 50, 55}, {7, 75, 80}, {20, 50, 55}}, "motor_start@7.0 motor_stop@20.0"},
		{"talk when it has hardly stopped", []level{quiet, at(3, empty), at(20, quiet), at(20.6, level{0, 66, 67}), at(20.9, quiet), at(21, level{0, 66, 67}), at(21.3, quiet), at(21.4, level{0, 66, 67}), at(21.8, quiet), at(21.9, level{0, 66, 67}), at(22.2, quiet)}, "motor_start@3.0 motor_stop@20.0"},
		{"it stalls for a moment, and grinds on more quietly", []level{quiet, at(3, level{0, 76, 77}), at(12, level{0, 60, 61}), at(12.5, level{0, 71, 72}), at(22, quiet)}, "motor_start@3.0 motor_stop@22.0"},
		{"a motor that only hisses", []level{quiet, at(3, level{0, 72, 71}), at(20, quiet)}, "motor_start@3.0 motor_stop@20.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(5, 6))
			l := run.NewListener(setup())
			i := 0
			for k := range 3000 {
				s := float64(k) / 100
				for i+1 < len(c.make) && s >= c.make[i+1].fromS {
					i++
				}
				pa := func(db float64) float64 { return 0.01 * 20e-6 * 20e-6 * math.Pow(10, db/10) }
				r := 1 + 0.05*rng.NormFloat64()
				l.Heard(run.Heard{StartS: s, EndS: s + 0.01, EA: r * pa(c.make[i].laDB), EC: r * pa(c.make[i].lcDB)})
			}
			var got []string
			for _, r := range l.Finish(30) {
				for _, e := range r.Events {
					got = append(got, fmt.Sprintf("%s@%.1f", e.Kind, e.AtS.V))
					if strings.Contains(e.Evidence, "tap") && !strings.Contains(c.name, "tap") {
						t.Errorf("there is no tap: %s", e.Evidence)
					}
				}
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("got  %s\nwant %s", g, c.want)
			}
		})
	}
}
