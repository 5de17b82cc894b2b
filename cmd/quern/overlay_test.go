package main

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"quern/rig/session"
)

// overlayStage is a session of the simulated bench, a lab in which its unit is released on a day, and an alignment.
func overlayStage(t *testing.T) (dir, ses string) {
	t.Helper()
	d := t.TempDir()
	ses = filepath.Join(d, "ses")
	done(t, "simulate", "--scenario", "plain", "--out", ses)
	lab := putLab(t, filepath.Join(d, "lab"), bench)
	put(t, lab, "units.toml", "[[unit]]\nid = \"unit-a\"\nname = \""+secret+"\"\nrelease = \"2026-12-01\"\nrated_current_a = 6.0\nlocked_rotor_a = 33.0\n")
	put(t, d, "clip.json", `{"session": "ses", "method": "hand", "offset_s": 1.5, "drift_ppm": 100, "camera_s": 3.5}`)
	put(t, d, "other.json", `{"session": "another", "method": "hand", "offset_s": 1.5, "drift_ppm": 100}`)
	put(t, d, "taken/frame-000001.png", "mine")
	return d, ses
}

func TestOverlay(t *testing.T) {
	d, ses := overlayStage(t)
	const small = "--size=480x270"
	if got := done(t, "overlay", ses, "--from", "0:04", "--to", "0:05.2", small, "--out", d+"/frames"); got != "30 frames of 480x270 at 25 a second\n" {
		t.Errorf("said %q", got)
	}
	names, _ := filepath.Glob(d + "/frames/frame-*.png")
	if len(names) != 30 || !strings.HasSuffix(names[0], "frame-000001.png") {
		t.Errorf("%d pictures: %v", len(names), names)
	}
	f, err := os.Open(names[29])
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if c, err := png.DecodeConfig(f); err != nil || c.Width != 480 || c.Height != 270 {
		t.Errorf("a picture of %dx%d: %v", c.Width, c.Height, err)
	}
	// Raw video: 1.2 s at 29.97 are 36 frames, and the picture is the whole of standard output.
	if got := quern(t, "overlay", ses, "--from", "4", "--to", "5.2", small, "--frame-rate", "29.97", "--out", "-"); got.status != 0 || got.err != "" || len(got.out) != 36*4*480*270 {
		t.Errorf("status %d, %d bytes, %q", got.status, len(got.out), got.err)
	}
	// The camera began 1.5 s into the session; its frame 62 begins at 2.48 s, the last before 2.5 s.
	got := done(t, "overlay", ses, "--aligned", d+"/clip.json", "--from", "2.5", "--to", "3", small, "--out", d+"/camera")
	if want := "the first lies on frame 62 of the camera, counted from 0, at 2.480 s\n"; !strings.HasSuffix(got, want) || !strings.HasPrefix(got, "13 frames") {
		t.Errorf("said %q, want 13 frames and %q", got, want)
	}
	if got := done(t, "overlay", ses, "--aligned", d+"/clip.json", small, "--out", d+"/film"); !strings.HasPrefix(got, "88 frames") || !strings.Contains(got, "frame 0 of") {
		t.Errorf("all of the camera's 3.5 s: said %q", got)
	}
	for _, r := range []string{"/frames", "/camera", "/film", "/taken"} {
		if !exists(d + r) {
			t.Errorf("%s is not there", r)
		}
	}
	if all, _ := os.ReadDir(d); len(all) != 8 {
		t.Errorf("something is left: %v", all)
	}
}

func TestOverlayWrong(t *testing.T) {
	d, _ := overlayStage(t)
	for _, c := range []struct{ line, want string }{
		{"$/ses", `--out is missing`},
		{"$/none --out $/new", `\$/none: found no such folder`},
		{"$/ses --out $/taken", `--out \$/taken: found something of that name, expected none`},
		{"$/ses --out $/no/new", `--out .*no: found nothing of that name`},
		{"$/ses --out - --form frames", `need a folder`},
		{"$/ses --out $/new --form raw", `standard output only`},
		{"$/ses --out $/new --form film", `--form "film", expected frames or raw`},
		{"$/ses --out $/new --size 1920", `--size "1920", expected a width and a height`},
		{"$/ses --out $/new --size 10x10", `size of 10x10, expected 240 to 7680`},
		{"$/ses --out $/new --margin 40", `margin of 40 %, expected 0 to 15`},
		{"$/ses --out $/new --margin NaN", `margin of NaN`},
		{"$/ses --out $/new --background green", `--background "green", expected none or a colour`},
		{"$/ses --out $/new --background #12345", `--background "#12345"`},
		{"$/ses --out $/new --frame-rate 26", `--frame-rate: found "26", expected one of 23\.976`},
		{"$/ses --out $/new --from 0:70", `--from: found "0:70", expected a time`},
		{"$/ses --out $/new --from 9 --to 8", `from 9\.000 s to 8\.000 s, expected one that is longer`},
		{"$/ses --out $/new --run 2", `--run 2, expected 1 to 1`},
		{"$/ses --out $/new --run -1", `--run -1, expected 1 to 1`},
		{"$/ses --out $/new --run 1 --from 3", `do not go with it`},
		{"$/ses --out $/new --aligned $/nothing.json", `--aligned: .*nothing\.json`},
		{"$/ses --out $/new --aligned $/other.json", `other\.json: found an alignment with session another, expected ses`},
		{"$/ses --out $/new --aligned $/lab/units.toml", `units\.toml: .*expected an alignment`},
		{"$/ses --out $/new --lab $/nolab", `\$/nolab`},
		{"$/ses --out $/new --lab $/lab --settings mine", `--settings "mine", expected stored or lab`},
	} {
		var args []string
		for _, w := range strings.Fields("overlay " + c.line) {
			args = append(args, strings.ReplaceAll(w, "$", d))
		}
		got := quern(t, args...)
		text := strings.ReplaceAll(got.err, d, "$")
		if got.status != 2 || got.out != "" || strings.Count(text, "\n") != 1 || !regexp.MustCompile(c.want).MatchString(text) {
			t.Errorf("overlay %s: status %d, out %q\n got %s want %s", c.line, got.status, got.out, text, c.want)
		}
	}
	if all, _ := os.ReadDir(d); len(all) != 5 {
		t.Errorf("something is left: %v", all)
	}
	if b, _ := os.ReadFile(d + "/taken/frame-000001.png"); string(b) != "mine" {
		t.Errorf("what was there is now %q", b)
	}
}

// The picture shows the blind code until the day of release, and always where no lab is named; figures
// that were corrected are the corrected ones.
func TestOverlayNames(t *testing.T) {
	d, dir := overlayStage(t)
	done(t, "correct", dir, "--target", "measure.mean_a", "--new", "7.77", "--why", "the clamp was off", "--who", "ann")
	ses, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ day, lab, unit, mean string }{
		{"2026-11-30", d + "/lab", "unit-a", "7.77"}, {"2026-12-01", d + "/lab", secret + " (unit-a)", "7.77"}, {"2026-12-01", "", "unit-a", ""},
	} {
		at, err := time.Parse(time.DateOnly, c.day)
		if err != nil {
			t.Fatal(err)
		}
		var said strings.Builder
		k := campaign{e: env{err: &said, now: func() time.Time { return at }}, lab: c.lab, settings: "stored"}
		told, err := footageOf(&k, ses, dir)
		if err != nil {
			t.Fatal(err)
		}
		sc, err := told.Scene(nil)
		if err != nil {
			t.Fatal(err)
		}
		mean := ""
		if len(sc.Final) == 1 {
			mean = fmt.Sprintf("%.2f", sc.Final[0].MeanA.V)
		}
		if sc.Unit != c.unit || mean != c.mean || (c.lab == "") != strings.Contains(said.String(), "the session has 1 correction, counted only with --lab") {
			t.Errorf("%+v: unit %q, mean %q, said %q", c, sc.Unit, mean, said.String())
		}
		if len(sc.Result.Runs) != 1 || len(sc.Result.Runs[0].States) == 0 || sc.Level.Empty() || sc.Current.Empty() || sc.EndS < 20 || sc.LimitS != 240 {
			t.Errorf("%+v: a scene without its states or curves", c)
		}
	}
}
