// Package recorded makes session folders of the simulated bench, for tests of what reads them.
package recorded

import (
	"io"
	"math"
	"testing"
	"time"

	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/session/replay"
	"quern/rig/wave"
)

// Instants of the sessions: when they began, and when they are looked at.
var (
	Started = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	Later   = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
)

// Small is a named scenario at low rates, quickly simulated and analysed.
func Small(t testing.TB, name string) sim.Scenario {
	t.Helper()
	sc, ok := sim.Named(name, 1)
	if !ok {
		t.Fatalf("no scenario %q", name)
	}
	if sc.Sound.RateHz > 0 {
		sc.Sound.RateHz = 8000
	}
	if sc.Current.RateHz > 0 && !sc.Current.Readings {
		sc.Current.RateHz = 2000
	}
	return sc
}

// Hole is a stretch in which a channel gives nothing.
type Hole struct {
	Channel    rig.Channel
	FromS, ToS float64
}

// Temperature is an extra channel that the fixture invents.
var Temperature = rig.Stream{Channel: "water-temperature", Form: rig.Value, Unit: "degC"}

// Record keeps a scenario as a session folder, with holes and, if it is wanted, an extra channel.
func Record(t testing.TB, dir string, sc sim.Scenario, extra bool, holes ...Hole) {
	t.Helper()
	b, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	set := b.Setup()
	set.Bench.Detect = config.DefaultDetect()
	head := session.Head{Setup: set, Started: Started, Tool: "quern test", Origin: rig.Recorded}
	for _, s := range b.Streams() {
		x := session.Stream{Stream: s}
		if s.Form == rig.Waveform {
			x.Encoding = wave.PCM16
			if s.Channel == rig.Microphone && sc.Sound.Bits == 24 {
				x.Encoding = wave.PCM24
			}
		}
		head.Streams = append(head.Streams, x)
	}
	if extra {
		head.Streams = append(head.Streams, session.Stream{Stream: Temperature})
	}
	w, err := session.Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	for {
		blk, err := b.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range without(blk, b.Streams(), holes) {
			if err := w.AppendBlock(p); err != nil {
				t.Fatal(err)
			}
		}
	}
	if extra {
		for i := range int(b.Seconds()) {
			if err := w.AppendReading(Temperature.Channel, rig.Reading{AtS: float64(i), Value: 15 + math.Sin(float64(i)/7)}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
}

// without cuts holes out of a block.
func without(b rig.Block, streams []rig.Stream, holes []Hole) []rig.Block {
	rate := 0.0
	for _, s := range streams {
		if s.Channel == b.Channel {
			rate = s.RateHz
		}
	}
	in := func(atS float64) bool {
		for _, h := range holes {
			if h.Channel == b.Channel && atS >= h.FromS && atS < h.ToS {
				return true
			}
		}
		return false
	}
	var out []rig.Block
	if len(b.Samples) == 0 {
		k := rig.Block{Channel: b.Channel}
		for _, r := range b.Readings {
			if !in(r.AtS) {
				k.Readings = append(k.Readings, r)
			}
		}
		return append(out, k)
	}
	for i := 0; i < len(b.Samples); {
		j := i
		for j < len(b.Samples) && in(b.StartS+float64(j)/rate) == in(b.StartS+float64(i)/rate) {
			j++
		}
		if at := b.StartS + float64(i)/rate; !in(at) {
			out = append(out, rig.Block{Channel: b.Channel, StartS: at, Samples: b.Samples[i:j]})
		}
		i = j
	}
	return out
}

// Keep analyses a session and stores what comes of it.
func Keep(t testing.TB, dir string) rig.Result {
	t.Helper()
	ses, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	res, err := replay.Keep(dir, ses.Setup().ForAnalysis(), "quern test", func() time.Time { return Later }, nil)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Tone records 1 kHz of 94 dB (1.0024 Pa RMS: what a sound calibrator gives, IEC 60942) at 8 kHz: three seconds,
// a gap, and three more. Full scale is 120 dB.
func Tone(t testing.TB, dir string, gapS float64) {
	t.Helper()
	stream := rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 8000}
	set := Setup(t)
	set.Bench.Microphone.FullScaleDB = 120
	w, err := session.Create(dir, session.Head{Setup: set, Started: Started, Tool: "quern test", Streams: []session.Stream{{Stream: stream, Encoding: wave.PCM24}}})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	x := make([]float64, 3*8000)
	for i := range x {
		x[i] = math.Round(math.Pow(10, -26.0/20)*math.Sin(2*math.Pi*float64(i)/8)*(1<<23)) / (1 << 23)
	}
	for _, at := range []float64{0, 3 + gapS} {
		if err := w.AppendBlock(rig.Block{Channel: rig.Microphone, StartS: at, Samples: x}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
}

// Setup returns the settings of a plain simulated session.
func Setup(t testing.TB) config.Setup {
	t.Helper()
	b, err := sim.New(Small(t, "plain"))
	if err != nil {
		t.Fatal(err)
	}
	return b.Setup()
}
