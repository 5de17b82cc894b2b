package acquire

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A sound card whose clock is off by 50 ppm, delivering every 20 ms with the jitter of a busy machine:
// over an hour no sample may be placed more than 20 ms from where it was.
func TestDriftIsFollowed(t *testing.T) {
	for _, ppm := range []float64{-100, -50, 0, 50, 100} {
		r := rand.New(rand.NewPCG(1, uint64(ppm+1000)))
		const rate, k = 48000.0, 960
		p := placer{rateHz: rate, latencyS: 0.02}
		worst, worstStep, last := 0.0, 0.0, math.NaN()
		for i := 1; float64(i)*k/rate < 3600; i++ {
			trueStart := 100 + float64((i-1)*k)/(rate*(1+ppm*1e-6))
			trueEnd := 100 + float64(i*k)/(rate*(1+ppm*1e-6))
			jitter := 0.001 * r.ExpFloat64()
			if r.IntN(200) == 0 {
				jitter += 0.05 * r.Float64()
			}
			at, jumped := p.place(trueEnd+0.02+jitter, 0, k)
			if jumped {
				t.Fatalf("%g ppm: time jumped at %g s", ppm, at)
			}
			if i > 1 {
				worstStep = max(worstStep, math.Abs(at-last-k/rate))
			}
			last = at
			worst = max(worst, math.Abs(at-trueStart))
		}
		if worst > 0.02 {
			t.Errorf("%g ppm: %.1f ms off at worst, want at most 20 ms", ppm, 1000*worst)
		}
		if worstStep > stepS+1e-9 {
			t.Errorf("%g ppm: a step of %.2f ms, which the analysis might take for a gap", ppm, 1000*worstStep)
		}
		got, ok := p.driftPPM()
		if !ok || !(math.Abs(got-ppm) <= 3) {
			t.Errorf("%g ppm is told as %.1f (%v)", ppm, got, ok)
		}
		t.Logf("%g ppm: worst %.2f ms, drift told %.1f ppm", ppm, 1000*worst, got)
	}
}

// Samples lost without being counted show as a jump, those that are counted do not.
func TestLostSamples(t *testing.T) {
	const rate, k = 8000.0, 160
	p := placer{rateHz: rate}
	at := 0.0
	deliver := func(lost int64) (float64, bool) {
		at += k/rate + float64(lost)/rate
		return p.place(at, lost, k)
	}
	for range 200 {
		deliver(0)
	}
	before := p.endS()
	if start, jumped := deliver(800); jumped || !(math.Abs(start-before-0.1) <= 1e-9) {
		t.Errorf("counted losses: placed %.4f s after, jumped %v; want 0.1 s, false", start-before, jumped)
	}
	at += 2 // two seconds lost, and nobody counted
	any := false
	for range 1000 {
		_, jumped := deliver(0)
		any = any || jumped
	}
	if !any || !(math.Abs(p.endS()-at) <= 0.01) {
		t.Errorf("after uncounted losses the stream stands at %.3f s, want %.3f; jumped %v", p.endS(), at, any)
	}
}

func TestRestartNeverGoesBack(t *testing.T) {
	p := placer{rateHz: 1000, latencyS: 0.1}
	p.place(10, 0, 500)
	end := p.endS()
	p.restart()
	if at, _ := p.place(10.05, 0, 500); at < end-overlapS {
		t.Errorf("placed at %g s, before %g s where the stretch before ended", at, end)
	}
}
