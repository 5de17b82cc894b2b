package run_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/detect/run"
)

// TestListenerBySpeed: a motor's sound rises by 50 dB a decade of speed (common practice), so it coasts down almost
// straight in dB. All levels are invented.
func TestListenerBySpeed(t *testing.T) {
	const never = 99.0
	for _, c := range []struct {
		name, motor string
		on          [][2]float64 // power
		coastS      float64      // from full speed to rest
		ownDB       float64
		tap         [2]float64
		tapDB       float64
		heldAt      float64 // the rotor is caught then
		humDB       float64 // C-weighted, while it is held
		grind       [2]float64
		want        string
	}{
		{"jogs between which it coasts", "induction", [][2]float64{{4, 4.4}, {5.4, 5.8}, {7, 20}}, 3, 70, [2]float64{2, never}, 55, never, 0, [2]float64{},
			"motor_start@4.0 motor_stop@4.4 motor_start@5.4 motor_stop@5.8 motor_start@7.0 motor_stop@20.0"},
		{"a restart within half a second", "induction", [][2]float64{{4, 14}, {14.5, 24}}, 2, 70, [2]float64{2, never}, 55, never, 0, [2]float64{},
			"motor_start@4.0 motor_stop@14.0 motor_start@14.5 motor_stop@24.0"},
		{"a long coasting, water on", "permanent-magnet", [][2]float64{{4, 20}}, 8, 62, [2]float64{2, never}, 60, never, 0, [2]float64{}, "motor_start@4.0 motor_stop@20.0"},
		{"quieter than the tap", "induction", [][2]float64{{5, 20}}, 2, 57, [2]float64{1, never}, 63, never, 0, [2]float64{}, "motor_start@5.0 motor_stop@20.0"},
		{"caught, and a faint hum", "permanent-magnet", [][2]float64{{4, 14}}, 4, 72, [2]float64{2, never}, 55, 11, 56, [2]float64{}, "motor_start@4.0 motor_stop@14.0"},
		{"slowed by grinding", "universal", [][2]float64{{4, 24}}, 1, 72, [2]float64{2, never}, 55, never, 0, [2]float64{9, 16}, "motor_start@4.0 motor_stop@24.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(8, 9))
			set := setup()
			set.Unit.Motor = c.motor
			l := run.NewListener(set)
			pa := func(db float64) float64 { return 20e-6 * 20e-6 * math.Pow(10, db/10) }
			n, tap := 0.0, 0.0
			for k := range 3000 {
				s := float64(k) / 100
				on := false
				for _, o := range c.on {
					on = on || s >= o[0] && s < o[1]
				}
				top := 1.0
				if s >= c.grind[0] && s < c.grind[1] {
					top = 0.6
				}
				switch {
				case s >= c.heldAt:
					n = max(0, n-0.01/0.04)
				case on && n < top:
					n = min(top, n+0.01/0.25)
				case on:
					n = max(top, n-0.01/0.5)
				default:
					n = max(0, n-0.01/c.coastS)
				}
				if s >= c.tap[0] && s < c.tap[1] {
					tap += (pa(c.tapDB) - tap) * 0.1
				}
				g := func() float64 { return 1 + 0.05*rng.NormFloat64() }
				own, hiss := pa(c.ownDB)*math.Pow(n, 5)*g(), tap*g()
				hum, crunch := 0.0, 0.0
				if on && s >= c.heldAt {
					hum = pa(c.humDB)
				}
				if top < 1 && n > 0 {
					crunch = pa(c.ownDB+3) * g()
				}
				room := pa(40) * g()
				l.Heard(run.Heard{StartS: s, EndS: s + 0.01,
					EA: 0.01 * (room + own + hiss + crunch + hum/60), // 18 dB less than C at 110 Hz
					EC: 0.01 * (1.5*room + 3*own + 0.7*hiss + 0.8*crunch + hum),
					ET: 0.01 * (0.2*room + 0.05*own + 0.4*hiss + 0.2*crunch)})
			}
			var got []string
			for _, r := range l.Finish(30) {
				for _, e := range r.Events {
					at := e.AtS.V
					for _, o := range c.on { // within 0.3 s of the truth it is the truth
						for _, x := range o {
							if math.Abs(at-x) < 0.3 {
								at = x
							}
						}
					}
					got = append(got, fmt.Sprintf("%s@%.1f", e.Kind, at))
				}
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("got  %s\nwant %s", g, c.want)
			}
		})
	}
}
