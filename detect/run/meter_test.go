package run_test

import (
	"math"
	"slices"
	"testing"

	"quern/rig"
)

// TestAveragingMeter reads a run from meters that average, repeat themselves or show few digits: what they show of a motor
// that has stopped dies away, and is no other appliance; what they show of an inrush that dies away, and one step more on the
// display, are no load.
func TestAveragingMeter(t *testing.T) {
	for _, c := range []struct {
		name                  string
		motor                 string
		idleA, loadA          float64
		meterS, stepS, digitA float64
		shownN                int
		ragged                float64
	}{
		{"at once", "universal", 1.4, 3, 0, 0.1, 0.01, 0, 0.003},
		{"fast", "universal", 1.4, 3, 0.1, 0.1, 0.01, 0, 0.003},
		{"few digits", "universal", 1.4, 3, 0.2, 0.1, 0.1, 0, 0.003},
		{"slow, of a small idle current", "permanent-magnet", 0.7, 3, 0.4, 0.2, 0.01, 0, 0.003},
		{"slow, row by row", "permanent-magnet", 0.7, 3, 0.5, 0.1, 0.01, 0, 0.003},
		{"every cycle", "universal", 1.4, 3, 0.2, 1.0 / 60, 0.01, 0, 0.003},
		{"slow induction", "induction", 2.8, 4, 0.4, 0.1, 0.01, 0, 0.003},
		{"repeats itself", "induction", 2.8, 4, 0.4, 0.1, 0.01, 3, 0.003},
		{"even load in few digits", "induction", 2.8, 3.3, 0.4, 0.1, 0.1, 0, 0.003},
		{"strays", "induction", 3.67, 5, 0, 0.1, 0.01, 0, 0.012},
		{"between two digits", "induction", 2.15, 4, 0.1, 0.1, 0.1, 0, 0.003},
	} {
		at := func(fromS, rmsA, ragged float64) moment { return moment{fromS, rmsA, ragged, 0, 0, 0, 0, false} }
		b := bench{motor: c.motor, stepS: c.stepS, digitA: c.digitA, meterS: c.meterS, shownN: c.shownN, deaf: true, seconds: 30}
		b.course = []moment{at(0, 0, 0), at(3, 5*c.idleA, 0), at(3.15, c.idleA, c.ragged), at(9, c.loadA, 0.03), at(17, c.idleA, c.ragged), at(25.04, 0, 0)}
		early := 0.0
		b.decided = func(atS, decidedS float64) {
			if atS < 25.04+0.3 {
				early = decidedS
			}
		}
		runs, warnings := b.runs()
		if slices.ContainsFunc(warnings, func(w rig.Warning) bool { return w.Code == "other-appliance" }) || len(runs) != 1 {
			t.Errorf("%s: %d runs, %v", c.name, len(runs), warnings)
			continue
		}
		want := []struct {
			kind     rig.Kind
			atS, byS float64
		}{
			{rig.MotorStart, 3, 2*c.stepS + 0.02},
			{rig.LoadStart, 9, 0.5 + c.stepS},
			{rig.LoadEnd, 17, 0.6 + 3*c.meterS},
			{rig.MotorStop, 25.04, 2*c.stepS + 0.02},
		}
		shownS := float64(c.shownN) * c.stepS
		es := runs[0].Events
		for i, w := range want {
			if len(es) != len(want) || es[i].Kind != w.kind || !(math.Abs(es[i].AtS.V-w.atS) <= w.byS+shownS) {
				t.Errorf("%s: %v, want %v", c.name, es, want)
				break
			}
			if c.meterS > 0.3 && early > es[len(es)-1].AtS.V {
				t.Errorf("%s: the motor was said to run at %.2f s", c.name, early)
			}
		}
	}
}

// TestStrayingReadings lets the readings of an empty chamber stray upwards for a while, by a step or two of the display: load
// that made them stray so would lift them all.
func TestStrayingReadings(t *testing.T) {
	at := func(fromS, rmsA float64) moment { return moment{fromS, rmsA, 0, 0, 0, 0, 0, false} }
	b := bench{motor: "induction", ratedA: 6.8, lockedA: 41, stepS: 0.1, digitA: 0.01, deaf: true, seconds: 40}
	b.course = []moment{at(0, 0), at(3, 30), at(3.2, 3.68), at(10, 5), at(18, 3.68)}
	strays := []float64{0, 0.04, 0, 0.03, 0.01, 0.04, 0, 0.05, 0.01, 0, 0.01, 0, 0.04, 0.01}
	for k := range 120 {
		b.course = append(b.course, at(20+0.1*float64(k), 3.68+strays[k%len(strays)]))
	}
	b.course = append(b.course, at(32, 3.68), at(36, 0))
	if loads := b.loads(); len(loads) != 2 || !(math.Abs(loads[0].AtS.V-10) <= 0.5) || !(math.Abs(loads[1].AtS.V-18) <= 0.5) {
		t.Errorf("load %v, want it from 10 to 18 s", loads)
	}
}

// TestOneDigitLess: a reading that stands one step of the display lower, half a second before a stop, is not where a meter
// began to forget: what it forgets grows ever less.
func TestOneDigitLess(t *testing.T) {
	at := func(fromS, rmsA float64) moment { return moment{fromS, rmsA, 0, 0, 0, 0, 0, false} }
	b := bench{motor: "induction", ratedA: 2, lockedA: 13, stepS: 0.05, digitA: 0.01, deaf: true, seconds: 30}
	for k := range 60 { // what the clamp shows of nothing lies between two digits
		b.course = append(b.course, at(0.05*float64(k), []float64{0.07, 0.07, 0.06}[k%3]))
	}
	b.course = append(b.course, at(3, 12.8), at(3.4, 1.56), at(25.4, 1.55), at(25.45, 1.56), at(25.86, 0.07))
	runs, _ := b.runs()
	if len(runs) != 1 || len(runs[0].On) != 1 || !(math.Abs(runs[0].EndS()-25.86) <= 0.05) {
		t.Errorf("got %+v, want a run that ends at 25.86 s", runs)
	}
}
