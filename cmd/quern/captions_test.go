package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"quern/rig/wave"
)

// Captions hold no name before its day, whatever the session and the footage are called.
func TestCaptionsKeepNamesBack(t *testing.T) {
	dir, lab, _ := campaignStage(t)
	ses := filepath.Join(dir, "filmed", "2026-03-01-invented-grand-mill")
	if err := os.MkdirAll(filepath.Dir(ses), 0o755); err != nil {
		t.Fatal(err)
	}
	putWave(t, filepath.Join(dir, "mic.wav"), wave.PCM16, micHz, pressure())
	putWave(t, filepath.Join(dir, "clamp.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	done(t, "import", "--lab", lab, "--unit", "unit-b", "--procedure", "mixed", "--out", ses, "--microphone", dir+"/mic.wav", "--clamp", dir+"/clamp.wav", "--start", "2026-03-01T10:00:00Z")
	aligned := put(t, dir, "clip.json", fmt.Sprintf(`{"session": %q, "camera": "Invented_Grand_Mill.wav", "method": "hand", "offset_s": 0.5}`, filepath.Base(ses)))
	spelled := regexp.MustCompile(`(?i)invented[\s_.\-]*grand[\s_.\-]*mill`)
	written := func(day, out string, more ...string) string {
		t.Helper()
		doneOn(t, day, append([]string{"captions", ses, "--aligned", aligned, "--out", filepath.Join(dir, out)}, more...)...)
		var all strings.Builder
		files, err := os.ReadDir(filepath.Join(dir, out))
		if err != nil || len(files) != 5 {
			t.Fatalf("%d files (%v)", len(files), err)
		}
		for _, f := range files {
			b, err := os.ReadFile(filepath.Join(dir, out, f.Name()))
			if err != nil {
				t.Fatal(err)
			}
			all.Write(b)
		}
		return all.String()
	}
	before := written("2026-11-30", "before", "--lab", lab)
	if at := spelled.FindString(before); at != "" {
		t.Errorf("the name is told before its day: %q", at)
	}
	for _, want := range []string{`"target_url": "unit-b.wav"`, "session 2026-03-01-unit-b, unit unit-b."} {
		if !strings.Contains(before, want) {
			t.Errorf("no %s in\n%s", want, before)
		}
	}
	if after := written("2026-12-01", "after", "--lab", lab); !strings.Contains(after, "Invented_Grand_Mill.wav") || !strings.Contains(after, secret+" (unit-b)") {
		t.Errorf("no name on its day:\n%s", after)
	}
	if without := written("2026-11-30", "without"); !spelled.MatchString(without) { // no lab, no word of what is secret
		t.Error("without a lab the session is not called by its name")
	}
}
