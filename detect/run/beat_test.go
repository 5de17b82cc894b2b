package run_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// TestBeatIsNoLoad gives readings of an eighth of a second of an induction motor. Their windows are no whole half cycles of mains that
// drift: they beat, less and less, as evenly as a tone. The motor is a
// little louder before it is warm.
func TestBeatIsNoLoad(t *testing.T) {
	const start, feed, clear, stop = 3.0, 8.0, 19.0, 28.0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 9))
		set := of("induction")
		m := run.NewMachine(set)
		ms := func(db float64) float64 { return 0.01 * 4e-10 * math.Pow(10, db/10) }
		hop := 0
		for k := 1; float64(k)*0.125 < stop+3; k++ {
			at := float64(k) * 0.125
			for ; float64(hop)/100+0.01 <= at; hop++ {
				s := float64(hop) / 100
				la := 45.0
				lt := 38.0
				switch {
				case s < start || s >= stop:
				case s >= feed && s < clear:
					la, lt = 64, 56
				case s < feed:
					la, lt = 60.4, 48.4
				default:
					la, lt = 60, 48
				}
				la, lt = la+0.3*rng.NormFloat64(), lt+0.3*rng.NormFloat64()
				m.Heard(run.Heard{StartS: s, EndS: s + 0.01, EA: ms(la), EC: 2.5 * ms(la), ET: ms(lt)})
			}
			mid := at - 0.0625
			a := 0.03
			switch {
			case mid < start || mid >= stop:
			case mid < start+0.25:
				a = 25
			default:
				beat := 0.035 * math.Exp(-(mid-start)/6) * math.Cos(2*math.Pi*(0.47*float64(k)+0.0002*float64(k*k)))
				a = 3.5*(1+beat) + 0.004*rng.NormFloat64()
				if mid >= feed && mid < clear {
					a += 0.5 + 0.15*rng.NormFloat64()
				}
			}
			m.Current(run.Current{StartS: at - 0.125, EndS: at, RMSA: a, SwingA: a, FundA: math.NaN(), PeakA: math.Sqrt2 * a})
		}
		for _, r := range m.Finish(stop + 3) {
			for _, e := range r.Events {
				if e.Kind == rig.LoadStart && math.Abs(e.AtS.V-feed) > 0.5 || e.Kind == rig.LoadEnd && math.Abs(e.AtS.V-clear) > 0.5 {
					t.Errorf("seed %d: %s at %.2f s", seed, e.Kind, e.AtS.V)
				}
			}
			if len(r.Events) != 4 {
				t.Errorf("seed %d: %v", seed, r.Events)
			}
		}
	}
}
