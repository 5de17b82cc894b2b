package config

import (
	"bytes"
	"errors"
	"flag"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"quern/rig"
)

var update = flag.Bool("update", false, "write what the tests expect anew; look at the difference before keeping it")

// contractLab holds the keys that an import needs, and no others.
func contractLab() fstest.MapFS {
	return fstest.MapFS{
		"bench.toml": file(`[supply]
voltage_v = 120.0
frequency_hz = 60.0          # nominal; the true frequency is tracked
[microphone]
full_scale_db = 120.0        # level, dB re 20 uPa, of a sine whose peak just reaches full scale
[clamp]
full_scale_a = 100.0         # instantaneous amperes at digital full scale (a peak, not RMS)
`),
		"units.toml": file(`[[unit]]
id = "unit-a"
rated_current_a = 6.0        # nameplate, RMS
locked_rotor_a = 33.0        # optional
motor = "induction"          # or "permanent-magnet"
`),
		"procedures/mixed.toml": file(`id = "mixed"
time_limit_s = 240.0
clock = "motor-on"           # or "elapsed"
charge_g = 2500.0            # nominal input mass
longest_pause_s = 900.0      # a longer stop ends the run (default)
`),
		"scorecard.toml": file(""),
	}
}

func file(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }

// wrongLab reads a case of testdata/wrong: a comment, then the files that differ from contractLab.
// A line "-- NAME --" opens a file, "-- NAME absent --" takes it away, "-- want --" opens the
// messages. head is everything before the messages.
func wrongLab(t testing.TB, name string) (lab fs.FS, head, want string) {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	head, want, _ = strings.Cut(string(b), "-- want --\n")
	files := contractLab()
	var at string
	for line := range strings.Lines(head) {
		title, isTitle := strings.CutPrefix(line, "-- ")
		title, closed := strings.CutSuffix(title, " --\n")
		switch {
		case isTitle && closed:
			gone := false
			if at, gone = strings.CutSuffix(title, " absent"); gone {
				delete(files, at)
				at = ""
			} else {
				files[at] = file("")
			}
		case at != "":
			files[at].Data = append(files[at].Data, line...)
		}
	}
	return files, head, want
}

func wrongCases(t testing.TB) []string {
	t.Helper()
	names, err := filepath.Glob("testdata/wrong/*.txt")
	if err != nil || len(names) < 10 {
		t.Fatalf("testdata/wrong: %d cases, %v", len(names), err)
	}
	return names
}

func TestWrongLabs(t *testing.T) {
	for _, name := range wrongCases(t) {
		t.Run(filepath.Base(name), func(t *testing.T) {
			lab, head, want := wrongLab(t, name)
			got, err := Read(lab)
			if got != nil || err == nil {
				t.Fatal("the lab reads")
			}
			var problems Problems
			if !errors.As(err, &problems) {
				t.Fatalf("got a %T, want Problems", err)
			}
			text := err.Error() + "\n"
			if n := strings.Count(text, "\n"); n != len(problems) {
				t.Errorf("%d problems on %d lines", len(problems), n)
			}
			for _, p := range problems {
				if p.File == "" || p.Found == "" || p.Want == "" {
					t.Errorf("%+v does not say where, what was found and what was expected", p)
				}
			}
			if *update {
				if err := os.WriteFile(name, []byte(head+"-- want --\n"+text), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if text != want {
				t.Errorf("got:\n%s\nwant:\n%s", text, want)
			}
		})
	}
}

// The nearest key: what people write, and what they meant.
func TestNearest(t *testing.T) {
	motor := keysOf(field(typeOf[Detect](), "motor").Type)
	for _, c := range []struct {
		word  string
		known []string
		want  string
	}{
		{"voltage_mv", keysOf(typeOf[Supply]()), "voltage_v"},
		{"voltage", keysOf(typeOf[Supply]()), "voltage_v"},
		{"rated_current_milliamperes", keysOf(typeOf[Unit]()), "rated_current_a"},
		{"locked_rotor_current_a", keysOf(typeOf[Unit]()), ""}, // unlike enough to be left unsaid
		{"stall_hold_ms", motor, "stall_hold_s"},
		{"stall_hold", motor, "stall_hold_s"},
		{"overload_leave", motor, "overload_leave_ratio"},
		{"x", motor, ""},
		{"", motor, ""},
		{strings.Repeat("stall_hold_s", 1000), motor, ""},
	} {
		if got := nearest(c.word, c.known); got != c.want {
			t.Errorf("nearest(%.40q) = %q, want %q", c.word, got, c.want)
		}
	}
}

func TestEdits(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"a", "", 1}, {"", "ab", 2}, {"kitten", "sitting", 3}, {"abc", "abc", 0}, {"ab", "ba", 1}, {"title", "titel", 1}, {"abcd", "badc", 2}, {"unit", "unti", 1}} {
		if got := edits(c.a, c.b); got != c.want {
			t.Errorf("edits(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

// An error leads to its causes, so that a caller can ask what it is.
func TestProblemsUnwrap(t *testing.T) {
	_, err := Read(fstest.MapFS{"scorecard.toml": file("")})
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v is not fs.ErrNotExist", err)
	}
	var one *rig.FileError
	if !errors.As(err, &one) || one.File != "bench.toml" {
		t.Errorf("the first problem is %v, want one of bench.toml", one)
	}
}

func TestFirstAndIn(t *testing.T) {
	_, err := Read(fstest.MapFS{"scorecard.toml": file("")})
	first := First("lab", In("lab", err)).Error()
	if !strings.HasPrefix(first, "lab/bench.toml: found no such file") || !strings.Contains(first, "2 more: quern check lab") || strings.Contains(first, "\n") {
		t.Errorf("got %q, want one line on lab/bench.toml that counts 2 more", first)
	}
	one := &rig.FileError{File: "units.toml", Byte: -1, Found: "x"}
	if got := First("lab", In("lab", one)).Error(); got != "lab/units.toml: found x" {
		t.Errorf("got %q", got)
	}
}

// TestNoLab: what is no lab at all is one mistake, and told once, of the folder.
func TestNoLab(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "file"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"":     ": found a folder without any of a lab's files, expected a lab folder, with bench.toml",
		"none": "/none: found nothing of that name, expected a lab folder",
		"file": "/file: found a file in place of a folder, expected a lab folder",
	} {
		at := filepath.Join(dir, name)
		_, err := Read(os.DirFS(at))
		if err = In(at, err); err == nil || !strings.HasPrefix(err.Error(), dir+want) || strings.Contains(err.Error(), "\n") || !errors.As(err, new(Problems)) {
			t.Errorf("got %v, want one line: %s", err, dir+want)
		}
	}
}

// A file that could not be a lab's is refused before it is parsed; one just short of that is read in
// a time that grows with its length only.
func TestLongFile(t *testing.T) {
	lab := contractLab()
	lab["bench.toml"].Data = bytes.Repeat([]byte("#"), longest+1)
	_, err := Read(lab)
	if err == nil || !strings.Contains(err.Error(), "1048577 bytes") {
		t.Errorf("got %v, want the number of bytes", err)
	}
	lab["bench.toml"].Data = bytes.Repeat([]byte("#\n"), longest/2)
	if _, err := Read(lab); err != nil {
		t.Errorf("%d bytes: %v", longest, err)
	}
}

// What text editors do to a file changes nothing.
func TestEditors(t *testing.T) {
	plain := mustRead(t, contractLab())
	for name, edit := range map[string]func([]byte) []byte{
		"byte-order mark": func(b []byte) []byte { return append([]byte("\xEF\xBB\xBF"), b...) },
		"CR LF":           func(b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")) },
		"no last newline": func(b []byte) []byte { return bytes.TrimRight(b, "\n") },
		"integers":        func(b []byte) []byte { return bytes.ReplaceAll(b, []byte(".0"), nil) },
	} {
		lab := contractLab()
		for _, f := range maps.All(lab) {
			f.Data = edit(f.Data)
		}
		if got := mustRead(t, lab); !sameLab(got, plain) {
			t.Errorf("%s: got %+v, want %+v", name, got, plain)
		}
	}
}

// A lab file that is a pipe is refused, not waited for.
func TestPipe(t *testing.T) {
	fsys := contractLab()
	fsys["units.toml"] = &fstest.MapFile{Mode: fs.ModeNamedPipe | 0o644}
	_, err := Read(fsys)
	if want := "units.toml: found a device or pipe, expected the units"; err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("got %v, want %s", err, want)
	}
}
