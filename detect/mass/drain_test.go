package mass_test

import (
	"math"
	"testing"

	"quern/detect/mass"
	"quern/rig"
)

// A reading is early, in time or late against target and tolerance; the limits belong to in time.
func TestDrain(t *testing.T) {
	for _, c := range []struct {
		atS    float64
		timing mass.Timing
		waitS  float64
	}{
		{50, mass.Early, 60}, {109.9, mass.Early, 0.1}, {110, mass.InTime, 0}, {130, mass.InTime, 0}, {150, mass.InTime, 0}, {150.1, mass.Late, 0}, {10, mass.Early, 100},
	} {
		d := mass.NewDrain(0, 120, 20)
		if x := d.At(c.atS, rig.Chamber); x.DrainedS.OK || x.DrainedS.Why != "drain-not-started" || x.Timing != mass.NotStarted {
			t.Errorf("not started: %+v", x)
		}
		d.Start(10)
		x := d.Read(mass.Candidate{AtS: c.atS, SlopeGPerMin: rig.Fig(-3)}, rig.Chamber)
		if x.DrainedS != rig.Fig(c.atS-10) || x.Timing != c.timing || !(math.Abs(x.WaitS-c.waitS) <= 1e-9) || x.SlopeGPerMin != rig.Fig(-3) {
			t.Errorf("at %g s: %+v, want %s", c.atS, x, c.timing)
		}
	}
	d := mass.NewDrain(0, 120, 20)
	d.Start(50)
	if x := d.At(49, rig.Chamber); x.Timing != mass.NotStarted {
		t.Errorf("before the start: %+v", x)
	}
}

// A vessel that waits while others are weighed is late only after its turn; one that is read again has no second turn.
func TestDrainTakesTurns(t *testing.T) {
	type reading struct {
		of     rig.Role
		atS    float64 // since the drain began
		timing mass.Timing
	}
	for name, all := range map[string][]reading{
		"one after the other":            {{rig.Chamber, 125, mass.InTime}, {rig.Coarse, 144, mass.InTime}, {rig.Fine, 163, mass.InTime}, {rig.Passed, 183, mass.InTime}},
		"a pause before the last":        {{rig.Chamber, 125, mass.InTime}, {rig.Coarse, 144, mass.InTime}, {rig.Fine, 164.1, mass.Late}},
		"the first too late":             {{rig.Chamber, 141, mass.Late}, {rig.Coarse, 161, mass.InTime}, {rig.Fine, 182, mass.Late}},
		"the first too early":            {{rig.Chamber, 60, mass.Early}, {rig.Coarse, 99, mass.Early}, {rig.Fine, 141, mass.Late}},
		"the chamber once more":          {{rig.Chamber, 125, mass.InTime}, {rig.Coarse, 144, mass.InTime}, {rig.Chamber, 150, mass.Late}, {rig.Fine, 169, mass.InTime}},
		"again and again":                {{rig.Chamber, 125, mass.InTime}, {rig.Chamber, 138, mass.InTime}, {rig.Chamber, 151, mass.Late}},
		"once more, while it is in time": {{rig.Chamber, 125, mass.InTime}, {rig.Coarse, 130, mass.InTime}, {rig.Coarse, 144, mass.InTime}, {rig.Coarse, 146, mass.Late}},
	} {
		d := mass.NewDrain(0, 120, 20)
		if x := d.Read(mass.Candidate{AtS: 5}, rig.Coarse); x.Timing != mass.NotStarted {
			t.Errorf("%s: before the start: %+v", name, x)
		}
		d.Start(1000)
		for i, r := range all {
			if x := d.Read(mass.Candidate{AtS: 1000 + r.atS}, r.of); x.Timing != r.timing || !(math.Abs(x.DrainedS.V-r.atS) <= 1e-9) {
				t.Errorf("%s, reading %d: %+v, want %s after %g s", name, i+1, x, r.timing, r.atS)
			}
		}
		d.Start(2000) // begun anew: all take turns again
		if x := d.At(2141, rig.Fine); x.Timing != mass.Late {
			t.Errorf("%s, begun anew: %+v", name, x)
		}
	}
}

// The timer starts by itself when the first leftovers are put down, dated back to that instant, and
// by nothing else.
func TestDrainStarts(t *testing.T) {
	for _, c := range []struct {
		name string
		dev  device
		acts []act
		want float64 // s; 0: not
	}{
		{"leftovers", plain, []act{put(20, 300), put(40, 500)}, 20},
		{"placed before it was armed", plain, []act{put(5, 300), put(40, 500)}, 40},
		{"dripping, 0.1 g", with(func(d *device) { d.divisionG = 0.1 }), []act{put(20, 300), {kind: "drain", atS: 20, drainG: 25, drainS: 50}}, 20},
		{"bump", plain, []act{put(-9, 300), {kind: "bump", atS: 20, forceG: 50}}, 0},
		{"hand", plain, []act{put(-9, 300), {kind: "hand", atS: 20, overS: 5, forceG: 150}}, 0},
		{"taken off", plain, []act{put(-9, 300), put(20, 100)}, 0},
		{"nothing", plain, nil, 0},
	} {
		s := scene{device: c.dev, acts: c.acts, endS: 60, seed: 8}
		k, d := mass.NewTaker(s.settings()), mass.NewDrain(10, 120, 20)
		for _, r := range s.readings() {
			k.Push(r.Reading, r.motor)
			d.Watch(k.Now())
		}
		x := d.At(60, rig.Chamber)
		if c.want == 0 && x.DrainedS.OK || c.want > 0 && math.Abs(60-x.DrainedS.V-c.want) > 0.5 {
			t.Errorf("%s: %+v, want a start at %g s", c.name, x, c.want)
		}
	}
}
