package session

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/line"
	"quern/rig/wave"
)

func TestAppendRefuses(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	w, err := Create(dir, testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0}))
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if err := w.AppendReading(rig.Scale, rig.Reading{AtS: 2, Value: 1}); err != nil {
		t.Fatal(err)
	}
	sample := func(v float64) rig.Block { return rig.Block{Channel: rig.Microphone, Samples: []float64{v}} }
	for _, c := range []struct {
		name string
		err  error
		want string
	}{
		{"unknown channel", w.AppendBlock(rig.Block{Channel: rig.Clamp}), "does not have"},
		{"samples of a scale", w.AppendBlock(rig.Block{Channel: rig.Scale, Samples: []float64{1}}), "not of form"},
		{"readings of a microphone", w.AppendReading(rig.Microphone, rig.Reading{}), "not of form"},
		{"between steps", w.AppendBlock(sample(0.3)), "sample 0"},
		{"full scale", w.AppendBlock(sample(1)), "sample 0"},
		{"no number", w.AppendBlock(sample(math.NaN())), "sample 0"},
		{"back in time", w.AppendReading(rig.Scale, rig.Reading{AtS: 1}), "after one at 2 s"},
		{"before the start", mark(w, -1, 0, "early"), "from the session's start"},
		{"at no time", mark(w, math.NaN(), 0, "never"), "from the session's start"},
		{"no mass", w.AppendReading(rig.Scale, rig.Reading{AtS: 3, Value: math.NaN()}), "finite"},
		{"two lines of text", mark(w, 1, 0, "a\nb"), "control character"},
		{"endless text", mark(w, 1, 0, strings.Repeat("a", 70000)), "found a text of 70000 bytes, expected at most 1000"},
		{"event without instant", w.AppendEvent(1, rig.Event{Kind: rig.Trip}), "instant"},
		{"figures as readings", w.AppendFigures("scale", 1, 0, Named{"laeq_db", rig.Fig(1)}), "uses otherwise"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.name, c.err, c.want)
		}
	}
	if err := w.AppendFigures("level", 1, 0, Named{"laeq_db", rig.Absent("no-microphone")}); err != nil {
		t.Errorf("absent figures: %v", err)
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	s, out := replay(t, dir)
	if len(out) != 1 || len(out[0].Readings) != 1 {
		t.Errorf("got %v, want the one good reading", out)
	}
	n := 0
	if err := s.Journal(func(line.Point) error { n++; return nil }); err != nil || n != 1 {
		t.Errorf("got %d points, %v, want the one good reading", n, err)
	}
	if err := mark(w, 3, 0, "late"); err == nil {
		t.Error("a sealed session took a mark")
	}
}

func TestCreateRefuses(t *testing.T) {
	parent := t.TempDir()
	taken := filepath.Join(parent, "taken")
	if err := os.Mkdir(taken, 0o755); err != nil {
		t.Fatal(err)
	}
	good := testHead(Stream{microphone, wave.PCM16})
	for _, c := range []struct {
		name, dir string
		change    func(*Head)
		want      string
	}{
		{"taken", taken, nil, "nothing was touched"},
		{"no parent", filepath.Join(parent, "no", "s"), nil, "make the folder first"},
		{"channel twice", "", func(h *Head) { h.Streams = append(h.Streams, h.Streams[0]) }, "twice"},
		{"no encoding", "", func(h *Head) { h.Streams[0].Encoding = 0 }, "encoding"},
		{"no rate", "", func(h *Head) { h.Streams[0].RateHz = 0 }, "rate_hz"},
		{"a path as channel", "", func(h *Head) { h.Streams[0].Channel = "../up" }, "channel"},
		{"a measurement as channel", "", func(h *Head) { h.Streams[0].Channel = eventName }, "otherwise"},
		{"a bench no tag holds", "", func(h *Head) { h.Setup.Bench.Name = `b\` }, "backslash"},
		{"far future", "", func(h *Head) { h.Started = h.Started.AddDate(300, 0, 0) }, "year"},
	} {
		dir := c.dir
		if dir == "" {
			dir = filepath.Join(parent, "s")
		}
		head := good
		head.Streams = slices.Clone(good.Streams)
		if c.change != nil {
			c.change(&head)
		}
		if _, err := Create(dir, head); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.name, err, c.want)
		}
	}
	if _, err := Create(taken, good); !errors.Is(err, fs.ErrExist) {
		t.Errorf("got %v, want one that is fs.ErrExist", err)
	}
	if left, _ := os.ReadDir(parent); len(left) != 1 {
		t.Errorf("got %v, want nothing but the folder that was there", left)
	}
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none")
	_, err := Open(none)
	want := none + ": found no such folder, expected a session folder with its manifest: check the path"
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	for name, want := range map[string]string{
		"bare/x":                 "bare/manifest.json: found nothing, expected a session folder with its manifest: check the path, and that it is a whole session folder",
		"file":                   "file: found a file, expected a session folder",
		"lab/bench.toml":         "lab: found a lab folder, expected a session folder with its manifest: name a session",
		"season/a/manifest.json": "season: found a folder of sessions (1), expected a session folder with its manifest: name the sessions: ",
	} {
		top := t.TempDir()
		at := filepath.Join(top, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(at), 0o755), os.WriteFile(at, nil, 0o644)); err != nil {
			t.Fatal(err)
		}
		dir, _, _ := strings.Cut(name, "/")
		if _, err := Open(filepath.Join(top, dir)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
		if _, err := Verify(filepath.Join(top, dir)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("verify: got %v, want %s", err, want)
		}
	}
	good := record(t, testHead(Stream{scale, 0}), nil)
	text, err := os.ReadFile(filepath.Join(good, manifestName))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`"version": 1`, `"version": 2`, "found version 2, expected version 1"},
		{`"tool"`, `"tol"`, `unknown field "tol"`},
		{`"state": "sealed",`, `"state": "sealed"`, "manifest.json:11: found invalid character"},
		{`"journal": "journal.lp"`, `"journal": "../j"`, `journal "../j"`},
		{`"quern session"`, `"another"`, `format "another"`},
	} {
		bad := strings.Replace(string(text), c.old, c.new, 1)
		if _, err := parseManifest("s/manifest.json", []byte(bad)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want an error with %q", c.new, err, c.want)
		}
	}
}

// A name that another writer takes meanwhile is told as a name that is taken, not as a fault of the disk.
func TestNameTakenMeanwhile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	var writers []*Writer
	for range 3 {
		w, err := Create(dir, testHead(Stream{scale, 0}))
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		writers = append(writers, w)
	}
	writers[1].disk = late{writers[1].disk, func() {
		if err := writers[0].Seal(); err != nil {
			t.Error(err)
		}
	}}
	for _, w := range writers[1:] {
		var told *rig.FileError
		if err := w.Seal(); !errors.Is(err, fs.ErrExist) || !errors.As(err, &told) || told.Want != "a name that is free" {
			t.Errorf("got %v, want a word on the name", err)
		}
		if err := w.Close(); err != nil {
			t.Error(err)
		}
	}
	if left, err := filepath.Glob(filepath.Join(filepath.Dir(dir), ".*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// late is a disk on which something happens just before a folder gets its name.
type late struct {
	disk
	before func()
}

func (l late) Rename(from, to string) error {
	if filepath.Base(to) == "s" {
		l.before()
	}
	return l.disk.Rename(from, to)
}
