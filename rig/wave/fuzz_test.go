package wave

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/rig"
)

// Damage of every byte of a header in turn, and a cut at every byte, never panics, and never gives more than is there.
func TestDamage(t *testing.T) {
	good := riff(chunk("LIST", "abc"), chunk("fmt ", format(1, 2, 8000, 4, 16)), chunk("data", "\x01\x00\x02\x00\x03\x00\x04\x00"))
	for i := range good {
		for _, v := range []byte{0, 1, 0x7f, 0xff} {
			b := bytes.Clone(good)
			b[i] = v
			try(t, b)
		}
		try(t, good[:i])
	}
}

// try reads a file whole and by the byte, and compares.
func try(t *testing.T, b []byte) {
	t.Helper()
	read := func(r io.ReaderAt, cut int) string {
		rd, err := Open(r, int64(len(b)), "test.wav")
		if err != nil {
			var fe *rig.FileError
			if !errors.As(err, &fe) || strings.ContainsAny(err.Error(), "\n\r") {
				t.Fatalf("%q: %v", b, err)
			}
			return err.Error()
		}
		out := fmt.Sprint(rd.Format(), rd.Frames())
		for c := 1; c <= rd.Format().Channels; c++ {
			rd, _ := Open(r, int64(len(b)), "test.wav")
			samples, err := readAll(rd, c, cut)
			if int64(len(samples)) != rd.Frames() || err != nil || len(samples) > len(b) {
				t.Fatalf("%q: %d of %d frames, %v", b, len(samples), rd.Frames(), err)
			}
			for _, v := range samples {
				if v-v != 0 {
					t.Fatalf("%q: sample %v", b, v)
				}
			}
			out += fmt.Sprint(samples, rd.Repairs())
		}
		return out
	}
	r := bytes.NewReader(b)
	if whole, drop := read(r, 4096), read(drip{r}, 1); whole != drop {
		t.Fatalf("%q: whole %s, drip %s", b, whole, drop)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte("RIFF"))
	f.Add(riff(chunk("fmt ", format(1, 1, 8000, 2, 16)), chunk("data", "\x01\x00\x02\x00")))
	f.Add(riff(chunk("LIST", "abc"), chunk("fmt ", format(3, 2, 8000, 16, 64)), chunk("data", strings.Repeat("\xff", 32))))
	f.Add([]byte(sized("RF64", openSize, "WAVE"+chunk("ds64", strings.Repeat("\x08", 28))+chunk("fmt ", format(1, 1, 8000, 3, 24))+sized("data", openSize, "abcdefg"))))
	f.Add(riff(chunk("data", "abc"), chunk("fmt ", format(tagExtensible, 1, 8000, 1, 8)+"\x16\x00\x08\x00\x00\x00\x00\x00\x01\x00"+subTail)))
	f.Fuzz(func(t *testing.T, b []byte) { try(t, b) })
}

func benchmark(b *testing.B, enc Encoding, channels int) {
	const frames = 1 << 18
	m := &memory{}
	w, err := Create(m, Format{RateHz: 48000, Channels: channels, Encoding: enc}, "bench.wav")
	if err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	samples := make([]float64, frames*channels)
	for i := range samples {
		samples[i] = rng.Float64() - 0.5
	}
	if err := w.Write(samples); err != nil {
		b.Fatal(err)
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	dst := make([]float64, 12000)
	b.SetBytes(int64(frames * channels * enc.Bytes()))
	for b.Loop() {
		r, err := Open(bytes.NewReader(m.b), int64(len(m.b)), "bench.wav")
		if err != nil {
			b.Fatal(err)
		}
		for err == nil {
			_, err = r.Read(dst, 1)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/frames, "ns/sample")
}

func BenchmarkRead(b *testing.B) {
	for _, enc := range []Encoding{PCM8, PCM16, PCM24, PCM32, Float32, Float64} {
		b.Run(strings.ReplaceAll(enc.String(), " ", "-"), func(b *testing.B) { benchmark(b, enc, 1) })
	}
	b.Run("16-bit-PCM-stereo", func(b *testing.B) { benchmark(b, PCM16, 2) })
}
