package recording

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// write puts a file into a folder of the test and returns its path.
func write(t testing.TB, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// writeWave writes frames of channels whose samples are ramps: channel c, frame i is (i%1000 + 1000 c)/32768.
func writeWave(t testing.TB, f wave.Format, frames int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "test.wav")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w, err := wave.Create(file, f, path)
	if err != nil {
		t.Fatal(err)
	}
	samples := make([]float64, 0, frames*f.Channels)
	for i := range frames {
		for c := range f.Channels {
			samples = append(samples, float64(i%1000+1000*(c+1))/32768)
		}
	}
	if err := errors.Join(w.Write(samples), w.Close(), file.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// all reads a source to its end.
type all struct {
	samples  map[rig.Channel][]float64
	readings map[rig.Channel][]rig.Reading
	ahead    float64 // largest lead in seconds of one block's end over a later block's start
}

func readAll(s rig.Source) (all, error) {
	a := all{samples: map[rig.Channel][]float64{}, readings: map[rig.Channel][]rig.Reading{}}
	rate := map[rig.Channel]float64{}
	for _, st := range s.Streams() {
		rate[st.Channel] = st.RateHz
	}
	latest, before := 0.0, 0.0
	for {
		b, err := s.Next()
		if err == io.EOF {
			return a, nil
		}
		if err != nil {
			return a, err
		}
		startS, endS := b.StartS, b.StartS
		if n := len(b.Readings); n > 0 {
			startS, endS = b.Readings[0].AtS, b.Readings[n-1].AtS
			a.readings[b.Channel] = append(a.readings[b.Channel], b.Readings...)
		} else {
			if want := float64(len(a.samples[b.Channel])) / rate[b.Channel]; b.StartS != want {
				return a, fmt.Errorf("%s: block at %v s, want %v", b.Channel, b.StartS, want)
			}
			endS += float64(len(b.Samples)) / rate[b.Channel]
			a.samples[b.Channel] = append(a.samples[b.Channel], b.Samples...)
		}
		if startS < before || endS-startS > blockS+1e-3 {
			return a, fmt.Errorf("%s: block from %v to %v s after one at %v", b.Channel, startS, endS, before)
		}
		a.ahead = max(a.ahead, latest-startS)
		before, latest = startS, max(latest, endS)
	}
}

func TestTogether(t *testing.T) {
	var scale strings.Builder
	scale.WriteString("stable,time_s,mass_g\n")
	for i := range 40 { // 4 s at 10 a second, then a reading every 2 s
		fmt.Fprintf(&scale, "%d,%.2f,%d\n", i%2, 0.05+float64(i)/10, i)
	}
	scale.WriteString("1,6,100\n1,8,101\n")
	o := Options{
		Microphone:        writeWave(t, wave.Format{RateHz: 48000, Channels: 2, Encoding: wave.PCM24}, 48000*3+17),
		MicrophoneChannel: 2,
		Clamp:             writeWave(t, wave.Format{RateHz: 11025, Channels: 1, Encoding: wave.PCM16}, 11025*5+3),
		Scale:             write(t, "scale.csv", scale.String()),
	}
	s, err := Open(o)
	if err != nil {
		t.Fatal(err)
	}
	wantStreams := []rig.Stream{
		{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 48000},
		{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 11025},
		{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram},
	}
	if got := s.Streams(); !slices.Equal(got, wantStreams) {
		t.Errorf("got streams %v", got)
	}
	if a, b, c := s.Encoding(rig.Microphone), s.Encoding(rig.Clamp), s.Encoding(rig.Scale); a != wave.PCM24 || b != wave.PCM16 || c != 0 {
		t.Errorf("got encodings %v, %v, %v", a, b, c)
	}
	got, err := readAll(s)
	if err != nil {
		t.Fatal(err)
	}
	if got.ahead > 0.3 {
		t.Errorf("a channel ran %v s ahead", got.ahead)
	}
	for ch, frames := range map[rig.Channel]int{rig.Microphone: 48000*3 + 17, rig.Clamp: 11025*5 + 3} {
		x := got.samples[ch]
		first := map[rig.Channel]float64{rig.Microphone: 2000, rig.Clamp: 1000}[ch]
		if len(x) != frames || x[0] != first/32768 || x[frames-1] != (first+float64((frames-1)%1000))/32768 {
			t.Errorf("%s: got %d samples, %v ... %v", ch, len(x), x[0], x[len(x)-1])
		}
	}
	r := got.readings[rig.Scale]
	if len(r) != 42 || r[0] != (rig.Reading{AtS: 0.05, Value: 0, Stable: rig.No}) || r[41] != (rig.Reading{AtS: 8, Value: 101, Stable: rig.Yes}) {
		t.Errorf("got readings %v", r)
	}
	if w := s.Warnings(); len(w) > 0 {
		t.Errorf("got warnings %v", w)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestWarnings(t *testing.T) {
	path := writeWave(t, wave.Format{RateHz: 8000, Channels: 2, Encoding: wave.PCM16}, 8000)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b[:len(b)-1001], 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(Options{Microphone: path, Clamp: path, ClampChannel: 2})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := readAll(s); err != nil {
		t.Fatal(err)
	}
	want := []rig.Warning{
		{Code: "microphone-several-channels", Text: "the microphone recording has 2 channels, and none was chosen: the first is used"},
		{Code: "microphone-file-repaired", Text: "test.wav: the header promises 32000 bytes of samples, the file holds 30999: read to its end; the last frame is cut, 3 of its 4 bytes are there: left out"},
		{Code: "clamp-file-repaired", Text: "test.wav: the header promises 32000 bytes of samples, the file holds 30999: read to its end; the last frame is cut, 3 of its 4 bytes are there: left out"},
	}
	if got := s.Warnings(); !slices.Equal(got, want) {
		t.Errorf("got %+v", got)
	}
}

func TestOpenErrors(t *testing.T) {
	scale := write(t, "scale.csv", "time_s,mass_g\n0,1\n")
	w := func(rateHz, frames int) string {
		return writeWave(t, wave.Format{RateHz: rateHz, Channels: 2, Encoding: wave.PCM16}, frames)
	}
	dir := t.TempDir()
	tests := []struct {
		name string
		o    Options
		want string
	}{
		{"none", Options{}, "found no recording, expected at least one"},
		{"missing", Options{Microphone: filepath.Join(dir, "none.wav")}, "none.wav: found no such file, expected a recording: check the path"},
		{"folder", Options{Scale: dir}, ": found a folder, expected a recording"},
		{"device", Options{Clamp: os.DevNull}, ": found a device or pipe, expected a recording"},
		{"scale for microphone", Options{Microphone: scale}, `scale.csv: byte 0: found "time", expected a WAV file`},
		{"sound for scale", Options{Scale: w(8000, 10)}, "test.wav: byte 0: found a WAV file, expected a table with the columns time_s,mass_g,stable"},
		{"table named .wav", Options{Clamp: write(t, "clamp.wav", "time_s,current_a\n0,1\n")}, `clamp.wav: byte 0: found "time", expected a WAV file`},
		{"slow", Options{Microphone: w(999, 10)}, "test.wav: byte 60: found 999 samples a second, expected 1000 to 192000"},
		{"fast", Options{Microphone: w(192001, 10)}, "test.wav: byte 60: found 192001 samples a second, expected 1000 to 192000"},
		{"fast clamp", Options{Clamp: w(192001, 10)}, "test.wav: byte 60: found 192001 samples a second, expected 1000 to 192000"},
		{"empty", Options{Clamp: w(8000, 0)}, "test.wav: byte 80: found no samples, expected a recording"},
		{"third channel", Options{Clamp: w(8000, 10), ClampChannel: 3}, "test.wav: found 2 channels, expected a channel 3: choose a channel from 1 to 2"},
		{"channel -1", Options{Microphone: w(8000, 10), MicrophoneChannel: -1}, "expected a channel -1"},
		{"scale for clamp", Options{Clamp: scale}, `scale.csv:1: found column "mass_g", expected only time_s,current_a or time_s,rms_a: rename or remove the column`},
		{"second is wrong", Options{Microphone: w(8000, 10), Scale: write(t, "s.csv", "")}, "s.csv:1: found an empty file, expected a header such as time_s,mass_g,stable"},
	}
	for _, tt := range tests {
		s, err := Open(tt.o)
		if err == nil {
			t.Errorf("%s: no error", tt.name)
			_ = s.Close()
			continue
		}
		var fe *rig.FileError
		if !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") || tt.name != "none" && !errors.As(err, &fe) {
			t.Errorf("%s: got %v, want %s", tt.name, err, tt.want)
		}
	}
	for _, rateHz := range []int{1000, 192000} {
		s, err := Open(Options{Microphone: w(rateHz, 10)})
		if err != nil {
			t.Errorf("%d Hz: %v", rateHz, err)
			continue
		}
		_ = s.Close()
	}
}

// TestPickBesideMono takes a recording of one channel as it is beside one of several, and refuses the
// choice of a later channel where none has it.
func TestPickBesideMono(t *testing.T) {
	dir := t.TempDir()
	made := func(name string, channels int) string {
		from := writeWave(t, wave.Format{RateHz: 8000, Channels: channels, Encoding: wave.PCM16}, 10)
		to := filepath.Join(dir, name)
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
		return to
	}
	one, two, rows := made("one.wav", 1), made("two.wav", 2), write(t, "c.csv", "time_s,rms_a\n0,1\n0.1,2\n")
	for _, c := range []struct {
		o    Options
		want string // of the error; "": none
	}{
		{Options{Microphone: two, Clamp: one, MicrophoneChannel: 2, ClampChannel: 2}, ""},
		{Options{Microphone: one, Clamp: two, MicrophoneChannel: 2, ClampChannel: 2}, ""},
		{Options{Microphone: two, Clamp: rows, MicrophoneChannel: 2, ClampChannel: 2}, ""},
		{Options{Microphone: one, Clamp: one, MicrophoneChannel: 1, ClampChannel: 1}, ""},
		{Options{Microphone: one, Clamp: one, MicrophoneChannel: 2, ClampChannel: 2}, "one.wav: found 1 channel, expected several, of which channel 2 is to be taken: choose no channel"},
		{Options{Microphone: one, Clamp: rows, MicrophoneChannel: 2, ClampChannel: 2}, "one.wav: found 1 channel, expected several"},
		{Options{Microphone: two, Clamp: one, MicrophoneChannel: 3, ClampChannel: 3}, "two.wav: found 2 channels, expected a channel 3"},
		{Options{Microphone: one, Clamp: two, MicrophoneChannel: 3, ClampChannel: 3}, "two.wav: found 2 channels, expected a channel 3"},
	} {
		s, err := Open(c.o)
		if c.want != "" {
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%+v: got %v, want %s", c.o, err, c.want)
			}
		} else if err != nil {
			t.Errorf("%+v: %v", c.o, err)
		}
		if err == nil {
			if _, err := readAll(s); err != nil {
				t.Errorf("%+v: %v", c.o, err)
			}
			_ = s.Close()
		}
	}
}
