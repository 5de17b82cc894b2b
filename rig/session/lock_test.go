package session

import (
	"os"
	"path/filepath"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// A session is recovered only once whoever recorded it has gone: to the disk, one that is being recorded and one
// that was interrupted look alike.
func TestRecordedIsNotRecovered(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	head := testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0})
	head.Live, head.Origin = true, rig.Recorded
	w, err := Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	if err := Seal(dir); !Recorded(err) {
		t.Errorf("while it is recorded: got %v, want that it is being recorded", err)
	}
	for _, b := range blocks(2, 1, microphone, scale) {
		if err := w.AppendBlock(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil { // without sealing it, as a crash does
		t.Fatal(err)
	}
	settings := filepath.Join(dir, settingsName)
	whole, err := os.ReadFile(settings)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(settings, whole[:len(whole)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Seal(dir); err == nil {
		t.Error("sealed with settings that nothing can read")
	}
	if err := os.WriteFile(settings, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Seal(dir); err != nil {
		t.Errorf("once nobody records it: %v", err)
	}
	if err := Seal(dir); !Whole(err) {
		t.Errorf("once more: got %v, want that it is sealed", err)
	}
	if bad, err := Verify(dir); err != nil || len(bad) > 0 {
		t.Errorf("got %v, %v, want that nothing changed", bad, err)
	}
}
