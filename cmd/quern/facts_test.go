package main

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"quern/rig/session"
	"quern/rig/wave"
)

// TestWeighedByTheLab: where a lab is named, a vessel of its register is known although the session is older than that; and a lab
// that cannot be read is told before anything is on record.
func TestWeighedByTheLab(t *testing.T) {
	d := stage(t)
	ses := d + "/ses"
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", ses, "--scale", d+"/good.csv")
	weigh := []string{"weigh", ses, "--role", "chamber", "--vessel", "bowl-1", "--gross", "453", "--who", "ann", "--lab"}
	if got := quern(t, append(weigh, d+"/badlab")...); got.status != 2 || !strings.Contains(got.err, "bench.toml:9") {
		t.Errorf("a broken lab: status %d, %q", got.status, got.err)
	}
	bench := filepath.Join(d, "lab", "bench.toml")
	b, err := os.ReadFile(bench)
	if err != nil {
		t.Fatal(err)
	}
	put(t, d+"/lab", "bench.toml", string(b)+"\n[[vessel]]\nid = \"bowl-1\"\ndry_g = 412.0\n")
	got := quern(t, append(weigh, d+"/lab")...)
	if got.status != 0 || strings.Contains(got.err, "register") || !strings.Contains(got.out, ": fact 1 on record: chamber, 453 g gross in bowl-1\n") {
		t.Errorf("status %d, %q, %q; expected fact 1 and no word of a register", got.status, got.out, got.err)
	}
}

// TestFactsMakeSense: what is appended can never be taken out again, so what cannot be meant is refused, and what is
// taken is said in words.
func TestFactsMakeSense(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/ses", "--scale", d+"/good.csv")
	for _, c := range []struct {
		line, want string
		status     int
	}{
		{"weigh $ --role chamber --net 41.5", `: fact 1 on record: chamber, 41\.5 g net\n$`, 0},
		{"weigh $ --role charge --item carrot --gross 1 --unit kg --vessel bowl-1", `: fact 2 on record: charge carrot, 1000 g gross in bowl-1\nquern: weigh: bowl-1 stands in no register`, 0},
		{"weigh $ --role chamber --net 3 --gross 5", `found --net beside --gross or --tare`, 2},
		{"weigh $ --role chamber --net 3 --tare 5", `found --net beside --gross or --tare`, 2},
		{"weigh $ --role chamber --item carrot --net 3", `only the charge has ingredients`, 2},
		{"act dance", `act: found "dance", expected one of begin, end, mark, choose, weigh, expect, drain, tare, zero, undo, check, void, correct`, 2},
		{"weigh $ --role pan --net 3", `found --role "pan", expected one of empty, charge, chamber, coarse, fine, passed`, 2},
		{"weigh $ --role chamber --net NaN", `--net, --unit: found`, 2},
		{"weigh $ --role chamber --net 2000000", `found --net 2e\+06, expected -1000000 to 1000000`, 2},
		{"weigh $ --role chamber --net 41,5", `found --net "41,5", expected a number such as 41\.5`, 2},
		{"weigh $ --role chamber --net 3 --drained -1", `found --drained -1, expected 0 to`, 2},
		{"checked $ --kind scale --found 999 --nominal 1000", `: fact 3 on record: check of the scale, 999 g where 1000 g should be\n$`, 0},
		{"checked $ --kind scale --found NaN", `found --found NaN, expected`, 2},
		{"checked $ --kind ear --found 1", `found --kind "ear", expected one of sound, scale, clamp, supply, water`, 2},
		{"correct $ --target weighing.1 --new 40 --why slip", `: fact 4 on record: weighing\.1 is now 40\n$`, 0},
		{"correct $ --target check.1 --new withdrawn --why slip", `found no check 1, expected one of 3\n$`, 2},
		{"correct $ --target weighing.3 --new 40 --why slip", `found no weighing 3, expected one of 1, 2\n$`, 2},
		{"correct $ --target measure.left_share --new 5 --why slip", `found 5 for the share left_share, expected 0 to 2, such as 0\.05 for 5 %`, 2},
		{"correct $ --target measure.trips --new -1 --why slip", `found -1 for trips, expected 0 or more`, 2},
		{"correct $ --target void --new rig --why " + strings.Repeat("x", 1001), `found a reason of 1001 bytes, expected at most 1000: shorten it\n$`, 2},
		{"weigh $ --role chamber --net 3 --note " + strings.Repeat("x", 1001), `found a note of 1001 bytes, expected at most 1000: shorten it\n$`, 2},
		{"weigh $ --role chamber --net 3 --vessel " + strings.Repeat("x", 101), `found a vessel of 101 bytes, expected at most 100: shorten it\n$`, 2},
		{"correct $ --target measure.laeq_db --new -3 --why quiet", `: fact 5 on record: measure\.laeq_db is now -3\n$`, 0},
	} {
		args := append(strings.Fields(strings.ReplaceAll(c.line, "$", d+"/ses")), "--who", "ann")
		got := quern(t, args...)
		if got.status != c.status || !regexp.MustCompile(c.want).MatchString(got.out+got.err) {
			t.Errorf("%s: status %d, %q, want %d, %s", c.line, got.status, got.out+got.err, c.status, c.want)
		}
	}
	b, err := session.OpenFacts(d + "/ses")
	if err != nil || len(b.Facts.Weighings) != 2 || len(b.Facts.Checks) != 1 || len(b.Facts.Corrections) != 2 {
		t.Errorf("got %+v (%v) on record, want what was taken and nothing else", b.Facts, err)
	}
}

// TestInterrupted: Ctrl-C ends what reads a recording, and an import that it ends leaves nothing behind.
func TestInterrupted(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/ses", "--microphone", d+"/mic.wav")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, line := range []string{
		"replay $/ses", "replay $/ses --json", "draw $/ses --out $/new", "verify $/ses", "simulate --scenario plain --out $/new",
		"import --lab $/lab --unit unit-a --procedure mixed --out $/new --microphone $/mic.wav",
	} {
		line = strings.ReplaceAll(line, "--out $/new", "--out $/new.png")
		var out, errs bytes.Buffer
		status := run(ctx, env{args: strings.Fields(strings.ReplaceAll(line, "$", d)), out: &out, err: &errs, now: time.Now})
		if status != 1 || errs.String() != "quern: interrupted\n" || out.Len() != 0 {
			t.Errorf("%s: status %d, %q, %q, want 1 and that it was interrupted", line, status, out.String(), errs.String())
		}
	}
	left, err := filepath.Glob(filepath.Join(d, "*new.png*"))
	hidden, herr := filepath.Glob(filepath.Join(d, ".*new.png*"))
	if err != nil || herr != nil || len(left)+len(hidden) != 0 {
		t.Errorf("got %v, %v left behind, want nothing", left, hidden)
	}
}

// TestNotABench: what answers without being a bench is told from one.
func TestNotABench(t *testing.T) {
	s := httptest.NewServer(http.NotFoundHandler())
	defer s.Close()
	got := quern(t, "status", "--at", strings.TrimPrefix(s.URL, "http://"))
	if got.status != 1 || !strings.Contains(got.err, "perhaps 'quern pages', expected 'quern serve'") {
		t.Errorf("got %+v, want that this is no running bench", got)
	}
}

// TestNoSessions: a wrong folder is no campaign in which nothing was tested.
func TestNoSessions(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/ses", "--scale", d+"/good.csv")
	if err := os.MkdirAll(d+"/season/sessions", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(d+"/ses", d+"/season/sessions/one"); err != nil {
		t.Fatal(err)
	}
	got := quern(t, "standings", "--lab", d+"/lab", d+"/season")
	if want := d + "/season: found no session in it, expected a folder of sessions, perhaps " + d + "/season/sessions\n"; !strings.HasSuffix(got.err, want) {
		t.Errorf("got %q, want %q", got.err, want)
	}
	// One bad name does not keep the others from being looked at.
	both := quern(t, "verify", d+"/season", d+"/season/sessions/one")
	if both.status != 2 || !strings.Contains(both.out, "one: unchanged") || !strings.Contains(both.err, "found a folder of sessions (0)") && !strings.Contains(both.err, "season/manifest.json: found nothing") {
		t.Errorf("got %+v, want the second one verified all the same", both)
	}
}

// TestStereo: two instruments on the two channels of one file.
func TestStereo(t *testing.T) {
	d := stage(t)
	s := d + "/stereo.wav"
	x := pressure()[:micHz]
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v / 2
	}
	putWave(t, s, wave.PCM16, micHz, x, y)
	lab := []string{"import", "--lab", d + "/lab", "--unit", "unit-a", "--procedure", "mixed", "--microphone", s, "--clamp", s, "--channel", "1"}
	done(t, append(lab, "--out", d+"/two", "--clamp-channel", "2")...)
	done(t, append(lab, "--out", d+"/same")...)
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(d, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if read("two/recordings/microphone.wav") == read("two/recordings/clamp.wav") {
		t.Error("the clamp holds the microphone's channel")
	}
	if read("same/recordings/microphone.wav") != read("same/recordings/clamp.wav") {
		t.Error("without --clamp-channel both take --channel")
	}
}
