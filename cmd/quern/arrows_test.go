package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rooms says what each part of the house may import of the house; the longest matching prefix counts.
var rooms = map[string][]string{
	"rig":                        {},
	"rig/wave":                   {"rig"},
	"rig/line":                   {"rig"},
	"rig/intact":                 {"rig"},
	"config":                     {"rig"},
	"detect/sound":               {"rig", "config"},
	"detect/motor":               {"rig", "config"},
	"detect/mass":                {"rig", "config"},
	"detect/run":                 {"rig", "config"},
	"detect":                     {"rig", "config", "detect/sound", "detect/motor", "detect/mass", "detect/run"},
	"acquire":                    {"rig", "rig/wave", "config"},
	"rig/session":                {"rig", "rig/intact", "rig/wave", "rig/line", "config"},
	"rig/session/replay":         {"rig", "config", "detect", "rig/session"},
	"rig/score":                  {"rig", "config", "rig/score/gum", "rig/score/rank", "rig/score/plan"},
	"rig/score/gum":              {},
	"rig/score/rank":             {},
	"rig/score/plan":             {"rig"},
	"rig/report":                 {"rig", "config", "rig/score", "rig/score/gum", "rig/score/rank", "rig/score/plan"},
	"rig/report/sheet":           {"rig", "rig/intact", "config", "rig/session", "rig/score", "rig/score/rank", "rig/report", "rig/report/series", "rig/report/veil", "rig/live/web"},
	"rig/report/veil":            {"rig", "config"},
	"rig/report/series":          {"rig", "rig/intact", "rig/wave", "rig/line", "config", "detect", "detect/sound", "detect/motor", "detect/mass", "rig/session"},
	"rig/report/series/recorded": {"rig", "rig/wave", "config", "detect", "acquire/sim", "rig/session", "rig/session/replay"},
	"rig/report/timecode":        {},
	"rig/report/overlay":         {"rig", "rig/intact", "rig/score", "rig/report", "rig/report/align", "rig/report/timecode"},
	"rig/report/align":           {"rig", "rig/wave", "rig/report", "rig/report/timecode"},
	"rig/report/captions":        {"rig", "rig/report", "rig/report/align", "rig/report/timecode"},
	"rig/report/footage":         {"rig", "config", "detect", "rig/score", "rig/session", "rig/session/replay", "rig/report/captions", "rig/report/overlay", "rig/report/series", "rig/report/veil"},
	"rig/report/export":          {"rig", "rig/intact", "rig/line", "config", "detect", "detect/sound", "rig/score", "rig/score/gum", "rig/session", "rig/session/replay", "rig/report/series"},
	"rig/session/byhand":         {"rig", "config", "acquire/recording", "rig/session"},
	"rig/session/index":          {"rig", "config", "rig/session"},
	"rig/live":                   {"rig", "rig/wave", "config", "acquire", "detect", "detect/mass", "rig/score", "rig/report", "rig/session", "rig/session/replay"},
	"rig/live/gate":              {"rig", "rig/intact"},
	"rig/live/stream":            {"rig"},
	"rig/live/web":               {},
	"rig/live/guide":             {"rig", "config"},
	"rig/live/review":            {"rig", "config", "detect", "rig/score", "rig/report", "rig/report/series", "rig/session", "rig/session/replay", "rig/session/index"},
	"rig/live/pages": {"rig", "config", "acquire", "detect", "rig/score", "rig/score/gum", "rig/score/rank", "rig/score/plan", "rig/report", "rig/session", "rig/session/replay", "rig/session/index",
		"rig/live", "rig/live/gate", "rig/live/stream", "rig/live/web", "rig/live/guide", "rig/live/review"},
	"cmd/quern":        nil, // all
	"acquire/sim/exam": {"rig", "config", "acquire/sim"},
}

// pure packages have no clock, file or log of their own.
var pure = []string{"detect", "detect/sound", "detect/motor", "detect/mass", "detect/run", "rig/score", "rig/score/gum", "rig/score/rank", "rig/score/plan", "rig/report/align", "rig/report/captions", "rig/report/timecode"}

var impure = []string{"time", "os", "io/fs", "log", "log/slog", "net", "net/http", "sync", "math/rand", "math/rand/v2"}

func TestArrows(t *testing.T) {
	root := "../.."
	checked, entered := 0, map[string]bool{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && d.Name() != ".." && path != root || d.Name() == "testdata" || d.Name() == "node_modules") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		dir, _ := filepath.Rel(root, filepath.Dir(path))
		room, may := roomOf(dir)
		if room == "" {
			t.Errorf("%s: no room of the house is called %s", path, dir)
			return nil
		}
		checked++
		entered[room] = true
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, im := range f.Imports {
			name, _ := strconv.Unquote(im.Path.Value)
			if slices.Contains(pure, dir) && slices.Contains(impure, name) {
				t.Errorf("%s imports %s: %s is pure", path, name, dir)
			}
			of, ours := strings.CutPrefix(name, "quern/")
			if !ours || may == nil {
				continue
			}
			if within := (of == room || strings.HasPrefix(of, room+"/")) && room == "acquire"; !within && !slices.Contains(may, of) {
				t.Errorf("%s imports %s: %s may import only %v", path, of, room, may)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if checked < 10 {
		t.Fatalf("only %d files looked at: the walk is broken", checked)
	}
	for room := range rooms {
		if !entered[room] {
			t.Errorf("there is no package %s any more: take its room away", room)
		}
	}
}

func roomOf(dir string) (string, []string) {
	for d := filepath.ToSlash(dir); d != "." && d != ""; d = filepath.ToSlash(filepath.Dir(d)) {
		if may, ok := rooms[d]; ok {
			return d, may
		}
	}
	return "", nil
}

// TestTopLevel keeps the top of the tree as the house has it, beside what is built there or made by following the README.
func TestTopLevel(t *testing.T) {
	want := []string{"cmd", "rig", "acquire", "detect", "config", "testdata", "deploy", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}
	entries, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile("../../.gitignore")
	if err != nil {
		t.Fatal(err)
	}
	var ignored []string
	for line := range strings.Lines(string(b)) {
		if name, ok := strings.CutPrefix(strings.TrimSpace(line), "/"); ok {
			ignored = append(ignored, strings.TrimSuffix(name, "/"))
		}
	}
	for _, e := range entries {
		if n := e.Name(); !strings.HasPrefix(n, ".") && !slices.Contains(want, n) && !slices.Contains(ignored, n) {
			t.Errorf("%s lies at the top level: expected only %v", n, want)
		}
	}
}
