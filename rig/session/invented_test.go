package session

import (
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// An invented bench, unit and procedure.
func testSetup() config.Setup {
	var s config.Setup
	s.Bench = config.DefaultBench()
	s.Bench.Name = "bench-1"
	s.Unit = config.DefaultUnit("unit-a")
	s.Unit.RatedCurrentA, s.Unit.LockedRotorA = 6, 33
	s.Procedure = config.DefaultProcedure("mixed")
	s.Procedure.ChargeG = 2500
	return s
}

var (
	microphone = rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 8000}
	clampWave  = rig.Stream{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.Ampere, RateHz: 1e9 / 700000.3}
	coarse     = rig.Stream{Channel: "coarse", Form: rig.Waveform, Unit: rig.FullScale, RateHz: 1000}
	clampRMS   = rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}
	scale      = rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}
)

func testHead(streams ...Stream) Head {
	return Head{Session: "first", Setup: testSetup(), Started: time.Unix(0, 0), Tool: "quern test", Streams: streams}
}

// blocks invents what the streams deliver in seconds, in blocks of uneven length, in order of time.
func blocks(seed uint64, seconds float64, streams ...rig.Stream) []rig.Block {
	r := rand.New(rand.NewPCG(seed, 1))
	var out []rig.Block
	for _, s := range streams {
		if s.Form == rig.Waveform {
			total := int(seconds * s.RateHz)
			for n := 0; n < total; {
				b := rig.Block{Channel: s.Channel, StartS: float64(n) / s.RateHz}
				for range min(1+r.IntN(3000), total-n) {
					v := float64(r.IntN(65536)-32768) / 32768
					switch {
					case s.Unit == rig.Ampere:
						v = r.NormFloat64() * 10
					case s.Channel == coarse.Channel:
						v = float64(r.IntN(256)-128) / 128
					}
					b.Samples = append(b.Samples, v)
				}
				n += len(b.Samples)
				out = append(out, b)
			}
			continue
		}
		for at := r.Float64() / 10; at < seconds; at += 0.05 + r.Float64()/10 {
			out = append(out, rig.Block{Channel: s.Channel, StartS: at, Readings: []rig.Reading{
				{AtS: at, Value: r.NormFloat64() * 1000, Stable: rig.Mark(r.IntN(3))}}})
		}
	}
	slices.SortStableFunc(out, func(a, b rig.Block) int {
		switch {
		case a.StartS < b.StartS:
			return -1
		case a.StartS > b.StartS:
			return 1
		}
		return 0
	})
	return out
}

// stream is all that one channel delivered: samples with the instant of each, and readings.
type stream struct {
	samples  []float64
	times    []float64
	readings []rig.Reading
}

// gather puts blocks together; the instant of a sample counts from the beginning of its block, so
// it is the same to within rounding however the stream was cut.
func gather(rates map[rig.Channel]float64, all []rig.Block) map[rig.Channel]*stream {
	out := map[rig.Channel]*stream{}
	for _, b := range all {
		s := out[b.Channel]
		if s == nil {
			s = &stream{}
			out[b.Channel] = s
		}
		for i, v := range b.Samples {
			s.samples = append(s.samples, v)
			s.times = append(s.times, b.StartS+float64(i)/rates[b.Channel])
		}
		s.readings = append(s.readings, b.Readings...)
	}
	return out
}

func rates(streams []rig.Stream) map[rig.Channel]float64 {
	out := map[rig.Channel]float64{}
	for _, s := range streams {
		out[s.Channel] = s.RateHz
	}
	return out
}

// drain reads a source to its end, copying what is valid until the next call only.
func drain(t testing.TB, src rig.Source) []rig.Block {
	t.Helper()
	var out []rig.Block
	for {
		b, err := src.Next()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		b.Samples, b.Readings = slices.Clone(b.Samples), slices.Clone(b.Readings)
		out = append(out, b)
	}
}

// replay opens a session and reads all of it.
func replay(t testing.TB, dir string) (*Session, []rig.Block) {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	src, err := s.Source()
	if err != nil {
		t.Fatal(err)
	}
	return s, drain(t, src)
}

// record writes a session and returns its folder.
func record(t testing.TB, head Head, all []rig.Block) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "s")
	w, err := Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range all {
		if err := w.AppendBlock(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// same fails unless two sets of streams are equal, samples and readings bit for bit, sample times
// to a tenth of a nanosecond.
func same(t testing.TB, got, want map[rig.Channel]*stream) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("got %d streams, want %d", len(got), len(want))
	}
	for c, w := range want {
		g := got[c]
		if g == nil || !slices.Equal(g.samples, w.samples) {
			t.Fatalf("%s: other samples came back", c)
		}
		if !reflect.DeepEqual(g.readings, w.readings) {
			t.Fatalf("%s: other readings came back: got %d, want %d", c, len(g.readings), len(w.readings))
		}
		for i := range w.times {
			if d := g.times[i] - w.times[i]; d > 1e-10 || d < -1e-10 {
				t.Fatalf("%s: sample %d came back at %v s, want %v s", c, i, g.times[i], w.times[i])
			}
		}
	}
}

// exists tells whether a path is there.
func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

func codes(warnings []rig.Warning) []string {
	var out []string
	for _, w := range warnings {
		out = append(out, w.Code)
	}
	return out
}

// mark appends a remark of nobody named.
func mark(w *Writer, atS float64, run int, text string) error {
	_, err := w.AppendRemark(rig.Remark{AtS: atS, Run: run, Text: text})
	return err
}
