package recording

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"quern/rig"
)

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
		{"too few", openScaleTable, "time_s,mass_g\n0\n", "test.csv:2: found 1 value, expected 2"},
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
		{"a buffer without a line end", openScaleTable, "time_s,mass_g\n0,1\n" + strings.Repeat("1", 2*readBytes), "test.csv:3: found a line of more than 4096 bytes"},
		{"long field", openScaleTable, "time_s,mass_g\n0," + strings.Repeat("x", 99) + "\n", `found mass_g "` + strings.Repeat("x", 40) + `"..., expected`},
		{"a cut row", openScaleTable, "time_s,mass_g\n0,1\n1", "test.csv:3: found 1 value, expected 2"},
		{"one row", openClampTable, "time_s,current_a\n0,1\n", "found one row, expected at least two"},
		{"neither column", openClampTable, "time_s,amps\n0,1\n", "expected only time_s,current_a or time_s,rms_a: rename"},
		{"empty clamp", openClampTable, "", "expected a header such as time_s,current_a or time_s,rms_a"},
		{"slow current", openClampTable, "time_s,current_a\n0,1\n0.02,1\n0.04,2\n", "test.csv:2: found 50 rows a second, expected 400 to 192000: give waveforms at such a rate, slower values as rms_a"},
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
