package index

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/session"
)

// A session's own folder is read alone, and gets no file.
func TestOneSession(t *testing.T) {
	folder, lab := bench(t)
	for name, want := range map[string]string{"a": `{"Session":"a"`, "d": "d: it is not sealed"} {
		if got := same(t, filepath.Join(folder, name), Options{Lab: lab}); !strings.HasPrefix(got, want) {
			t.Errorf("got %s, want %s", got, want)
		}
		if _, err := os.Lstat(filepath.Join(folder, name, Name)); err == nil {
			t.Error("a session folder got an index")
		}
	}
	if problems, err := session.Verify(filepath.Join(folder, "a")); err != nil || len(problems) > 0 {
		t.Errorf("got %v, %v", problems, err)
	}
}

func TestNoFolder(t *testing.T) {
	dir := t.TempDir()
	check(t, os.WriteFile(filepath.Join(dir, "file"), nil, 0o644))
	for _, name := range []string{"nothing", "file"} {
		_, err := Read(filepath.Join(dir, name), Options{})
		var f *rig.FileError
		if !errors.As(err, &f) || f.Want != "a folder of sessions" {
			t.Errorf("%s: got %v", name, err)
		}
	}
	if found, err := Read(dir, Options{}); err != nil || found.Records != nil || stateOf(t, dir) != "none" {
		t.Errorf("got %+v, %v, want nothing and no index", found, err)
	}
}

// What was changed just now is not kept: a second change within the same step of the clock that leaves
// the size would not show.
func TestYoungFilesAreNotKept(t *testing.T) {
	folder, lab := bench(t)
	o := Options{Lab: lab, now: time.Now}
	same(t, folder, o)
	if state := stateOf(t, folder); state != "none" {
		t.Errorf("files of this moment were kept: %q", kept(t, folder))
	}
	o.now = later
	same(t, folder, o)
	if got := kept(t, folder); len(got) != 3 {
		t.Errorf("kept %q, want all three", got)
	}
	correct(t, filepath.Join(folder, "b"), "void", "rig", 1)
	o.now = time.Now
	before := stateOf(t, folder)
	if got := same(t, folder, o); !strings.Contains(got, `"New":"rig"`) || stateOf(t, folder) != before {
		t.Errorf("got %s", got)
	}
	for _, c := range []struct {
		age  time.Duration
		kept bool
	}{{settled - time.Nanosecond, false}, {settled, true}} {
		var changed int64
		for _, f := range []string{".", manifestName} {
			_, at, _ := appendState(nil, filepath.Join(folder, "b"), f)
			changed = max(changed, at)
		}
		if _, ok := printOf(filepath.Join(folder, "b"), time.Unix(0, changed).Add(c.age), ".", manifestName); ok != c.kept {
			t.Errorf("%v old: kept %v, want %v", c.age, ok, c.kept)
		}
	}
}

// A session whose analysis is too young to be kept is not written about again and again.
func TestYoungAnalysis(t *testing.T) {
	folder, lab := bench(t)
	set := setupOf(t, inventedLab(t, 240), "unit-a", "mixed").ForAnalysis()
	var changed int64
	for _, f := range []string{".", manifestName, analysisFile(session.AnalysisKey(set))} {
		_, at, _ := appendState(nil, filepath.Join(folder, "a"), f)
		changed = max(changed, at)
	}
	keepAnalysis(t, filepath.Join(folder, "a"), set, 5)
	o := Options{Lab: lab, now: func() time.Time { return time.Unix(0, changed).Add(settled) }}
	if got := same(t, folder, o); !strings.Contains(got, strings.Repeat("µ", 5)) {
		t.Errorf("got %s", got)
	}
	before := stateOf(t, folder)
	if answer(t, folder, o); stateOf(t, folder) != before || before == "none" || len(kept(t, folder)) != 0 {
		t.Errorf("the index was written again, or keeps %q", kept(t, folder))
	}
}

// Warnings name files as the folder was named, with the index too.
func TestOtherPath(t *testing.T) {
	folder, lab := bench(t)
	edit(t, filepath.Join(folder, "a", "journal.lp"), func(b []byte) []byte { return append(b, '#') })
	same(t, folder, Options{Lab: lab})
	t.Chdir(filepath.Dir(folder))
	if got := same(t, filepath.Base(folder), Options{Lab: lab}); strings.Contains(got, folder) || !strings.Contains(got, "session-changed") {
		t.Errorf("got %s", got)
	}
}
