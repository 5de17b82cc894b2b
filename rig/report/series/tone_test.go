package series

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
	"path/filepath"
	"testing"

	"quern/rig/report/series/recorded"
	"quern/rig/wave"
)

// TestCalibrated: levels and pressures are those of the calibrator, on both sides of a gap that is longer than
// what a meter is given of it.
func TestCalibrated(t *testing.T) {
	const gapS = 200.3
	dir := filepath.Join(t.TempDir(), "s")
	recorded.Tone(t, dir, gapS)
	s := opened(t, dir, "")
	for _, at := range []float64{1, 3 + gapS + 1} {
		l, err := s.Envelope(t.Context(), Level, at, at+1.5, 3)
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.Envelope(t.Context(), Waveform, at, at+1.5, 3)
		if err != nil {
			t.Fatal(err)
		}
		o, err := s.Octaves(t.Context(), at, at+1.5, 100)
		if err != nil {
			t.Fatal(err)
		}
		for k := range 3 {
			if !(math.Abs(float64(l.Mean[k])-94) <= 0.05) || l.Unit != "dB" {
				t.Errorf("level %g %s, want 94 dB", l.Mean[k], l.Unit)
			}
			peak := 1.0024 * math.Sqrt2
			if !(math.Abs(float64(p.Max[k])-peak) <= 1e-3) || !(math.Abs(float64(p.Min[k])+peak) <= 1e-3) || p.Unit != "Pa" {
				t.Errorf("pressure from %g to %g %s, want %g Pa either side of 0", p.Min[k], p.Max[k], p.Unit, peak)
			}
		}
		for k, column := range o.DB {
			for b, v := range column {
				if o.BandsHz[b] == 1000 && math.Abs(float64(v)-94) > 0.1 {
					t.Errorf("column %d of %d: %g dB in the band of 1 kHz, want 94", k, len(o.DB), v)
				}
			}
		}
	}
	l, err := s.Envelope(t.Context(), Level, 3+gapS-0.5, 3+gapS+0.5, 100)
	if err != nil {
		t.Fatal(err)
	}
	for k := range l.Max {
		if there := l.Max[k] == l.Max[k]; there != (k >= 56) { // 50 ms ring, and the frame after them
			t.Errorf("%g s after the gap: there %v", float64(k)/100-0.5, there)
		}
	}
}

// TestClip reads the same stretch whole and by the byte, and compares its samples with the recording's.
func TestClip(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	recorded.Tone(t, dir, 0.5)
	s := opened(t, dir, "")
	w := s.waves[Waveform]
	whole, err := io.ReadAll(newClip(w, wave.PCM16, 2.5, 4))
	if err != nil {
		t.Fatal(err)
	}
	drip := []byte{}
	c := newClip(w, wave.PCM16, 2.5, 4)
	for b := make([]byte, 1); ; {
		n, err := c.Read(b)
		drip = append(drip, b[:n]...)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if string(whole) != string(drip) || len(whole) != 44+2*12000 {
		t.Fatalf("%d bytes whole, %d by the byte, want %d alike", len(whole), len(drip), 44+2*12000)
	}
	if n, err := c.Seek(-2, io.SeekEnd); n != int64(len(whole)-2) || err != nil {
		t.Errorf("seek: %d, %v", n, err)
	}
	if rest, err := io.ReadAll(c); err != nil || string(rest) != string(whole[len(whole)-2:]) {
		t.Errorf("the last sample is %x (%v), want %x", rest, err, whole[len(whole)-2:])
	}
	r, err := wave.Open(bytesAt(whole), int64(len(whole)), "clip")
	if err != nil {
		t.Fatal(err)
	}
	if f := r.Format(); f.RateHz != 8000 || f.Channels != 1 || f.Encoding != wave.PCM16 || r.Frames() != 12000 || len(r.Repairs()) > 0 {
		t.Fatalf("%v, %d frames, %q", f, r.Frames(), r.Repairs())
	}
	for k := range 12000 {
		got := int16(binary.LittleEndian.Uint16(whole[44+2*k:]))
		at := 2.5 + float64(k)/8000
		want := 0.0
		switch {
		case at < 3:
			want = math.Sin(2 * math.Pi * float64(20000+k) / 8)
		case at >= 3.5:
			want = math.Sin(2 * math.Pi * float64(k-8000) / 8)
		}
		want *= math.Pow(10, -26.0/20) * (1 << 15)
		if !(math.Abs(float64(got)-want) <= 1) {
			t.Fatalf("sample %d is %d, want %g", k, got, want)
		}
	}
}

// TestExcerpt: as recorded, 24 bits, with the gap as silence; an odd number of bytes is padded.
func TestExcerpt(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	recorded.Tone(t, dir, 0.5)
	s, err := OpenRecordings(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	c, err := s.Excerpt(Waveform, 2.5, 4+1.0/8000)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(c)
	if err != nil || len(b) != 44+3*12001+1 {
		t.Fatalf("%d bytes (%v)", len(b), err)
	}
	r, err := wave.Open(bytesAt(b), int64(len(b)), "excerpt")
	if err != nil {
		t.Fatal(err)
	}
	if f := r.Format(); f.Encoding != wave.PCM24 || r.Frames() != 12001 || len(r.Repairs()) > 0 {
		t.Fatalf("%v, %d frames, %q", f, r.Frames(), r.Repairs())
	}
	got := make([]float64, 12001)
	if _, err := r.Read(got, 1); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	for k, v := range got {
		i := 20000 + k // frame of the recording
		switch at := 2.5 + float64(k)/8000; {
		case at >= 3.5:
			i -= 4000
		case at >= 3:
			i = 0 // the tone begins at 0, as silence
		}
		want := math.Round(math.Pow(10, -26.0/20)*math.Sin(2*math.Pi*float64(i)/8)*(1<<23)) / (1 << 23)
		if !(math.Abs(v-want) <= 1.0/(1<<23)) {
			t.Fatalf("sample %d is %g, want %g", k, v, want)
		}
	}
	if _, err := s.Excerpt(Mass, 0, 1); !errors.Is(err, ErrAbsent) {
		t.Errorf("the scale as sound: %v", err)
	}
}

type bytesAt []byte

func (b bytesAt) ReadAt(p []byte, off int64) (int, error) {
	n := copy(p, b[min(off, int64(len(b))):])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}
