package review

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"quern/acquire/sim"
	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

var (
	started = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	later   = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
)

// small is a named scenario at low rates, quickly simulated and analysed.
func small(t testing.TB, name string) sim.Scenario {
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

// patterns are folders with a session s, derived and analysed, that tests take copies of.
type patterns struct {
	mu  sync.Mutex
	dir string
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "review")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	shared.dir = dir
	code := m.Run()
	_ = os.RemoveAll(dir) // of no use to anybody
	os.Exit(code)
}

var shared patterns

// made returns the folder of a scenario, made by whoever asks first.
func made(t testing.TB, scenario string) string {
	t.Helper()
	shared.mu.Lock()
	defer shared.mu.Unlock()
	folder := filepath.Join(shared.dir, scenario)
	dir := filepath.Join(folder, "s")
	if _, err := os.Stat(folder); err == nil {
		return folder
	}
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	record(t, dir, small(t, scenario), true)
	keep(t, dir)
	if err := Prepare(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	return folder
}

// hole is a stretch in which a channel gives nothing.
type hole struct {
	channel rig.Channel
	span
}

// temperature is an extra channel that the fixture invents.
var temperature = rig.Stream{Channel: "water-temperature", Form: rig.Value, Unit: "degC"}

// record keeps a scenario as a session folder, with holes and, if it is wanted, an extra channel.
func record(t testing.TB, dir string, sc sim.Scenario, extra bool, holes ...hole) {
	t.Helper()
	b, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	set := b.Setup()
	set.Bench.Detect = config.DefaultDetect()
	head := session.Head{Setup: set, Started: started, Tool: "quern test", Origin: rig.Recorded}
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
		head.Streams = append(head.Streams, session.Stream{Stream: temperature})
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
			if err := w.AppendReading(temperature.Channel, rig.Reading{AtS: float64(i), Value: 15 + math.Sin(float64(i)/7)}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
}

// without cuts holes out of a block.
func without(b rig.Block, streams []rig.Stream, holes []hole) []rig.Block {
	rate := 0.0
	for _, s := range streams {
		if s.Channel == b.Channel {
			rate = s.RateHz
		}
	}
	in := func(atS float64) bool {
		for _, h := range holes {
			if h.channel == b.Channel && atS >= h.fromS && atS < h.toS {
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

// opened opens a session without a cache and waits for everything.
func opened(t testing.TB, dir, cache string) *Session {
	t.Helper()
	s, err := Open(dir, cache)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := s.Wait(t.Context()); err != nil {
		t.Fatal(err)
	}
	return s
}

// testLab is the demonstration lab, and for units that it does not have, none.
func testLab(t testing.TB) *config.Lab {
	t.Helper()
	lab, err := config.Read(os.DirFS("../../../testdata/lab"))
	if err != nil {
		t.Fatal(err)
	}
	return lab
}

// keep analyses a session and stores what comes of it.
func keep(t testing.TB, dir string) rig.Result {
	t.Helper()
	ses, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	src, err := ses.Source()
	if err != nil {
		t.Fatal(err)
	}
	set := ses.Setup().ForAnalysis()
	res, err := detect.Analyse(src, set, filepath.Base(dir), detect.Trace{})
	if err != nil {
		t.Fatal(err)
	}
	if err := session.StoreAnalysis(dir, ses.Analysed(set, "quern test", later, res)); err != nil {
		t.Fatal(err)
	}
	return res
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

func setupOf(t testing.TB) config.Setup {
	t.Helper()
	b, err := sim.New(small(t, "plain"))
	if err != nil {
		t.Fatal(err)
	}
	return b.Setup()
}

// signed gives bytes a checksum in place of their last four.
func signed(b []byte) []byte {
	body := bytes.Clone(b[:max(0, len(b)-4)])
	return binary.LittleEndian.AppendUint32(body, crc32.Checksum(body, castagnoli))
}
