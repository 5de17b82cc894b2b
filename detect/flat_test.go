package detect_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/rig"
)

// TestFlatLoadThatIsNotHeard: a waveform in which no appliance came or went, and whose current stands for seconds where neither
// drift nor the supply lifts it, is that of a load, even if it is as even as an empty chamber's and nothing is heard of it.
func TestFlatLoadThatIsNotHeard(t *testing.T) {
	for _, c := range []struct {
		motor        string
		idleA, loadA float64
		lockedRotorA float64
		wantLoad     bool
	}{
		{motor: "induction", idleA: 4, loadA: 5.5, lockedRotorA: 33, wantLoad: true},
		{motor: "induction", idleA: 4, loadA: 4.4, lockedRotorA: 33}, // the supply may do as much
		{motor: "universal", idleA: 1.8, loadA: 3.5, lockedRotorA: 24, wantLoad: true},
		{motor: "universal", idleA: 1.8, loadA: 2.2, lockedRotorA: 24},
	} {
		src := tone([][2]float64{{3, 24}}, 27, 70, 40)
		rng := rand.New(rand.NewPCG(4, 5))
		for i := range src.mic {
			if at := float64(i) / src.micHz; at >= 3 && at < 24 {
				src.mic[i] = 0.007 * rng.NormFloat64()
			}
		}
		for i := range src.clamp {
			at, a := float64(i)/src.curHz, 0.0
			switch {
			case at < 3 || at >= 24:
			case at < 3.3:
				a = 0.9 * c.lockedRotorA
			default:
				a = c.idleA + (c.loadA-c.idleA)*max(min((at-8)/0.05, 1, (14-at)/0.05), 0)
			}
			src.clamp[i] = a*math.Sqrt2*(math.Sin(2*math.Pi*60*at)+0.08*math.Sin(6*math.Pi*60*at)) + 0.02*rng.NormFloat64()
		}
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
