package main

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"quern/rig/wave"
)

// stage is a folder with everything that the scripts of TestWrong need.
func stage(t *testing.T) string {
	t.Helper()
	d := t.TempDir()
	putLab(t, filepath.Join(d, "lab"), bench)
	putLab(t, filepath.Join(d, "badlab"), bench+"[detect.motor]\nstall_hold_ms = 300\n")
	putLab(t, filepath.Join(d, "barelab"), "[supply]\nvoltage_v = 120.0\n[microphone]\n")
	putLab(t, filepath.Join(d, "otherlab"), bench)
	put(t, d, "otherlab/units.toml", "[[unit]]\nid = \"unit-z\"\nrated_current_a = 6.0\n")
	putWave(t, filepath.Join(d, "mic.wav"), wave.PCM16, micHz, pressure()[:micHz])
	putWave(t, filepath.Join(d, "slow.wav"), wave.PCM16, 500, make([]float64, 500))
	putWave(t, filepath.Join(d, "fast.wav"), wave.PCM16, 384000, make([]float64, 500))
	putWave(t, filepath.Join(d, "justfast.wav"), wave.PCM16, 192001, make([]float64, 500))
	putWave(t, filepath.Join(d, "justslow.wav"), wave.PCM16, 999, make([]float64, 500))
	put(t, d, "empty.wav", "")
	put(t, d, "text.wav", "this is no sound\n")
	b, err := os.ReadFile(filepath.Join(d, "mic.wav"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, d, "head.wav", string(b[:30]))
	mu := bytes.Clone(b)
	at := bytes.Index(mu, []byte("fmt "))
	mu[at+8] = 7 // a tag of compressed sound
	put(t, d, "compressed.wav", string(mu))
	putLab(t, filepath.Join(d, "typolab"), bench)
	put(t, d, "typolab/units.toml", "[[unit]]\nid = \"unit-a\"\nrated_curent_a = 6.0\n")
	putLab(t, filepath.Join(d, "widelab"), bench)
	put(t, d, "widelab/units.toml", "\xff\xfe[\x00[\x00u\x00")
	putLab(t, filepath.Join(d, "returnlab"), strings.ReplaceAll(bench, "\n", "\r"))
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/torn", "--microphone", d+"/mic.wav")
	put(t, d, "torn/recordings/microphone.wav", "no sound any more, and long enough that it is no header alone: "+strings.Repeat("x", 4096))
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/listed", "--microphone", d+"/mic.wav")
	put(t, d, "listed/manifest.json", "[]")
	put(t, d, "folderlab/bench.toml/x", "")
	put(t, d, "header.csv", "time,amps\n0,1\n")
	put(t, d, "comma.csv", "time_s,mass_g\n0.0,12.4\n0.1,\"12,4\"\n")
	put(t, d, "semicolon.csv", "time_s;mass_g\n0,1\n")
	put(t, d, "stable.csv", "time_s,mass_g,stable\n0,1,1\n1,1,yes\n")
	put(t, d, "back.csv", "time_s,rms_a\n0.0,0\n0.2,0\n0.1,0\n")
	put(t, d, "step.csv", "time_s,current_a\n0.0000,0\n0.0005,0\n0.0010,0\n0.0090,0\n0.0095,0\n")
	put(t, d, "empty.csv", "")
	put(t, d, "good.csv", scaleTable)
	put(t, d, "late.csv", scaleTable+"2.5,oops,1\n") // wrong only after much was read
	put(t, d, "taken/x", "")
	put(t, d, "nosession/x", "")
	return d
}

// TestWrong holds the outer contract's word on failures: exit status 2, one line on standard error that
// names the file and its line or byte and says what was expected, and no session left behind.
func TestWrong(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/ses", "--scale", d+"/good.csv")
	const imp = "import --lab $/lab --unit unit-a --procedure mixed --out $/new "
	for _, c := range []struct{ line, want string }{
		{imp + "--microphone $/none.wav", `\$/none\.wav: found no such file, expected a recording`},
		{imp + "--microphone $", `\$: found a folder, expected`},
		{imp + "--microphone $/empty.wav", `\$/empty\.wav: byte 0: .*expected`},
		{imp + "--microphone $/text.wav", `\$/text\.wav: byte 0: .*expected`},
		{imp + "--microphone $/head.wav", `\$/head\.wav: byte \d+: .*expected`},
		{imp + "--microphone $/compressed.wav", `\$/compressed\.wav: byte \d+: .*0x0007, expected PCM`},
		{imp + "--microphone $/slow.wav", `\$/slow\.wav: byte 60: found 500 samples a second, expected 1000 to 192000`},
		{imp + "--microphone $/fast.wav", `\$/fast\.wav: byte 60: found 384000 samples a second, expected 1000 to 192000`},
		{imp + "--microphone $/mic.wav --channel 2", `\$/mic\.wav: found 1 channel, expected several, of which channel 2 is to be taken: choose no channel, or name`},
		{imp + "--microphone $/mic.wav --clamp $/mic.wav --channel 3", `\$/mic\.wav: found 1 channel, expected several, of which channel 3 is to be taken`},
		{imp + "--microphone $/justfast.wav", `\$/justfast\.wav: byte 60: found 192001 samples a second, expected 1000 to 192000`},
		{imp + "--microphone $/justslow.wav", `\$/justslow\.wav: byte 60: found 999 samples a second, expected 1000 to 192000`},
		{imp + "--clamp $/justfast.wav", `\$/justfast\.wav: byte 60: found 192001 samples a second, expected 1000 to 192000`},
		{imp + "--microphone $/mic.wav --channel 0", `--channel 0, expected 1 or more`},
		{imp + "--microphone $/mic.wav --channel -1", `--channel -1, expected 1 or more`},
		{imp + "--microphone $/good.csv", `\$/good\.csv: byte 0: .*expected`},
		{imp + "--clamp $/header.csv", `\$/header\.csv:1: .*expected`},
		{imp + "--clamp $/empty.csv", `\$/empty\.csv:1: found an empty file, expected`},
		{imp + "--clamp $/back.csv", `\$/back\.csv:4: found time_s 0\.1 after 0\.2, expected a later time`},
		{imp + "--clamp $/step.csv", `\$/step\.csv:\d: .*expected`},
		{imp + "--scale $/comma.csv", `\$/comma\.csv:3: found mass_g "12,4", expected a number`},
		{imp + "--scale $/semicolon.csv", `\$/semicolon\.csv:1: found ";".*expected ","`},
		{imp + "--scale $/stable.csv", `\$/stable\.csv:3: found stable "yes", expected 0 or 1`},
		{imp + "--scale $/late.csv", `\$/late\.csv:7: found mass_g "oops", expected a number`},
		{imp + "--microphone $/mic.wav --scale $/late.csv", `\$/late\.csv:7: `},
		{imp + "--scale $/mic.wav", `\$/mic\.wav: byte 0: found a WAV file, expected a table`},
		{imp, `^quern: import: found no recording, expected at least one of --microphone, --clamp and --scale\n$`},
		{imp + "--scale $/good.csv --start 1600-01-01T00:00:00Z", `^quern: import: found --start "1600-01-01T00:00:00Z": a start in the year 1600, expected one from 1700 to 2200\n$`},
		{imp + "--scale $/good.csv --start 9999-01-01T00:00:00Z", `--start "9999-01-01T00:00:00Z": a start in the year 9999`},
		{"import --lab $/lab --unit unit-a --procedure mixed --out $/good.csv/new --scale $/good.csv", `\$/good\.csv: found a file, or a path through one, expected the folder in which the session is to stand: name another folder`},
		{"import --lab $/lab --unit unit-a --procedure mixed --out $/" + strings.Repeat("n", 300) + " --scale $/good.csv", `\.\.\.: found a name that is too long for the disk, expected a shorter one`},
		{"import --lab $/lab --unit unit-a --procedure mixed --out $/" + strings.Repeat("n", 250) + " --scale $/good.csv", `\.\.\.: found a name that is too long for the disk, expected a shorter one`},
		{"import --lab $/typolab --unit unit-a --procedure mixed --out $/new --scale $/good.csv", `\$/typolab/units\.toml:3:1: found unknown key "rated_curent_a".*did you mean rated_current_a.*\(and 1 more: quern check \$/typolab\)`},
		{"check $/widelab", `\$/widelab/units\.toml:1: found text in UTF-16, expected text in UTF-8`},
		{"check $/returnlab", `\$/returnlab/bench\.toml:1: found lines that end in a carriage return only, expected`},
		{"check $/folderlab", `\$/folderlab/bench\.toml: found a folder, expected the bench`},
		{"replay $/torn", `\$/torn/recordings/microphone\.wav: byte 0: found "no s", expected a WAV file .*: restore it from a copy\n$`},
		{"replay $/listed", `\$/listed/manifest\.json:1: found a JSON array, expected a manifest as it was written: restore`},
		{imp + "--scale $/good.csv --microphone=", `^quern: import: found --microphone with an empty name, expected a file`},
		{imp + "--scale $/good.csv --clamp=", `^quern: import: found --clamp with an empty name, expected a file`},
		{imp + "--microphone $/mic.wav --scale=", `^quern: import: found --scale with an empty name, expected a file`},
		{"import --lab $/barelab --unit unit-a --procedure mixed --out $/new --microphone $/mic.wav", `\$/barelab/bench\.toml:3: found no microphone\.full_scale_db, expected .*: write full_scale_db = .* under \[microphone\]`},
		{"import --lab $/barelab --unit unit-a --procedure mixed --out $/new --clamp $/mic.wav", `\$/barelab/bench\.toml:1: found no clamp\.full_scale_a, expected .*: write full_scale_a = .* under \[clamp\]`},
		{imp + "--scale $/good.csv --start yesterday", `--start "yesterday", expected a time such as`},
		{imp + "--scale $/good.csv extra", `^quern: import: found "extra", expected only options; usage: quern import .*--table FILE.csv --out FOLDER\n$`},
		{imp + "--microphone $/mic.wav --channel x", `^quern: import: found --channel "x", expected a whole number; see 'quern import --help'\n$`},
		{imp + "--microphone $/mic.wav --channel 99999999999999999999", `found --channel "99999999999999999999", expected a smaller number; see`},
		{imp + "--channel", `^quern: import: found --channel with nothing after it, expected a whole number; see`},
		{imp + "-x", `^quern: import: found "-x", expected a known option: .*; see`},
		{imp + "---x", `^quern: import: found "---x", expected an option such as --help; see`},
		{"replay $/ses --json=perhaps", `^quern: replay: found --json "perhaps", expected --json alone, or with =true or =false; see`},
		{"check $/lab $/lab", `^quern: check: found 2 arguments \("\$/lab", "\$/lab"\), expected 1 argument; usage: quern check LAB\n$`},
		{"align a b c", `^quern: align: found 3 arguments .*, expected 1 to 2 arguments; usage: quern align `},
		{"help grind", `^quern: help: found "grind", expected a command; see 'quern --help'\n$`},
		{"completion grind", `^quern: completion: found "grind", expected only options; usage: `},
		{"completion bash grind", `^quern: completion bash: found "grind", expected only options; usage: `},
		{imp + "--mic $/mic.wav", `^quern: import: found "--mic", expected a known option, perhaps --microphone; see 'quern import --help'\n$`},
		{"import --lab $/lab --table $/none.csv --out $/new", `^quern: \$/none\.csv: found nothing of that name, expected a table of results taken by hand: check the path\n$`},
		{"import --lab $/lab --table $/lab --out $/new", `^quern: \$/lab: found a folder, expected a table: name a CSV file\n$`},
		{"import --unit unit-a --procedure mixed --out $/new --scale $/good.csv", `--lab is missing, expected the lab folder; see`},
		{"import --lab $/lab --procedure mixed --out $/new --scale $/good.csv", `--unit is missing`},
		{"import --lab $/lab --unit unit-a --out $/new --scale $/good.csv", `--procedure is missing`},
		{"import --lab $/lab --unit unit-a --procedure mixed --scale $/good.csv", `--out is missing`},
		{"import --lab $/none --unit unit-a --procedure mixed --out $/new --scale $/good.csv", `^quern: \$/none: found nothing of that name, expected a lab folder, with bench\.toml.*\n$`},
		{"import --lab $/badlab --unit unit-a --procedure mixed --out $/new --scale $/good.csv", `\$/badlab/bench\.toml:9:\d+: found unknown key "stall_hold_ms".*expected.*stall_hold_s`},
		{"import --lab $/lab --unit unit-q --procedure mixed --out $/new --scale $/good.csv", `\$/lab/units\.toml.*unit-q.*expected.*unit-a`},
		{"import --lab $/lab --unit unit-a --procedure wet --out $/new --scale $/good.csv", `\$/lab/procedures.*wet.*expected.*mixed`},
		{"import --lab $/lab --unit unit-a --procedure mixed --out $/taken --scale $/good.csv", `\$/taken: .*expected`},
		{"import --lab $/lab --unit unit-a --procedure mixed --out $/no/new --scale $/good.csv", `\$/no: .*expected`},

		{"replay $/none --json", `\$/none: found no such folder, expected a session folder`},
		{"replay $/nosession", `\$/nosession/manifest\.json: found nothing`},
		{"replay $/ses --lab $/badlab", `\$/badlab/bench\.toml:9:\d+: `},
		{"replay $/ses --lab $/otherlab", `\$/otherlab/units\.toml.*unit-a`},
		{"replay", `^quern: replay: found no argument, expected 1 argument or more; usage: quern replay SESSION`},
		{"draw $/ses", `out`},
		{"draw $/ses --out $/new.gif", `--out ".*new\.gif", expected a name that ends in \.png or \.svg`},
		{"draw $/ses --out $/new.png --run 7", `--run 7, expected`},
		{"draw $/none --out $/new.png", `\$/none: found no such folder`},
		{"verify $/none", `\$/none: found no such folder`},
		{"replay $/lab", `\$/lab: found a lab folder, expected a session folder`},
		{"draw $/ses --out $/none/a.png", `\$/none: found nothing of that name, expected a folder in which a\.png can be written`},
		{"plan $/none.csv --lab $/lab", `\$/none\.csv: found nothing of that name, expected a plan: draw one`},
		{"plan --lab $/lab --day 2026-03-02 --procedure wet --out $/new", `\$/lab/procedures: found no procedure "wet", expected one of mixed`},
		{"chek $/lab", `^quern: found "chek", expected a command, perhaps check; see`},
		{imp + "--microphone $/mic.wav --microphone $/slow.wav", `^quern: import: found --microphone twice, expected it once; see`},
		{imp + "--microphone $/mic.wav --clamp $/mic.wav --channel 1 --channel 2", `^quern: import: found --channel twice`},
		{imp + "--microphone $/mic.wav --clamp-channel 2", `--clamp-channel 2, expected 1 or more, beside --clamp`},
		{imp + "--clamp $/mic.wav --clamp-channel 0", `--clamp-channel 0, expected 1 or more`},
		{`replay ""`, `^quern: "": found no such folder, expected a session folder`},
		{"check $/none", `^quern: \$/none: found nothing of that name, expected a lab folder, with .* writes one to begin with\n$`},
		{"simulate --seeds ten", `--seeds "ten", expected from:to`},
		{"simulate --scenario none --out $/new", `--scenario "none", expected one of plain, `},
		{"simulate --campaign", `--out`},
		{"simulate --difficulty easy", `--difficulty "easy", expected one of`},
		{"grind", `found "grind", expected a command; see 'quern --help'`},
		{"--grind", `^quern: found "--grind", expected a known option; see 'quern --help'`},
	} {
		var args []string
		for _, w := range strings.Fields(c.line) {
			args = append(args, strings.ReplaceAll(strings.Trim(w, `"`), "$", d))
		}
		got := quern(t, args...)
		text := strings.ReplaceAll(got.err, d, "$")
		if got.status != 2 || got.out != "" {
			t.Errorf("%s: status %d, want 2; standard output %q, error %q", c.line, got.status, got.out, text)
		}
		// check tells every problem of a lab, a line each; the others tell the first.
		if n := strings.Count(text, "\n"); (n != 1 && args[0] != "check") || !strings.HasSuffix(text, "\n") {
			t.Errorf("%s: %d lines on standard error, want one: %q", c.line, n, text)
		}
		if !regexp.MustCompile(c.want).MatchString(text) {
			t.Errorf("%s:\n got %swant %s", c.line, text, c.want)
		}
		for _, left := range []string{"/new", "/new.gif", "/new.png", "/no"} {
			if exists(d + left) {
				t.Errorf("%s left %s behind", c.line, left)
				os.RemoveAll(d + left)
			}
		}
		if hidden, _ := filepath.Glob(d + "/.*"); len(hidden) > 0 {
			t.Errorf("%s left %v behind", c.line, hidden)
		}
	}
	if !exists(d + "/taken/x") {
		t.Error("a failed import touched a folder that stood in its way")
	}
}

// TestDraw wants pictures that open, the same each time.
func TestDraw(t *testing.T) {
	s, dir := both(t, "s"), t.TempDir()
	for _, name := range []string{"a.png", "b.PNG", "a.svg"} {
		for _, extra := range [][]string{nil, {"--run", "1"}} {
			out := filepath.Join(dir, name)
			var twice [2][]byte
			for i := range twice {
				done(t, append([]string{"draw", s, "--out", out}, extra...)...)
				b, err := os.ReadFile(out)
				if err != nil {
					t.Fatal(err)
				}
				twice[i] = b
			}
			if !bytes.Equal(twice[0], twice[1]) {
				t.Errorf("%s %v: two pictures of one session differ", name, extra)
			}
			if strings.HasSuffix(name, ".svg") {
				if !bytes.Contains(twice[0], []byte("<svg")) || !bytes.Contains(twice[0], []byte("motor start")) {
					t.Errorf("%s: no picture, or one without its events", name)
				}
				continue
			}
			if _, err := png.Decode(bytes.NewReader(twice[0])); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// TestTable wants the run and its events for people.
func TestTable(t *testing.T) {
	got := done(t, "replay", both(t, "both"))
	for _, want := range []string{"both", "unit-a", "0:02.0", "84.0", "motor start", "motor stop", "60.00"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
}

// TestVerify wants every changed byte found, and exit status 1.
func TestVerify(t *testing.T) {
	s := both(t, "s")
	if got := done(t, "verify", s); got != s+": unchanged\n" {
		t.Errorf("got %q", got)
	}
	for _, name := range []string{"recordings/microphone.wav", "recordings/clamp.wav", "settings.toml", "journal.lp"} {
		path := filepath.Join(s, name)
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		changed := bytes.Clone(b)
		changed[len(changed)-1] ^= 1
		if err := os.WriteFile(path, changed, 0o644); err != nil {
			t.Fatal(err)
		}
		got := quern(t, "verify", s)
		if got.status != 1 || !strings.Contains(got.out, name) || strings.Count(got.err, "\n") != 1 {
			t.Errorf("%s changed: status %d, %q, %q", name, got.status, got.out, got.err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	done(t, "verify", s)
}

// TestCheck explains the lab that comes with the program, and tells every problem of a bad one.
func TestCheck(t *testing.T) {
	got := done(t, "check", "../../testdata/lab")
	for _, want := range []string{"unit-a", "pull the plug", "detect.motor.stall_ratio", "mixed"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in the explanation", want)
		}
	}
	bad := putLab(t, t.TempDir(), "[supply]\nvoltage_v = 0.0\n[clamp]\nfull_scale = 100.0\n")
	if s := quern(t, "check", bad); s.status != 2 || s.out != "" || strings.Count(s.err, "\n") != 2 || !strings.Contains(s.err, "did you mean full_scale_a") {
		t.Errorf("two problems: status %d, %q, %q", s.status, s.out, s.err)
	}
}

// TestSimulate records a simulated session that replays as its story tells, and says that it is simulated.
func TestSimulate(t *testing.T) {
	out := filepath.Join(t.TempDir(), "s")
	done(t, "simulate", "--scenario", "no-microphone", "--out", out)
	done(t, "verify", out)
	res := results(t, done(t, "replay", "--json", out))
	if len(res) != 1 || len(res[0].Runs) != 1 {
		t.Fatalf("got %+v, want one run", res)
	}
	if w := res[0].Warnings; len(w) == 0 || w[0].Code != "simulated" || !strings.Contains(w[0].Text, "invented") {
		t.Errorf("got warnings %v, want the first to say that all is invented", w)
	}
	if s := quern(t, "simulate", "--scenario", "no-microphone", "--out", out); s.status != 2 || !strings.Contains(s.err, out) {
		t.Errorf("recording over a session: status %d, %q", s.status, s.err)
	}
	done(t, "verify", out)
	// The examination, of one seed: the same paper whatever the number of workers.
	one, two := done(t, "simulate", "--seeds", "3", "--workers", "1", "--json"), done(t, "simulate", "--seeds", "3:3", "--workers", "4", "--json")
	if one != two || !strings.Contains(one, `"truth"`) {
		t.Errorf("the examination differs:\n%s\n%s", one, two)
	}
}

// TestRecoverWhole: over a folder of sessions, one that is sealed needs nothing, and that is no mistake.
func TestRecoverWhole(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/ses", "--scale", d+"/good.csv")
	if got := done(t, "recover", d+"/ses"); got != d+"/ses: sealed, nothing to do\n" {
		t.Errorf("got %q", got)
	}
	if s := quern(t, "recover", d+"/nosession", d+"/ses"); s.status != 2 || !strings.Contains(s.out, "nothing to do") || strings.Contains(s.err, "sealed") {
		t.Errorf("beside what is no session: got %+v", s)
	}
	done(t, "verify", d+"/ses")
}

// TestHelp wants help for every verb, with an example, and completions for the usual shells.
func TestHelp(t *testing.T) {
	root := done(t, "--help")
	for _, verb := range []string{"check", "import", "replay", "draw", "simulate", "verify", "recover"} {
		if !strings.Contains(root, "\n  "+verb+" ") {
			t.Errorf("quern --help does not list %s", verb)
		}
		if help := done(t, verb, "--help"); !strings.Contains(help, "Examples:\n  quern "+verb+" ") {
			t.Errorf("quern %s --help has no example:\n%s", verb, help)
		}
	}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		if got := done(t, "completion", shell); !strings.Contains(got, "quern") {
			t.Errorf("no completion for %s", shell)
		}
	}
}
