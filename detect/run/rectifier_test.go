package run_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quern/detect/motor"
	"quern/detect/run"
	"quern/rig"
)

// TestRotorLocksBehindARectifier draws a permanent-magnet motor that a rectifier feeds with nothing between them: its
// current is what the mains is above the voltage of its rotor, over winding and inductance. Its rotor is held from 8 to 10 s
// within slowsS, and runs up again. All its figures are invented.
func TestRotorLocksBehindARectifier(t *testing.T) {
	const rate, ohms, henry, perRad = 9600.0, 10.0, 0.004, 0.4
	for _, c := range []struct {
		name     string
		slowsS   float64
		kgm2     float64
		emptyNm  float64
		lockedA  float64 // on the nameplate
		deaf     bool
		heaterA  float64 // from 12 to 14 s
		want     string
		warnings string
	}{
		{"at once", 0.01, 0.0008, 0.12, 12, false, 0, "motor_start@2.0 stall_start@8.0 stall_end@10.0 motor_stop@18.0", ""},
		{"within some cycles", 0.08, 0.0008, 0.12, 0, false, 0, "motor_start@2.0 stall_start@8.1 stall_end@10.0 motor_stop@18.0", ""},
		{"with more friction", 0.02, 0.0008, 0.3, 0, false, 0, "motor_start@2.0 stall_start@8.0 stall_end@10.0 motor_stop@18.0", ""},
		{"a heavy rotor, whose current falls long", 0.02, 0.008, 0.12, 0, false, 0, "motor_start@2.0 stall_start@8.0 stall_end@10.0 motor_stop@18.0", ""},
		{"unheard", 0.02, 0.0008, 0.12, 0, true, 0, "motor_start@2.0 stall_start@8.0 stall_end@10.0 motor_stop@18.0", ""},
		{"and a heater beside it later", 0.01, 0.0008, 0.12, 12, false, 10, "motor_start@2.0 stall_start@8.0 stall_end@10.0 motor_stop@18.0", "other-appliance other-appliance"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, err := motor.New(rate, 1, 60, 0.03)
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, 20*rate)
			amps, rad := 0.0, 0.0
			for i := range x {
				at := float64(i) / rate
				mains := 120 * math.Sqrt2 * math.Sin(2*math.Pi*60*at)
				if at >= 2 && at < 18 {
					amps = max(amps+(math.Abs(mains)-1.6-perRad*rad-ohms*amps)/henry/rate, 0)
					rad = max(rad+(perRad*amps-c.emptyNm*(0.5+rad/800))/c.kgm2/rate, 0)
					if at >= 8 && at < 10 {
						rad = min(rad, 400*max(0, 1-(at-8)/c.slowsS))
					}
				} else {
					amps = 0
				}
				x[i] = math.Copysign(amps, mains) + 0.002*math.Sin(float64(i*i))
				if at >= 12 && at < 14 {
					x[i] += c.heaterA * math.Sqrt2 * math.Sin(2*math.Pi*60*at)
				}
			}
			tr.Push(x)
			set := setup()
			set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "permanent-magnet", 3, c.lockedA
			m := run.NewMachine(set)
			loud := steps(150*c.kgm2, stretch{2, 40}, stretch{8, 70}, stretch{10, 52}, stretch{18, 70}, stretch{40, 40})
			heard := 0
			for _, r := range tr.Cycles() {
				for ; !c.deaf && float64(heard+1)/100 <= r.EndS; heard++ {
					at := float64(heard) / 100
					e := 0.01 * 4e-10 * math.Pow(10, loud(at)/10)
					m.Heard(run.Heard{StartS: at, EndS: at + 0.01, EA: e, EC: 2 * e, ET: e / 10})
				}
				m.Current(run.Current{StartS: r.StartS, EndS: r.EndS, RMSA: r.RMSA, SwingA: r.SwingA, FundA: r.FundA, ThirdA: r.ThirdA, PeakA: r.PeakA,
					Quarters: r.Quarters, Turns: r.Turns, Locked: r.Locked, Torn: r.Torn, FirstA: r.FirstA, SecondA: r.SecondA, Wave: true})
			}
			var got, warned []string
			for _, f := range m.Finish(20) {
				for _, e := range f.Events {
					if e.Kind != rig.LoadStart && e.Kind != rig.LoadEnd {
						got = append(got, fmt.Sprintf("%s@%.1f", e.Kind, e.AtS.V))
					}
				}
			}
			for _, w := range m.Warnings() {
				warned = append(warned, w.Code)
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("got  %s\nwant %s", g, c.want)
			}
			if w := strings.Join(warned, " "); w != c.warnings {
				t.Errorf("warned of %q, want %q: %v", w, c.warnings, m.Warnings())
			}
		})
	}
}
