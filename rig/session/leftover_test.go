package session

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"quern/rig/wave"
)

// What imports that were cut off left behind goes; what is being made at this moment, and what is somebody else's, stays.
func TestClearUnfinished(t *testing.T) {
	dir := t.TempDir()
	put := func(path ...string) string {
		t.Helper()
		at := filepath.Join(append([]string{dir}, path...)...)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(at, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
		return at
	}
	put(".cut.partial-1", "recordings", "clamp.wav")
	put(".cut.partial-1", "settings.toml")
	put(".cut.partial-12", "manifest.json.partial")
	stays := []string{
		put(".hers.partial-1", "notes.txt"), put(".file.partial-1"), put("cut.partial-1", "settings.toml"),
		put(".cut.partial-x", "settings.toml"), put("whole", "settings.toml"),
	}
	made := filepath.Join(dir, "made")
	w, err := Create(made, testHead(Stream{microphone, wave.PCM16}))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := ClearUnfinished(dir), []string{".cut.partial-1", ".cut.partial-12"}; !slices.Equal(got, want) {
		t.Errorf("cleared %q, want %q", got, want)
	}
	for _, b := range blocks(1, 1, microphone) {
		if err := w.AppendBlock(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Errorf("a session that was being made meanwhile: %v", err)
	}
	if bad, err := Verify(made); err != nil || len(bad) > 0 {
		t.Errorf("it holds %v, %v, want nothing changed", bad, err)
	}
	for _, at := range stays {
		if _, err := os.Stat(at); err != nil {
			t.Errorf("somebody else's: %v", err)
		}
	}
	if got := ClearUnfinished(dir); len(got) > 0 {
		t.Errorf("cleared %q once more", got)
	}
}

// A folder that another program has just taken for a leftover is not built in: the next name is.
func TestMadeBesideALeftover(t *testing.T) {
	root := filepath.Join(t.TempDir(), ".s.partial-1")
	if err := os.Mkdir(root, 0o755); err != nil {
		t.Fatal(err)
	}
	other, err := lockFolder(root, false)
	if err != nil {
		t.Fatal(err)
	}
	if _, ours := lockRoot(root); ours {
		t.Error("took a folder that another program has")
	}
	if err := os.Remove(root); err != nil {
		t.Fatal(err)
	}
	if _, ours := lockRoot(root); ours {
		t.Error("took a folder that has gone")
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(root, 0o755); err != nil {
		t.Fatal(err)
	}
	lock, ours := lockRoot(root)
	if !ours {
		t.Fatal("did not take its own folder")
	}
	if err := lock.Close(); err != nil {
		t.Fatal(err)
	}
}
