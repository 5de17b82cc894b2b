package pcm

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// heard is a sink. After is called with every delivery.
type heard struct {
	samples map[rig.Channel][]float64
	lost    map[rig.Channel][]int64 // at each delivery
	starts  map[rig.Channel][]int   // of each delivery
	xruns   int
	rejects []string
	after   func()
}

func newHeard() *heard {
	return &heard{samples: map[rig.Channel][]float64{}, lost: map[rig.Channel][]int64{}, starts: map[rig.Channel][]int{}, after: func() {}}
}

func (h *heard) Samples(c rig.Channel, got time.Time, lost int64, samples []float64) {
	if got.IsZero() {
		panic("no time")
	}
	h.starts[c] = append(h.starts[c], len(h.samples[c]))
	h.lost[c] = append(h.lost[c], lost)
	h.samples[c] = append(h.samples[c], samples...)
	h.after()
}
func (h *heard) Reading(rig.Channel, time.Time, float64, rig.Mark) {
	panic("a reading of a sound card")
}
func (h *heard) Reject(_ rig.Channel, why string) { h.rejects = append(h.rejects, why); h.after() }
func (h *heard) Xrun(rig.Channel)                 { h.xruns++ }
func (h *heard) Alive(rig.Channel, string)        {}

func usual() config.MicrophoneDevice {
	return config.MicrophoneDevice{ALSA: config.ALSA{Device: "bench", RateHz: 48000, Format: "S16_LE", Channels: 1, Channel: 1, BufferUs: 200000, PeriodUs: 20000}}
}

// widths of the forms by their names; FLOAT_LE as IEEE 754 binary32. Written out here apart from the code.
var forms = []struct {
	name        string
	bytes, bits int
}{{"S16_LE", 2, 16}, {"S24_3LE", 3, 24}, {"S24_LE", 4, 24}, {"S32_LE", 4, 32}, {"FLOAT_LE", 4, 0}}

// put returns random samples and their bytes; the least and the largest value stand first.
func put(name string, width, bits, n int) (values []float64, data []byte) {
	r := rand.New(rand.NewPCG(7, uint64(width*100+bits)))
	for i := range n {
		var raw uint64
		if bits == 0 {
			f := float32(r.Float64()*2 - 1)
			raw = uint64(math.Float32bits(f))
			values = append(values, float64(f))
		} else {
			v := r.Int64N(1<<bits) - 1<<(bits-1)
			switch i {
			case 0:
				v = -1 << (bits - 1)
			case 1:
				v = 1<<(bits-1) - 1
			}
			raw = uint64(v)
			values = append(values, float64(v)/math.Exp2(float64(bits-1)))
		}
		if name == "S24_LE" && i%2 == 0 {
			raw ^= 0xff000000 // padding may hold anything
		}
		var b [8]byte
		binary.LittleEndian.PutUint64(b[:], raw)
		data = append(data, b[:width]...)
	}
	return values, data
}

// The real arecord reads a file through the library's file plugin: every form, one and two channels, byte
// for byte.
func TestRealRecorder(t *testing.T) {
	if _, err := exec.LookPath("arecord"); err != nil {
		t.Skip("no arecord here: install alsa-utils")
	}
	const frames = 30000
	for _, f := range forms {
		for channels := 1; channels <= 2; channels++ {
			t.Run(fmt.Sprintf("%s %d", f.name, channels), func(t *testing.T) {
				values, data := put(f.name, f.bytes, f.bits, frames*channels)
				dir := t.TempDir()
				in := filepath.Join(dir, "in.raw")
				write(t, in, string(data))
				conf := filepath.Join(dir, "asound.conf")
				write(t, conf, fmt.Sprintf("pcm.nothing { type null }\npcm.bench { type file slave.pcm nothing file /dev/null infile %q format raw }\n", in))
				t.Setenv("ALSA_CONFIG_PATH", conf)
				cfg := usual()
				cfg.ALSA.Format, cfg.ALSA.Channels = f.name, channels
				cfg.ALSA.Channel = channels
				cfg.ALSA.ClampOnCard = 1
				card, err := New(cfg, true, channels == 2)
				if err != nil {
					t.Fatal(err)
				}
				ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
				defer cancel()
				h := newHeard()
				last := card.Streams()[channels-1].Channel
				h.after = func() {
					if len(h.samples[last]) >= frames {
						cancel()
					}
				}
				if err := card.Run(ctx, h); err != nil {
					t.Fatal(err)
				}
				for i, s := range card.Streams() {
					want := make([]float64, 0, frames)
					for k := channels - 1 - i; k < len(values); k += channels {
						want = append(want, values[k])
					}
					got := h.samples[s.Channel]
					if len(got) < frames || !slices.Equal(got[:frames], want) {
						t.Errorf("%s: %d samples that differ from the %d sent", s.Channel, len(got), frames)
					}
					if slices.Max(h.lost[s.Channel]) != 0 {
						t.Errorf("%s: lost %v", s.Channel, h.lost[s.Channel])
					}
				}
			})
		}
	}
}

func TestRealRecorderWithoutCard(t *testing.T) {
	if _, err := exec.LookPath("arecord"); err != nil {
		t.Skip("no arecord here: install alsa-utils")
	}
	cfg := usual()
	cfg.ALSA.Device = "hw:CARD=NoSuchCard,DEV=0"
	card, err := New(cfg, true, false)
	if err != nil {
		t.Fatal(err)
	}
	if err := card.Run(t.Context(), newHeard()); err == nil || !strings.Contains(err.Error(), "no such card") {
		t.Errorf("got %v", err)
	}
}

// Samples that are no numbers are told and their time is kept.
func TestNotNumbers(t *testing.T) {
	cfg := usual()
	cfg.ALSA.Format = "FLOAT_LE"
	card, err := New(cfg, true, false)
	if err != nil {
		t.Fatal(err)
	}
	h := newHeard()
	s := &said{frameBytes: 4}
	deliver := card.deliverer(h, s)
	nan := binary.LittleEndian.AppendUint32(make([]byte, 4), math.Float32bits(float32(math.NaN())))
	beyond := binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(math.Inf(-1))))
	for at, b := range [][]byte{nan, beyond} {
		if err := deliver(time.Unix(1, 0), b, int64(8*at)); err != nil {
			t.Fatal(err)
		}
	}
	if len(h.rejects) != 1 || !slices.Equal(h.lost[rig.Microphone], []int64{2}) || !slices.Equal(h.samples[rig.Microphone], []float64{-1}) {
		t.Errorf("got %+v", h)
	}
}

func TestNewRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change     func(*config.ALSA)
		mic, clamp bool
		want       string
	}{
		"format":        {func(a *config.ALSA) { a.Format = "U8" }, true, false, "S24_3LE"},
		"no device":     {func(a *config.ALSA) { a.Device = "" }, true, false, "device"},
		"option":        {func(a *config.ALSA) { a.Device = "--version" }, true, false, "device"},
		"rate":          {func(a *config.ALSA) { a.RateHz = 0 }, true, false, "rate_hz"},
		"channel":       {func(a *config.ALSA) { a.Channel = 2 }, true, false, "1 to 1"},
		"no clamp":      {func(a *config.ALSA) {}, true, true, "clamp_channel"},
		"same":          {func(a *config.ALSA) { a.ClampOnCard = 1 }, true, true, "another channel"},
		"nothing":       {func(a *config.ALSA) {}, false, false, "one of them"},
		"short buffer":  {func(a *config.ALSA) { a.BufferUs = 20000 }, true, false, "two periods"},
		"zero channels": {func(a *config.ALSA) { a.Channels = 0 }, true, false, "1 or more"},
	} {
		t.Run(name, func(t *testing.T) {
			cfg := usual()
			c.change(&cfg.ALSA)
			if _, err := New(cfg, c.mic, c.clamp); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func FuzzSaid(f *testing.F) {
	f.Add([]byte("overrun!!! (at least 12.345 ms long)\nStatus:\n  avail : 10\n"), 3)
	f.Add([]byte("  rate : 48000\n  buffer_size : 9600\n  boundary : 1\n  rate : 1\nSuspended. Done.\n"), 1)
	f.Add([]byte(strings.Repeat("x", 1000)+"\n  avail : 99999999999999999999\n"), 7)
	f.Fuzz(func(t *testing.T, b []byte, written int) {
		feed := func(step int) *said {
			s := &said{frameBytes: 6, buffer: 9600}
			for rest := b; len(rest) > 0; {
				n := min(step, len(rest))
				s.push(rest[:n], int64(written)&math.MaxInt32)
				rest = rest[n:]
			}
			return s
		}
		whole, drip := feed(len(b)+1), feed(1)
		if !slices.Equal(whole.losses, drip.losses) || !slices.Equal(whole.lines, drip.lines) || whole.rateHz != drip.rateHz || whole.buffer != drip.buffer {
			t.Fatalf("whole %+v, drip %+v", whole, drip)
		}
		if len(whole.part) > lineBytes || len(whole.lines) > linesKept || len(whole.losses) > 1000 {
			t.Fatalf("too much is kept: %d, %d, %d", len(whole.part), len(whole.lines), len(whole.losses))
		}
		for _, l := range whole.losses {
			if n, ok := l.frames(48000); ok && n < 0 || l.at%6 != 0 {
				t.Fatalf("loss %+v", l)
			}
		}
	})
}

func BenchmarkDeliver(b *testing.B) {
	cfg := usual()
	cfg.ALSA.Format, cfg.ALSA.Channels, cfg.ALSA.ClampOnCard = "S24_3LE", 2, 2
	card, err := New(cfg, true, true)
	if err != nil {
		b.Fatal(err)
	}
	h := &nothing{}
	deliver := card.deliverer(h, &said{frameBytes: 6})
	data := make([]byte, 960*6)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if err := deliver(time.Time{}, data, 0); err != nil {
			b.Fatal(err)
		}
	}
}

type nothing struct{}

func (nothing) Samples(rig.Channel, time.Time, int64, []float64)  {}
func (nothing) Reading(rig.Channel, time.Time, float64, rig.Mark) {}
func (nothing) Reject(rig.Channel, string)                        {}
func (nothing) Xrun(rig.Channel)                                  {}
func (nothing) Alive(rig.Channel, string)                         {}
