package detect_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The quiet before a start is the background wherever the start falls between the frames of the sound and of the bands.
func TestBackgroundAtAnyStart(t *testing.T) {
	for _, at := range []float64{1.5, 1.6625, 1.7625, 2.4625} {
		s := tone([][2]float64{{at, at + 1.5}}, 5, 75, 40)
		s.cutMic, s.cutCur = 4800, 800
		res := analyse(t, s, setup())
		if len(res.Runs) != 1 || !res.Runs[0].Sound.BackgroundDB.OK {
			t.Errorf("start at %g s: %d runs, warnings %v, want one with its background", at, len(res.Runs), res.Warnings)
		}
	}
}

// A hum of 0.3 s in a run of 5 s counts whole in its third octave, wherever it falls: also at the start, within the
// frames of the bands that begin before it, and at the stop. The level is that of the energy in the definition of Leq.
func TestBandsAtTheEdges(t *testing.T) {
	const on, off, rate = 3.003, 8.003, 48000.0
	for _, hz := range []float64{125.893, 1000} { // exact mid-band frequencies, IEC 61260-1
		for _, from := range []float64{on, on + 0.05, 5, off - 0.301} {
			t.Run(fmt.Sprintf("%g Hz from %g s", hz, from), func(t *testing.T) {
				s := tone([][2]float64{{on, off}}, 10, 40, 20)
				rng := rand.New(rand.NewPCG(5, 6))
				for i := range s.mic {
					at := float64(i) / rate
					s.mic[i] = 1e-5 * rng.NormFloat64()
					if at >= on && at < off {
						s.mic[i] *= 20
					}
					if at >= from && at < from+0.3 {
						s.mic[i] += math.Pow(10, (85-120)/20.0) * math.Sin(2*math.Pi*hz*at)
					}
				}
				res := analyse(t, s, setup())
				if len(res.Runs) != 1 {
					t.Fatalf("%d runs: %v", len(res.Runs), res.Warnings)
				}
				for _, b := range res.Runs[0].Sound.ThirdOctaves {
					if math.Abs(b.NominalHz.V/hz-1) < 0.05 {
						near(t, "band", b.LeqDB, 85+10*math.Log10(0.3/(off-on)), 0.2)
					}
				}
			})
		}
	}
}
