package wave

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Every step of 8, 16 and 24 bits, and drawn 32-bit steps and floats, go through Write and Read to the same bits.
func TestRoundTripExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	raw := map[Encoding][]byte{}
	for i := range 1 << 8 {
		raw[PCM8] = append(raw[PCM8], byte(i))
	}
	for i := range 1 << 16 {
		raw[PCM16] = binary.LittleEndian.AppendUint16(raw[PCM16], uint16(i))
	}
	for i := range 1 << 24 {
		if i&63 == 0 || i < 1<<10 || i > 1<<24-1<<10 {
			raw[PCM24] = append(raw[PCM24], byte(i), byte(i>>8), byte(i>>16))
		}
	}
	for range 1 << 16 {
		raw[PCM32] = binary.LittleEndian.AppendUint32(raw[PCM32], rng.Uint32())
		raw[Float32] = binary.LittleEndian.AppendUint32(raw[Float32], math.Float32bits(float32(rng.NormFloat64())))
		raw[Float64] = binary.LittleEndian.AppendUint64(raw[Float64], math.Float64bits(rng.NormFloat64()))
	}
	raw[PCM32] = append(raw[PCM32], "\x00\x00\x00\x80\xff\xff\xff\x7f"...)
	for enc, want := range raw {
		f := Format{RateHz: 48000, Channels: 1, Encoding: enc}
		m := &memory{}
		w, err := Create(m, f, "test.wav")
		if err == nil {
			err = w.WriteRaw(want)
		}
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		samples, err := readAll(open(t, m.b), 1, 1000)
		if err != nil {
			t.Fatal(err)
		}
		m2 := &memory{}
		w2, err := Create(m2, f, "test.wav")
		for s := samples; err == nil && len(s) > 0; {
			n := min(777, len(s))
			err, s = w2.Write(s[:n]), s[n:]
		}
		if err == nil {
			err = w2.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(m.b, m2.b) {
			t.Errorf("%v: the bytes changed", enc)
		}
		r := open(t, m2.b)
		if got, _ := io.ReadAll(r.Data()); !bytes.Equal(got, want) || r.Format() != f || len(r.Repairs()) > 0 {
			t.Errorf("%v: got %d bytes, %v, %v", enc, len(got), r.Format(), r.Repairs())
		}
	}
}

func TestWriteRounds(t *testing.T) {
	m := &memory{}
	w, err := Create(m, Format{RateHz: 8000, Channels: 2, Encoding: PCM16}, "test.wav")
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write([]float64{1, -1.5, 0.6 / 32768, -0.6 / 32768}); err != nil {
		t.Fatal(err)
	}
	for _, bad := range [][]float64{{math.NaN(), 0}, {0, math.Inf(1)}, {0}} {
		if err := w.Write(bad); err == nil {
			t.Errorf("%v: no error", bad)
		}
	}
	if err := w.WriteRaw(make([]byte, 3)); err == nil {
		t.Error("3 bytes of 4: no error")
	}
	if w.Frames() != 2 {
		t.Errorf("got %d frames, want 2", w.Frames())
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := w.Write([]float64{0, 0}); err == nil {
		t.Error("written after Close")
	}
	got, _ := io.ReadAll(open(t, m.b).Data())
	if want := []byte("\xff\x7f\x00\x80\x01\x00\xff\xff"); !bytes.Equal(got, want) {
		t.Errorf("got %x, want %x", got, want)
	}
}

// A recording that was never closed is read to its end.
func TestUnclosed(t *testing.T) {
	for _, enc := range []Encoding{PCM8, PCM16, PCM24, PCM32, Float32, Float64} {
		m := &memory{}
		w, err := Create(m, Format{RateHz: 8000, Channels: 1, Encoding: enc}, "test.wav")
		if err != nil {
			t.Fatal(err)
		}
		if r := open(t, m.b); r.Frames() != 0 {
			t.Errorf("%v: %d frames in a file without samples", enc, r.Frames())
		}
		if err := w.Write([]float64{0.5, -0.5, 0.25}); err != nil {
			t.Fatal(err)
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		r := open(t, m.b)
		got, err := readAll(r, 1, 2)
		if want := []float64{0.5, -0.5, 0.25}; err != nil || !slices.Equal(got, want) || len(r.Repairs()) != 1 {
			t.Errorf("%v: got %v, %v, repairs %v", enc, got, err, r.Repairs())
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if r := open(t, m.b); r.Frames() != 3 || len(r.Repairs()) != 0 || len(m.b)&1 != 0 {
			t.Errorf("%v: after Close %d frames, repairs %v, %d bytes", enc, r.Frames(), r.Repairs(), len(m.b))
		}
	}
}

func TestWriteErrors(t *testing.T) {
	full := errors.New("no space left")
	if _, err := Create(failing{full}, Format{RateHz: 8000, Channels: 1, Encoding: PCM16}, "test.wav"); !errors.Is(err, full) {
		t.Errorf("got %v", err)
	}
	for _, f := range []Format{{}, {RateHz: 1, Channels: 1}, {RateHz: 1, Channels: 65, Encoding: PCM16}, {Channels: 1, Encoding: PCM16}} {
		if _, err := Create(&memory{}, f, "test.wav"); err == nil {
			t.Errorf("%v: no error", f)
		}
	}
}

// hollow keeps the first bytes of a file and counts the others: samples of silence.
type hollow struct {
	head [4096]byte
	tail []byte // appended to the file
	size int64
	at   int64
}

func (h *hollow) Write(p []byte) (int, error) {
	if h.at < int64(len(h.head)) {
		copy(h.head[h.at:], p)
	}
	h.at += int64(len(p))
	h.size = max(h.size, h.at)
	return len(p), nil
}

func (h *hollow) Seek(off int64, whence int) (int64, error) {
	if h.at = off; whence == io.SeekEnd {
		h.at += h.size
	}
	return h.at, nil
}

func (h *hollow) ReadAt(p []byte, off int64) (int, error) {
	clear(p)
	if off < int64(len(h.head)) {
		copy(p, h.head[off:])
	}
	if off >= h.size {
		copy(p, h.tail[off-h.size:])
	}
	return len(p), nil
}

// The change from RIFF to RF64 comes with the first byte that 32 bits cannot count (ITU-R BS.2088-1: sizes of 0xFFFFFFFF
// say that ds64 holds the true ones), and not before.
func TestLarge(t *testing.T) {
	const head = 12 + 8 + 28 + 8 + 16 + 8
	zeros := make([]byte, 1<<20)
	for _, tt := range []struct {
		data int64
		id   string
	}{{1<<32 - head - 2, "RIFF"}, {1<<32 - head + 8, "RF64"}, {5 << 30, "RF64"}, {9 << 30, "RF64"}} {
		h := &hollow{}
		w, err := Create(h, Format{RateHz: 192000, Channels: 1, Encoding: PCM16}, "big.wav")
		if err != nil {
			t.Fatal(err)
		}
		for left := tt.data; left > 0; left -= min(left, int64(len(zeros))) {
			if err := w.WriteRaw(zeros[:min(left, int64(len(zeros)))]); err != nil {
				t.Fatal(err)
			}
		}
		check := func(when string, repairs int) {
			t.Helper()
			r, err := Open(h, h.size+int64(len(h.tail)), "big.wav")
			if err != nil {
				t.Fatal(err)
			}
			if r.Frames() != tt.data/2 || len(r.Repairs()) != repairs {
				t.Errorf("%s, %d bytes: got %d frames, repairs %q", when, tt.data, r.Frames(), r.Repairs())
			}
		}
		check("open", 1)
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if got := string(h.head[:4]); got != tt.id {
			t.Errorf("%d bytes: got %s, want %s", tt.data, got, tt.id)
		}
		check("closed", 0)
		if tt.data > math.MaxUint32 { // the same samples under a 32-bit size that overflowed, alone and with a chunk behind
			copy(h.head[:], "RIFF")
			binary.LittleEndian.PutUint32(h.head[head-4:], uint32(tt.data))
			check("overflowed", 1)
			h.tail = []byte(chunk("LIST", "abcd"))
			check("overflowed, chunk", 1)
		}
	}
}
