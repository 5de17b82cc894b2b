package recording

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
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
		{Code: "microphone-file-repaired", Text: "test.wav: the header promises 32000 bytes of samples, the file holds 30999: read to its end"},
		{Code: "microphone-file-repaired", Text: "test.wav: the last frame is cut, 3 of its 4 bytes are there: left out"},
		{Code: "clamp-file-repaired", Text: "test.wav: the header promises 32000 bytes of samples, the file holds 30999: read to its end"},
		{Code: "clamp-file-repaired", Text: "test.wav: the last frame is cut, 3 of its 4 bytes are there: left out"},
	}
	if got := s.Warnings(); !slices.Equal(got, want) {
		t.Errorf("got %q", got)
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
		{"slow", Options{Microphone: w(999, 10)}, "test.wav: found 999 samples a second, expected 1000 to 192000"},
		{"fast", Options{Microphone: w(192100, 10)}, "expected 1000 to 192000"},
		{"empty", Options{Clamp: w(8000, 0)}, "test.wav: byte 80: found no samples, expected a recording"},
		{"third channel", Options{Clamp: w(8000, 10), ClampChannel: 3}, "test.wav: found 2 channels, expected a channel 3: choose a channel from 1 to 2"},
		{"channel -1", Options{Microphone: w(8000, 10), MicrophoneChannel: -1}, "expected a channel -1"},
		{"scale for clamp", Options{Clamp: scale}, `scale.csv:1: found column "mass_g", expected only time_s,current_a,rms_a: rename or remove the column`},
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

// drip gives one byte a read.
type drip struct{ r io.ReaderAt }

func (d drip) ReadAt(p []byte, off int64) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	return d.r.ReadAt(p[:1], off)
}

// opener opens one table.
type opener func(r io.ReaderAt, size int64, name string) (*track, error)

// readTable reads a table of text whole, and by the byte: both must come to the same.
func readTable(t testing.TB, open opener, text string) (rig.Stream, all, error) {
	t.Helper()
	read := func(r io.ReaderAt) (rig.Stream, all, error) {
		tr, err := open(r, int64(len(text)), "test.csv")
		if err != nil {
			return rig.Stream{}, all{}, err
		}
		tr.stream.Channel = "test"
		a, err := readAll(&Source{tracks: []*track{tr}})
		return tr.stream, a, err
	}
	stream, whole, err := read(strings.NewReader(text))
	if len(text) < 10000 {
		stream2, slow, err2 := read(drip{strings.NewReader(text)})
		if a, b := fmt.Sprint(stream, whole, err), fmt.Sprint(stream2, slow, err2); a != b {
			t.Fatalf("%q: whole %s, by the byte %s", text, a, b)
		}
	}
	if err != nil {
		var fe *rig.FileError
		if !errors.As(err, &fe) || fe.Line < 1 || fe.Do == "" || strings.ContainsAny(err.Error(), "\n\r\x00") {
			t.Fatalf("%q: a poor error: %q", text, err)
		}
	}
	return stream, whole, err
}

func TestTables(t *testing.T) {
	tests := []struct {
		name string
		open opener
		text string
		want string // what is read, or the error
	}{
		{"scale", openScaleTable, "time_s,mass_g,stable\n0,12.5,0\n0.1,12.4,1\n", "[{0 12.5 2} {0.1 12.4 1}]"},
		{"no stable", openScaleTable, "time_s,mass_g\n0,-12.5\n", "[{0 -12.5 0}]"},
		{"other order", openScaleTable, "mass_g,stable,time_s\n5,1,3\n", "[{3 5 1}]"},
		{"mark, CRLF, spaces, quotes, empty lines", openScaleTable, "\ufefftime_s , \"mass_g\"\r\n 0 ,  1e1 \r\n\"1\", \"2\" \r\n\r\n  \r\n", "[{0 10 0} {1 2 0}]"},
		{"no line end", openScaleTable, "time_s,mass_g\n0,1\n1,2", "[{0 1 0} {1 2 0}]"},
		{"RMS", openClampTable, "time_s,rms_a\n0,0\n0.016667,5.25\n1.5,31\n", "[{0 0 0} {0.016667 5.25 0} {1.5 31 0}]"},
		{"empty file", openScaleTable, "", "test.csv:1: found an empty file, expected a header such as time_s,mass_g,stable: export the recording again"},
		{"no rows", openScaleTable, "time_s,mass_g\n\n", "found no rows, expected at least one row after the header"},
		{"no header", openScaleTable, "0,1\n1,2\n", "test.csv:1: found numbers, expected a header such as time_s,mass_g,stable: add a first line that names the columns"},
		{"empty line first", openScaleTable, "\ntime_s,mass_g\n", "test.csv:1: found an empty line"},
		{"semicolons", openScaleTable, "time_s;mass_g\n0;1\n", `test.csv:1: found ";" between the columns, expected ",": export with commas`},
		{"tabs", openScaleTable, "time_s\tmass_g\n", "test.csv:1: found a tab between the columns"},
		{"UTF-16", openScaleTable, "\xff\xfet\x00i\x00", "test.csv:1: found text in UTF-16, expected text in UTF-8"},
		{"old line ends", openScaleTable, "time_s,mass_g\r0,1\r", "test.csv:1: found lines that end in a carriage return only"},
		{"no text", openScaleTable, "\x7fELF\x02\x01\x00\n", "test.csv:1: found bytes that are no text"},
		{"unknown column", openScaleTable, "time_s,mass_g,note\n", `test.csv:1: found column "note", expected only time_s,mass_g,stable: rename or remove the column`},
		{"column twice", openScaleTable, "time_s,mass_g,mass_g\n", "test.csv:1: found column mass_g twice"},
		{"no time", openScaleTable, "mass_g\n1\n", "test.csv:1: found no column time_s"},
		{"no mass", openScaleTable, "time_s,stable\n1,1\n", "test.csv:1: found no column mass_g"},
		{"both currents", openClampTable, "time_s,current_a,rms_a\n", "test.csv:1: found both current_a and rms_a"},
		{"no current", openClampTable, "time_s\n", "test.csv:1: found neither current_a nor rms_a, expected time_s,current_a (instantaneous amperes) or time_s,rms_a"},
		{"decimal comma", openScaleTable, "time_s,mass_g\n0,12,4\n", "test.csv:2: found 3 values, expected 2 (time_s,mass_g): give every column one value, with a decimal point"},
		{"quoted decimal comma", openScaleTable, "time_s,mass_g\n0,1\n1,\"12,4\"\n", `test.csv:3: found mass_g "12,4", expected a number such as 12.4: use a decimal point`},
		{"too few", openScaleTable, "time_s,mass_g\n0\n", "test.csv:2: found 1 values, expected 2"},
		{"nothing", openScaleTable, "time_s,mass_g\n0,\n", "test.csv:2: found no mass_g, expected a number such as 12.4"},
		{"word", openScaleTable, "time_s,mass_g\n0,about 3\n", `test.csv:2: found mass_g "about 3", expected a number`},
		{"NaN", openScaleTable, "time_s,mass_g\n0,NaN\n", `test.csv:2: found mass_g "NaN", expected a number`},
		{"Inf", openClampTable, "time_s,rms_a\n0,+Inf\n", `test.csv:2: found rms_a "+Inf", expected a number`},
		{"hexadecimal", openClampTable, "time_s,rms_a\n0,0x1p4\n", `test.csv:2: found rms_a "0x1p4", expected a number`},
		{"past float64", openClampTable, "time_s,rms_a\n0,1e999\n", `test.csv:2: found rms_a "1e999", expected a number`},
		{"enormous", openScaleTable, "time_s,mass_g\n0,1e10\n", `test.csv:2: found mass_g "1e10", expected -1000000000 to 1000000000 g`},
		{"negative RMS", openClampTable, "time_s,rms_a\n0,-0.1\n", `test.csv:2: found rms_a "-0.1", expected 0 to 1000000 A`},
		{"before 0", openScaleTable, "time_s,mass_g\n-0.1,1\n", `test.csv:2: found time_s "-0.1", expected 0 to 2678400 s since the recording's start`},
		{"since 1970", openScaleTable, "time_s,mass_g\n1700000000,1\n", `test.csv:2: found time_s "1700000000", expected 0 to 2678400 s`},
		{"same time", openScaleTable, "time_s,mass_g\n0.1,1\n0.1,2\n", "test.csv:3: found time_s 0.1 after 0.1, expected a later time"},
		{"back", openClampTable, "time_s,rms_a\n0,1\n2,1\n1,2\n", "test.csv:4: found time_s 1 after 2, expected a later time"},
		{"empty line between", openScaleTable, "time_s,mass_g\n0,1\n\n1,2\n", "test.csv:3: found an empty line, expected rows without a gap"},
		{"stable 2", openScaleTable, "time_s,mass_g,stable\n0,1,2\n", `test.csv:2: found stable "2", expected 0 or 1`},
		{"open quote", openScaleTable, "time_s,mass_g\n0,\"1\n", "test.csv:2: found a quote without its end"},
		{"after the quote", openScaleTable, "time_s,mass_g\n0,\"1\"2\n", "expected a comma after the quotes"},
		{"long line", openScaleTable, "time_s,mass_g\n0," + strings.Repeat("1", maxLine) + "\n", "test.csv:2: found a line of more than 4096 bytes"},
		{"long line without end", openScaleTable, "time_s,mass_g\n0," + strings.Repeat("1", 9000), "test.csv:2: found a line of more than 4096 bytes"},
		{"long field", openScaleTable, "time_s,mass_g\n0," + strings.Repeat("x", 99) + "\n", `found mass_g "` + strings.Repeat("x", 40) + `"..., expected`},
		{"a cut row", openScaleTable, "time_s,mass_g\n0,1\n1", "test.csv:3: found 1 values, expected 2"},
		{"one row", openClampTable, "time_s,current_a\n0,1\n", "found one row, expected at least two"},
		{"slow current", openClampTable, "time_s,current_a\n0,1\n0.02,1\n0.04,2\n", "test.csv:2: found 50 samples a second, expected 1000 to 192000: give waveforms at such a rate, slower values as rms_a"},
		{"late current", openClampTable, "time_s,current_a\n5,1\n5.001,1\n5.002,2\n", "test.csv:2: found a first time_s of 5, expected 0: all recordings begin at the same instant"},
	}
	for _, tt := range tests {
		_, a, err := readTable(t, tt.open, tt.text)
		if err != nil {
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%s: got %v, want %s", tt.name, err, tt.want)
			}
			continue
		}
		if got := fmt.Sprint(a.readings["test"]); got != tt.want {
			t.Errorf("%s: got %s, want %s", tt.name, got, tt.want)
		}
	}
}

// A disk that fails in the middle is told with its cause.
func TestBroken(t *testing.T) {
	cause := errors.New("bad sector")
	for _, tt := range []struct {
		open opener
		text string
	}{
		{openScaleTable, "time_s,mass_g\n0,1\n"},
		{openClampTable, "time_s,current_a\n0,1\n0.001,1\n"},
	} {
		for n := range len(tt.text) {
			_, err := tt.open(broken{strings.NewReader(tt.text), int64(n), cause}, int64(len(tt.text)), "test.csv")
			if n > 0 && !errors.Is(err, cause) && !strings.Contains(tt.text[:n], "\n0,1\n") {
				t.Errorf("%q cut at %d: got %v", tt.text, n, err)
			}
		}
	}
}

type broken struct {
	r     io.ReaderAt
	at    int64
	cause error
}

func (b broken) ReadAt(p []byte, off int64) (int, error) {
	if off+int64(len(p)) > b.at {
		n, _ := b.r.ReadAt(p[:max(0, b.at-off)], off)
		return n, b.cause
	}
	return b.r.ReadAt(p, off)
}

// Many readings at once do not make a block of them all.
func TestDenseReadings(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("time_s,mass_g\n")
	for i := range 3 * maxReadings {
		fmt.Fprintf(&b, "%.6f,1\n", float64(i)/1e6)
	}
	tr, err := openScaleTable(bytes.NewReader(b.Bytes()), int64(b.Len()), "test.csv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for {
		blk, dueS, err := tr.next()
		if err == io.EOF {
			break
		}
		if err != nil || len(blk.Readings) > maxReadings || dueS <= blk.Readings[0].AtS {
			t.Fatalf("%d readings, due %v, %v", len(blk.Readings), dueS, err)
		}
		n += len(blk.Readings)
	}
	if n != 3*maxReadings {
		t.Errorf("got %d readings", n)
	}
}

func TestParse(t *testing.T) {
	good := map[string]number{
		"0": {0, 0, false}, "12.4": {12.4, -1, false}, "-.5": {-0.5, -1, false}, "+5.": {5, 0, false}, "1.50": {1.5, -2, false},
		"1.25e-05": {1.25e-05, -7, true}, "1E3": {1000, 3, true}, "0.1000000000000000055511151231257827": {0.1, -34, false},
		"9007199254740993": {9007199254740992, 0, false}, "123456789.123456789": {123456789.123456789, -9, false},
	}
	for text, want := range good {
		if got, ok := parse([]byte(text)); !ok || got != want {
			t.Errorf("%q: got %v, %v; want %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "-", ".", "1e", "1e+", "e5", "1.2.3", "1 2", "0x10", "1_000", "nan", "inf", "1e99999999999999999999", "1,2", "--1", "1e5.0", "\u0661"} {
		if got, ok := parse([]byte(text)); ok {
			t.Errorf("%q: got %v", text, got)
		}
	}
	// The quick way gives the same as the slow one: the float64 nearest to the text, which prints back the same.
	for i := range 200000 {
		v := math.Round(math.Sin(float64(i))*1e9) / 1e6
		text := decimal(v)
		if got, ok := parse([]byte(text)); !ok || got.v != v {
			t.Fatalf("%q: got %v, %v", text, got, ok)
		}
	}
}
