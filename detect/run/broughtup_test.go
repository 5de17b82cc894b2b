package run_test

import (
	"math"
	"testing"
)

// broughtUp draws a start of a motor that electronics bring up: its capacitors are charged, which is not heard, then its
// current rises from rampS on to topA, and falls to 1 A as it runs free.
func broughtUp(fromS, rampS, chargeA, topA float64) (out []moment) {
	const topS = 1.4
	for age := 0.0; age < 4; age += 0.01 {
		a, loud := 0.0, 35.0
		switch {
		case age < rampS:
			a = 0.25 + chargeA*math.Exp(-age/0.12)
		case age < topS:
			a, loud = 0.25+(topA-0.25)*(age-rampS)/(topS-rampS), 60
		default:
			a, loud = 1+(topA-1)*math.Exp(-(age-topS)/0.3), 70
		}
		out = append(out, moment{fromS + age, a, 0.0005, 0.8, loud, loud - 1, loud - 12, false})
	}
	return out
}

// TestBroughtUp starts a motor whose electronics charge their capacitors before they bring it up: neither that nor its
// ramp is load, and a restart with charged capacitors begins where little flows.
func TestBroughtUp(t *testing.T) {
	quiet := func(fromS float64) moment { return moment{fromS, 0, 0.0005, 0, 35, 34, 23, false} }
	for _, c := range []struct {
		name                        string
		rampS, lockedA, topA, loadS float64
	}{
		{"a ramp", 0.9, 30, 4, 10},
		{"one with next to nothing to charge", 0, 30, 4, 10},
		{"one to what a locked rotor draws", 0.9, 6.3, 7, 10},
		{"one far above the rated current", 0.9, 30, 9, 10},
		{"a load before the current has fallen", 0.9, 30, 4, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "permanent-magnet", lockedA: c.lockedA, seconds: 36}
			b.course = append(b.course, quiet(0))
			for _, m := range broughtUp(3, c.rampS, 12*c.rampS, c.topA) {
				if m.fromS < c.loadS {
					b.course = append(b.course, m)
				}
			}
			b.course = append(b.course, moment{c.loadS, 2.5, 0.1, 0.8, 78, 77, 70, false}, moment{16, 1, 0.0005, 0.8, 70, 69, 58, false}, quiet(20))
			b.course = append(b.course, broughtUp(25, c.rampS, 0.3, c.topA)...)
			b.course = append(b.course, quiet(33))
			if got, w := b.play(); got != "motor_start@3 motor_stop@20 motor_start@25 motor_stop@33" {
				t.Errorf("got %s\n%v", got, w)
			}
			if runs, _ := b.runs(); !(math.Abs(runs[0].On[1].FromS-25) <= 0.01) {
				t.Errorf("restarted at %.3f s, not 25", runs[0].On[1].FromS)
			}
			if runs, _ := b.runs(); !(runs[0].Inrush.V > 0.95*c.topA) {
				t.Errorf("inrush of %.2f A, less than the ramp's %g", runs[0].Inrush.V, c.topA)
			}
			loads := b.loads()
			if len(loads) != 2 || !(math.Abs(loads[0].AtS.V-c.loadS) <= 0.3) || !(math.Abs(loads[1].AtS.V-16) <= 1) {
				t.Errorf("load: %v", loads)
			}
		})
	}
}

// TestStartsWithTheCharge closes the switch of a motor whose electronics charge a capacitor within a cycle, draw nothing
// that shows while they wake, and bring the motor up then: it was switched on when current first flowed. A click of the
// conductor long before a start, or a small one, is no part of it.
func TestStartsWithTheCharge(t *testing.T) {
	for _, c := range []struct {
		chargeA, wakeS, startS float64
	}{
		{15, 0.15, 3}, {15, 0.7, 3}, {15, 2, 5}, {2, 0.3, 3.3}, {2, 0.08, 3}, {0.9, 0.08, 3.08},
	} {
		b := bench{motor: "permanent-magnet", lockedA: 30, seconds: 16}
		b.course = append(b.course, moment{0, 0, 0.0005, 0, 35, 34, 23, false}, moment{3, c.chargeA, 0.0005, 0.8, 35, 34, 23, false},
			moment{3.02, 0, 0.0005, 0, 35, 34, 23, false})
		for age := 0.0; age < 0.6; age += 0.01 {
			b.course = append(b.course, moment{3 + c.wakeS + age, 0.6 + 1.4*age, 0.0005, 0.8, 50 + 30*age, 49 + 30*age, 38 + 30*age, false})
		}
		b.course = append(b.course, moment{3.6 + c.wakeS, 1, 0.0005, 0.8, 70, 69, 58, false}, moment{12, 0, 0.0005, 0, 35, 34, 23, false})
		runs, w := b.runs()
		if len(runs) != 1 || len(runs[0].On) != 1 || !(math.Abs(runs[0].StartS()-c.startS) <= 0.02) || c.startS == 3 && runs[0].MaxA < 0.9*c.chargeA {
			t.Errorf("%+v: %v %v", c, runs, w)
		}
	}
	b := bench{motor: "permanent-magnet", lockedA: 30, seconds: 12, course: []moment{{0, 0, 0.0005, 0, 35, 34, 23, false}, {0.7, 9, 0.0005, 0.8, 70, 69, 58, false},
		{0.9, 1, 0.0005, 0.8, 70, 69, 58, false}, {8, 0, 0.0005, 0, 35, 34, 23, false}}}
	if runs, w := b.runs(); len(runs) != 1 || !(math.Abs(runs[0].StartS()-0.7) <= 0.02) {
		t.Errorf("a start in the first second, which nothing was charged before: %v %v", runs, w)
	}
}

// TestStartsAtOnce starts a motor in the first second of a recording, with nothing charged before it.
func TestStartsAtOnce(t *testing.T) {
	b := bench{motor: "universal", lockedA: 30, seconds: 12, course: []moment{{0, 0, 0.0005, 0, 35, 34, 23, false}, {0.7, 18, 0.0005, 0, 70, 69, 58, false},
		{1, 1.5, 0.0005, 0, 70, 69, 58, false}, {8, 0, 0.0005, 0, 35, 34, 23, false}}}
	if runs, w := b.runs(); len(runs) != 1 || !(math.Abs(runs[0].StartS()-0.7) <= 0.02) {
		t.Errorf("%v %v", runs, w)
	}
}

// TestSmallCharge switches electronics on that charge a small capacitor, draw next to nothing, and bring the motor up a
// quarter of a second later: that is when it was switched on, each time.
func TestSmallCharge(t *testing.T) {
	for _, step := range []float64{0, 0.02, 0.05} {
		b := bench{motor: "permanent-magnet", lockedA: 25, stepS: step, seconds: 30, course: []moment{{0, 0, 0, 0, 35, 34, 23, false}}}
		for _, on := range []float64{5, 18} {
			b.course = append(b.course, moment{on, 3, 0, 0.8, 35, 34, 23, false}, moment{on + 0.03, 0.09, 0, 0.8, 35, 34, 23, false})
			for age := 0.27; age < 1; age += 0.01 {
				b.course = append(b.course, moment{on + age, 0.09 + 4*(age-0.25), 0.0005, 0.8, 60, 61, 50, false})
			}
			b.course = append(b.course, moment{on + 1, 1.2, 0.0005, 0.8, 70, 69, 58, false}, moment{on + 7, 0, 0, 0, 35, 34, 23, false})
		}
		runs, w := b.runs()
		if len(runs) != 1 || len(runs[0].On) != 2 {
			t.Fatalf("%g s: got %v\n%v", step, runs, w)
		}
		for i, on := range []float64{5, 18} {
			if d := math.Abs(runs[0].On[i].FromS - on); d > max(0.02, step) {
				t.Errorf("%g s: started at %.3f s, not at %g", step, runs[0].On[i].FromS, on)
			}
		}
	}
}
