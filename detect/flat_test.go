package detect_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/rig"
)

// hissing is a motor that is on from 3 to 24 s and sounds the same all the time, by a noise that scatters; amps is its current.
func hissing(amps func(atS float64) float64) *takes {
	src := tone([][2]float64{{3, 24}}, 27, 70, 40)
	rng := rand.New(rand.NewPCG(4, 5))
	on := func(at float64) bool { return at >= 3 && at < 24 }
	for i := range src.mic {
		if on(float64(i) / src.micHz) {
			src.mic[i] = 0.007 * rng.NormFloat64()
		}
	}
	for i := range src.clamp {
		at, p := float64(i)/src.curHz, 2*math.Pi*60*float64(i)/src.curHz
		src.clamp[i] = 0.02 * rng.NormFloat64()
		if on(at) {
			src.clamp[i] += amps(at) * math.Sqrt2 * (math.Sin(p) + 0.08*math.Sin(3*p))
		}
	}
	return src
}

// TestOverloadIsLoadFromItsBeginning: an overload is told when it has lasted, and is load from the instant at which the current
// passed the ratio, though the sound goes on as it was.
func TestOverloadIsLoadFromItsBeginning(t *testing.T) {
	src := hissing(func(float64) float64 { return 0 })
	src.clamp, src.rows = nil, readings([][2]float64{{3, 24}}, 27, 0.1, func(on bool, at float64) float64 {
		switch {
		case !on:
			return 0.01
		case at < 3.35:
			return 28
		}
		switch {
		case at > 8 && at < 12: // as even as without load: another appliance's, as far as readings tell
			return 5.5
		case at > 12 && at < 16:
			return 8.5
		}
		return 4
	})
	res := analyse(t, src, setup())
	atS := map[rig.Kind]float64{}
	for _, e := range res.Runs[0].Events {
		atS[e.Kind] = e.AtS.V
	}
	if over, ok := atS[rig.OverloadStart]; !ok || !(math.Abs(atS[rig.LoadStart]-over) <= 0.15) {
		t.Errorf("load from %.2f s, overload from %.2f s (%v); expected both from 12 s; %v", atS[rig.LoadStart], over, ok, res.Warnings)
	}
}

// TestFlatLoadThatIsNotHeard: a waveform in which no appliance came or went, and whose current stands for seconds where neither
// drift nor the supply lifts it, is that of a load, even if it is as even as an empty chamber's and nothing is heard of it.
func TestFlatLoadThatIsNotHeard(t *testing.T) {
	for _, c := range []struct {
		motor        string
		idleA, loadA float64
		lockedRotorA float64
		wantLoad     bool
	}{
		{motor: "induction", idleA: 4, loadA: 6, lockedRotorA: 33, wantLoad: true},
		{motor: "induction", idleA: 4, loadA: 5.4, lockedRotorA: 33}, // a compressor that came unseen may do as much
		{motor: "universal", idleA: 1.8, loadA: 3.5, lockedRotorA: 24, wantLoad: true},
		{motor: "universal", idleA: 1.8, loadA: 2.2, lockedRotorA: 24},
	} {
		src := hissing(func(at float64) float64 {
			if at < 3.3 {
				return 0.9 * c.lockedRotorA
			}
			return c.idleA + (c.loadA-c.idleA)*max(min((at-8)/0.05, 1, (14-at)/0.05), 0)
		})
		set := setup()
		set.Unit.Motor, set.Unit.LockedRotorA = c.motor, c.lockedRotorA
		res := analyse(t, src, set)
		atS := map[rig.Kind]float64{}
		for _, e := range res.Runs[0].Events {
			atS[e.Kind] = e.AtS.V
		}
		from, is := atS[rig.LoadStart]
		if is != c.wantLoad || is && (math.Abs(from-8) > 0.3 || math.Abs(atS[rig.LoadEnd]-14) > 0.3) {
			t.Errorf("%s, %g A over %g A: load %v from %.2f to %.2f s, expected %v, from 8 to 14 s; %v", c.motor, c.loadA, c.idleA, is, from, atS[rig.LoadEnd], c.wantLoad, res.Warnings)
		}
	}
}

// TestFlatReadingsThatAreNotHeard: between readings of the RMS the same may as well be another appliance's, and that is said.
func TestFlatReadingsThatAreNotHeard(t *testing.T) {
	for _, c := range []struct {
		loadA float64
		told  int
	}{{5.5, 1}, {4.0, 0}} {
		src := tone([][2]float64{{3, 24}}, 27, 70, 40)
		src.clamp, src.rows = nil, readings([][2]float64{{3, 24}}, 27, 0.1, func(on bool, at float64) float64 {
			switch {
			case !on:
				return 0.01
			case at < 3.35:
				return 28
			case at > 8 && at < 14:
				return c.loadA
			}
			return 4
		})
		res := analyse(t, src, setup())
		if got := told(res, "flat-and-unheard"); len(got) != c.told {
			t.Errorf("%g A over 4 A: told %q, expected %d; %+v", c.loadA, got, c.told, res.Runs)
		}
	}
}

// TestFlatLoadBesideWhatFlowed: what flowed before the motor started and goes while it runs is another appliance's, and no load.
func TestFlatLoadBesideWhatFlowed(t *testing.T) {
	src := hissing(func(at float64) float64 {
		if at < 3.3 {
			return 30
		}
		return 4
	})
	for i := range src.clamp {
		if at := float64(i) / src.curHz; at < 14 {
			src.clamp[i] += 2.2 * math.Sqrt2 * math.Sin(2*math.Pi*60*at) * min(1, (14-at)/0.3) // it goes gently: no step tells
		}
	}
	res := analyse(t, src, setup())
	for _, r := range res.Runs {
		for _, e := range r.Events {
			if e.Kind == rig.LoadStart {
				t.Errorf("load at %.2f s, expected none: %+v %v", e.AtS.V, r.Events, res.Warnings)
			}
		}
	}
}
