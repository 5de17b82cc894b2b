package session

import (
	"fmt"
	"io"
	"path/filepath"
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

// busy seals a session of ten minutes with so many readings a second of the clamp and ten of the
// scale, forty facts, two corrections since, and a stored analysis of three runs.
func busy(b *testing.B, clampHz int) string {
	b.Helper()
	dir := filepath.Join(b.TempDir(), "s")
	w, err := Create(dir, testHead(Stream{scale, 0}, Stream{clampRMS, 0}))
	if err != nil {
		b.Fatal(err)
	}
	for i := range 600 * 60 {
		at := float64(i) / 60
		var err error
		if i%60 < clampHz {
			err = w.AppendReading(rig.Clamp, rig.Reading{AtS: at, Value: at})
		}
		if err == nil && i%6 == 0 {
			err = w.AppendReading(rig.Scale, rig.Reading{AtS: at, Value: at, Stable: rig.Yes})
		}
		if err == nil && i%900 == 0 {
			_, err = w.AppendWeighing(rig.Weighing{AtS: at, Run: 1, Role: rig.Charge, Item: "bone", Vessel: "bowl-2", GrossG: rig.Fig(at), NetG: rig.Fig(at)})
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		b.Fatal(err)
	}
	a, err := Amend(dir, "quern test", made)
	if err != nil {
		b.Fatal(err)
	}
	for range 2 {
		if _, err := a.AppendCorrection(rig.Correction{Target: "weighing.1", New: "withdrawn", Who: "a", Why: "b"}); err != nil {
			b.Fatal(err)
		}
	}
	if err := a.Close(); err != nil {
		b.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	r := fullResult()
	r.Runs = append(r.Runs, r.Runs[0])
	for i := range r.Runs {
		run := &r.Runs[i]
		for len(run.Events) < 30 {
			run.Events = append(run.Events, run.Events[0])
			run.States = append(run.States, run.States[0])
			run.Sound.ThirdOctaves = append(run.Sound.ThirdOctaves, run.Sound.ThirdOctaves[0])
			run.Motor.HarmonicsA = append(run.Motor.HarmonicsA, run.Motor.HarmonicsA[0])
		}
	}
	if err := StoreAnalysis(dir, s.Analysed(testSetup(), "quern test", made, r)); err != nil {
		b.Fatal(err)
	}
	return dir
}

// BenchmarkOpenFacts reads what scoring needs of one session: manifest, facts and analysis.
func BenchmarkOpenFacts(b *testing.B) {
	for _, clampHz := range []int{0, 60} {
		dir, key := busy(b, clampHz), AnalysisKey(testSetup())
		for _, c := range []struct {
			name string
			read func() error
		}{
			{"facts", func() error { _, err := OpenFacts(dir); return err }},
			{"analysis", func() error { _, err := LoadAnalysis(dir, key); return err }},
			{"whole session", func() error {
				s, err := Open(dir)
				if err == nil {
					_, err = s.Facts()
				}
				return err
			}},
		} {
			b.Run(fmt.Sprintf("%d Hz/%s", 10+clampHz, c.name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if err := c.read(); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
