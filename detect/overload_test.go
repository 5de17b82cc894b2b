package detect_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/rig"
)

// TestOverloadIsLoadFromItsBeginning: an overload is told when it has lasted, and is load from the instant at which the current
// passed the ratio, though the sound goes on as it was and the phase of the current stays.
func TestOverloadIsLoadFromItsBeginning(t *testing.T) {
	src := tone([][2]float64{{3, 20}}, 25, 70, 40)
	rng := rand.New(rand.NewPCG(4, 5))
	for i := range src.mic {
		if at := float64(i) / src.micHz; at >= 3 && at < 20 {
			src.mic[i] = 0.007 * rng.NormFloat64()
		}
	}
	for i := range src.clamp {
		at, a := float64(i)/src.curHz, 0.0
		switch {
		case at < 3 || at >= 20:
		case at < 3.3:
			a = 30
		default:
			a = 4 + 4.5*max(min((at-8)/0.05, 1, (11-at)/0.05), 0)
		}
		src.clamp[i] = a*math.Sqrt2*math.Sin(2*math.Pi*60*at) + 0.02*rng.NormFloat64()
	}
	res := analyse(t, src, setup())
	atS := map[rig.Kind]float64{}
	for _, e := range res.Runs[0].Events {
		atS[e.Kind] = e.AtS.V
	}
	if over, ok := atS[rig.OverloadStart]; !ok || math.Abs(atS[rig.LoadStart]-over) > 0.15 {
		t.Errorf("load from %.2f s, overload from %.2f s (%v); expected both from 8 s; %v", atS[rig.LoadStart], over, ok, res.Warnings)
	}
}
