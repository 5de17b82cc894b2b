package sound

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/config"
)

func testSet() config.DetectSound {
	return config.DetectSound{ClipBelowFSDB: 0.1, ClipSamples: 3, SilentS: 0.5, BackgroundMinS: 0.5, BackgroundOverDB: 8}
}

// hum is what a grinder may sound like: mains hum, two tones, pink-like noise.
func hum(n int, rate float64) []float64 {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, n)
	low := 0.0
	for i := range x {
		t := float64(i) / rate
		v := r.NormFloat64()
		low = 0.9*low + 0.1*v
		x[i] = 0.05*math.Sin(2*math.Pi*120*t) + 0.03*math.Sin(2*math.Pi*1730*t) + 0.1*low + 0.02*v
	}
	return x
}

func BenchmarkPush(b *testing.B) {
	for _, c := range []struct {
		name string
		rate float64
		x    []float64
	}{
		{"grinder 48 kHz", 48000, hum(48000, 48000)},
		{"grinder 48 kHz, with octaves", 48000, hum(48000, 48000)},
		{"white noise 48 kHz", 48000, noise(48000, 0.2)},
		{"1 kHz tone 48 kHz", 48000, sine(48000, 1000, 0.3, 1)},
		{"4.1 kHz tone 48 kHz", 48000, sine(48000, 4100, 0.3, 1)},
		{"16.1 kHz tone 48 kHz", 48000, sine(48000, 16100, 0.3, 1)},
		{"grinder 192 kHz", 192000, hum(192000, 192000)},
		{"grinder 8 kHz", 8000, hum(8000, 8000)},
	} {
		b.Run(c.name, func(b *testing.B) {
			m, err := New(c.rate, 120, testSet())
			if err != nil {
				b.Fatal(err)
			}
			if strings.HasSuffix(c.name, "octaves") {
				m.ListenToOctaves()
			}
			for b.Loop() {
				for x := c.x; len(x) > 0; x = x[min(4096, len(x)):] {
					m.Push(x[:min(4096, len(x))])
					m.Frames()
					m.Bands()
					m.Faults()
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(c.x)), "ns/sample")
			b.ReportMetric(0, "ns/op")
		})
	}
}

func noise(n int, rms float64) []float64 {
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, n)
	for i := range x {
		x[i] = rms * r.NormFloat64()
	}
	return x
}

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		if _, err := New(48000, 120, testSet()); err != nil {
			b.Fatal(err)
		}
	}
}
