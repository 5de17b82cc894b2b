package main

import (
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/session"
	"quern/rig/wave"
)

// filmed is what a camera hears that begins some seconds into the plain simulated session, with noise of its
// own; its second channel is what counts if silent is set.
func filmed(t testing.TB, ses, name string, fromS, toS float64, silent bool) string {
	t.Helper()
	f, err := os.Open(filepath.Join(ses, "recordings", "microphone.wav"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	r, err := wave.Open(f, info.Size(), f.Name())
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, r.Frames())
	if _, err := r.Read(x, 1); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	rate := float64(r.Format().RateHz)
	rng := rand.New(rand.NewPCG(7, 7))
	y := make([]float64, int((toS-fromS)*rate))
	for i := range y {
		y[i] = 0.002 * rng.NormFloat64()
		if k := int(fromS*rate) + i; k >= 0 && k < len(x) {
			y[i] += x[k]
		}
	}
	if silent {
		return putWave(t, name, wave.PCM16, r.Format().RateHz, make([]float64, len(y)), y)
	}
	return putWave(t, name, wave.PCM16, r.Format().RateHz, y)
}

// recordedSession makes a session folder of a scenario.
func recordedSession(t testing.TB, dir, scenario, seed string) string {
	t.Helper()
	ses := filepath.Join(dir, scenario+seed)
	done(t, "simulate", "--scenario", scenario, "--seeds", seed, "--out", ses)
	return ses
}

func TestAlign(t *testing.T) {
	d := t.TempDir()
	ses, other := recordedSession(t, d, "plain", "1"), recordedSession(t, d, "plain", "2")
	for _, c := range []struct {
		name       string
		from, to   float64
		twoChannel bool
	}{{"inside.wav", 7.25, 40, false}, {"before.wav", -12.5, 30, true}} {
		camera := filmed(t, ses, filepath.Join(d, c.name), c.from, c.to, c.twoChannel)
		kept := filepath.Join(d, c.name+".json")
		var a align.Alignment
		if err := json.Unmarshal([]byte(done(t, "align", camera, ses, "--json", "--out", kept)), &a); err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(a.OffsetS-c.from) <= 0.002) || a.Session != "plain1" || a.Camera != c.name || a.Confidence == nil || *a.Confidence < 0.999 || !(math.Abs(a.DriftPPM) <= 20) {
			t.Errorf("%s: %+v", c.name, a)
		}
		text, err := os.ReadFile(kept)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := align.Read(text, kept); err != nil || b.OffsetS != a.OffsetS {
			t.Errorf("%s holds %+v (%v), expected %+v", kept, b, err, a)
		}
	}
	said := done(t, "align", filepath.Join(d, "inside.wav"), ses)
	if !strings.HasPrefix(said, "inside.wav begins at 0:07.") || !strings.Contains(said, " of session plain1 (7.2") || !strings.Contains(said, "agree, confidence 0.9999\n") {
		t.Error(said)
	}
	// Another session of the same unit is refused, and nothing is kept.
	s := quern(t, "align", filepath.Join(d, "inside.wav"), other, "--out", filepath.Join(d, "no.json"))
	if s.status != 1 || !strings.Contains(s.err, "inside.wav and session plain2") || exists(filepath.Join(d, "no.json")) {
		t.Errorf("another session: %+v", s)
	}
	silent := putWave(t, filepath.Join(d, "silent.wav"), wave.PCM16, 16000, make([]float64, 16000*20))
	if s := quern(t, "align", silent, ses); s.status != 1 || !strings.Contains(s.err, "no sound") {
		t.Errorf("silence: %+v", s)
	}
	deaf := recordedSession(t, d, "no-microphone", "1")
	if s := quern(t, "align", silent, deaf); s.status != 1 || !strings.Contains(s.err, "no microphone") {
		t.Errorf("no microphone: %+v", s)
	}
}

func TestAlignByHand(t *testing.T) {
	d := t.TempDir()
	ses := recordedSession(t, d, "plain", "1")
	w, err := session.Amend(ses, "test", time.Unix(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []float64{20.5, 1220.53} {
		if _, err := w.AppendRemark(rig.Remark{AtS: at, Text: "slate at 2026-03-02T09:00:00.000Z, frame 09:00:00:00 at 25 a second"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args             []string
		offset, driftPPM float64
	}{
		{[]string{"--at", "0:12.5=slate"}, 8, 0},
		{[]string{"--at", "12.5=0:20.5"}, 8, 0},
		{[]string{"--at", "01:00:12:12=slate", "--start", "01:00:00:00", "--frame-rate", "24"}, 8, 0},
		// 1200.03 s of the session in 1200 s of the camera: 25 millionths; the second is held by what clocks do.
		{[]string{"--at", "12.5=slate", "--at", "20:12.5=slate.2"}, 8, 23.3},
	} {
		var a align.Alignment
		if err := json.Unmarshal([]byte(done(t, append([]string{"align", ses, "--json"}, c.args...)...)), &a); err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(a.OffsetS-c.offset) <= 0.001) || !(math.Abs(a.DriftPPM-c.driftPPM) <= 1) || a.Method != align.ByHand || a.Confidence != nil {
			t.Errorf("%q: %+v", c.args, a)
		}
	}
	for _, c := range []struct {
		status int
		want   string
		args   []string
	}{
		{2, "has 2 slate(s)", []string{"--at", "1=slate.3"}},
		{2, "CAMERA=SESSION", []string{"--at", "1"}},
		{2, "slate.2", []string{"--at", "1=slates"}},
		{2, "frames to 23", []string{"--at", "00:00:00:24=1", "--frame-rate", "24"}},
		{2, "expected one of 23.976", []string{"--at", "1=1", "--frame-rate", "26"}},
		{1, "read them again", []string{"--at", "12.5=slate", "--at", "40:12.5=slate.2"}},
	} {
		if s := quern(t, append([]string{"align", ses}, c.args...)...); s.status != c.status || !strings.Contains(s.err, c.want) {
			t.Errorf("%q: %+v, expected status %d and %q", c.args, s, c.status, c.want)
		}
	}
}

func TestAlignWrong(t *testing.T) {
	d := stage(t)
	ses := recordedSession(t, d, "plain", "1")
	for _, c := range []struct{ line, want string }{
		{"align $/mic.wav", "expected CAMERA.wav SESSION"},
		{"align $/mic.wav $/ses --at 1=1", "expected CAMERA.wav SESSION"},
		{"align $/none.wav " + ses, "none.wav: found nothing that can be opened"},
		{"align $ " + ses, "found no file"},
		{"align $/text.wav " + ses, "text.wav"},
		{"align $/mic.wav " + ses + " --channel 2", "expected a channel 2"},
		{"align $/mic.wav $/nosession", "nosession"},
		{"captions " + ses + " --out $/caps", "--aligned FILE.json or --offset S"},
		{"captions " + ses + " --offset 0", "--out is missing"},
		{"captions " + ses + " --offset 0 --out $/taken", "found something there"},
		{"captions " + ses + " --offset 0 --out $/caps --frame-rate 12", "expected one of"},
		{"captions " + ses + " --offset 0 --out $/caps --start 1:00", "hh:mm:ss:ff"},
		{"captions " + ses + " --offset 0 --out $/caps --mass lb", "expected g or oz"},
		{"captions " + ses + " --offset 5000 --out $/caps", "nothing of the session is in the footage"},
		{"captions " + ses + " --offset 0 --drift 5000 --out $/caps", "at most 300"},
		{"captions " + ses + " --aligned $/comma.csv --out $/caps", "comma.csv: found no JSON object"},
		{"captions " + ses + " --aligned $/none.json --out $/caps", "none.json"},
		{"captions $/nosession --offset 0 --out $/caps", "nosession"},
	} {
		s := quern(t, strings.Fields(strings.ReplaceAll(c.line, "$", d))...)
		if s.status != 2 || !strings.Contains(s.err, c.want) || strings.Count(s.err, "\n") != 1 {
			t.Errorf("%s: %+v, expected %q", c.line, s, c.want)
		}
		if exists(d + "/caps") {
			t.Errorf("%s left a folder behind", c.line)
		}
	}
}

func TestCaptionsVerb(t *testing.T) {
	d := t.TempDir()
	ses := recordedSession(t, d, "stall-and-trip", "1")
	lab := putLab(t, filepath.Join(d, "lab"), bench)
	put(t, lab, "units.toml", "[[unit]]\nid = \"unit-a\"\nname = \"Invented Nine\"\nrelease = \"1970-01-02\"\nrated_current_a = 6.0\nlocked_rotor_a = 33.0\nmotor = \"induction\"\n")
	camera := filmed(t, ses, filepath.Join(d, "camera.wav"), 2, 60, false)
	kept := filepath.Join(d, "clip.json")
	done(t, "align", camera, ses, "--out", kept)
	out := filepath.Join(d, "caps")
	said := done(t, "captions", ses, "--aligned", kept, "--out", out, "--frame-rate", "29.97df", "--start", "01:00:00;00", "--lab", lab)
	if !strings.Contains(said, " captions\n") {
		t.Error(said)
	}
	all := ""
	for _, name := range []string{"captions.vtt", "captions.srt", "chapters.vtt", "edit-points.otio", "edit-points.csv"} {
		b, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		all += string(b)
	}
	for _, want := range []string{"Stall start", "Trip (presumed)", "unit-a", "camera.wav", "01:00:", "RationalTime.1", "LAeq "} {
		if !strings.Contains(all, want) {
			t.Errorf("no file says %q", want)
		}
	}
	// The tests' day is 1970-01-01: the name is not released before the next one.
	if strings.Contains(all, "Invented Nine") {
		t.Error("the unit's name is told before its release")
	}
	put(t, lab, "units.toml", "[[unit]]\nid = \"unit-a\"\nname = \"Invented Nine\"\nrelease = \"1970-01-01\"\nrated_current_a = 6.0\nlocked_rotor_a = 33.0\nmotor = \"induction\"\n")
	done(t, "captions", ses, "--offset", "2", "--out", out+"2", "--lab", lab)
	b, err := os.ReadFile(filepath.Join(out+"2", "captions.vtt"))
	if err != nil || !strings.Contains(string(b), "Invented Nine (unit-a)") {
		t.Errorf("the released name is not told: %v", err)
	}
	if s := quern(t, "captions", recordedSession(t, d, "plain", "1"), "--aligned", kept, "--out", out+"3"); s.status != 2 || !strings.Contains(s.err, "align the camera with this session") {
		t.Errorf("another session: %+v", s)
	}
}
