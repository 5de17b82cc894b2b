package session

import (
	"io"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// BenchmarkSource reads a minute of 16-bit sound at 48 kHz with a scale of ten readings a second.
func BenchmarkSource(b *testing.B) {
	sound := rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 48000}
	dir := record(b, testHead(Stream{sound, wave.PCM16}, Stream{scale, 0}), blocks(1, 60, sound, scale))
	s, err := Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	samples := 0
	for b.Loop() {
		src, err := s.Source()
		if err != nil {
			b.Fatal(err)
		}
		for {
			block, err := src.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			samples += len(block.Samples)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(samples), "ns/sample")
}

// BenchmarkAppend writes the same.
func BenchmarkAppend(b *testing.B) {
	sound := rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 48000}
	in := blocks(1, 60, sound, scale)
	b.ResetTimer()
	for b.Loop() {
		record(b, testHead(Stream{sound, wave.PCM16}, Stream{scale, 0}), in)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(60*48000), "ns/sample")
}
