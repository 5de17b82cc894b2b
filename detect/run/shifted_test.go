package run_test

import (
	"math"
	"testing"
)

// TestIdleBesideAnAppliance: what an appliance that nobody hears adds to the empty motor's last seconds is no part of its
// no-load current.
func TestIdleBesideAnAppliance(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, aDB - 1, aDB - 12, false}
	}
	b := bench{motor: "induction", lockedA: 28, stepS: 0.1, seconds: 34, course: []moment{at(0, 0, 0, 35), at(3, 24, 0, 65), at(3.4, 3.5, 0.0003, 65),
		at(9, 4.4, 0.04, 78), at(15, 3.5, 0.0003, 65), at(20, 4.2, 0.0003, 65), at(30, 0, 0, 35)}}
	runs, w := b.runs()
	if len(runs) != 1 || !(math.Abs(runs[0].IdleA.V-3.5) <= 0.05) {
		t.Errorf("%v %v", runs, w)
	}
}
