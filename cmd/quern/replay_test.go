package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

// results reads JSON lines, strictly: one object a line and nothing else.
func results(t testing.TB, text string) []rig.Result {
	t.Helper()
	var out []rig.Result
	for line := range strings.Lines(text) {
		d := json.NewDecoder(strings.NewReader(line))
		d.DisallowUnknownFields()
		var r rig.Result
		if err := d.Decode(&r); err != nil {
			t.Fatalf("%v in %q", err, line)
		}
		if d.More() || !strings.HasSuffix(line, "\n") {
			t.Fatalf("a line is not one object: %q", line)
		}
		out = append(out, r)
	}
	return out
}

// snapshot returns the content of every file below a folder.
func snapshot(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		out[path] = string(b)
		return err
	})
	if err != nil || len(out) < 3 {
		t.Fatalf("%s: %d files, %v", dir, len(out), err)
	}
	return out
}

// TestReplayOrder wants one object a session in the order given, the same bytes each time, and nothing
// stored.
func TestReplayOrder(t *testing.T) {
	a, b := both(t, "a"), imported(t, "b", "--scale", put(t, t.TempDir(), "s.csv", scaleTable))
	before := snapshot(t, a)
	for _, order := range [][]string{{a, b}, {b, a}, {a, a, b}} {
		var want, got []string
		for _, s := range order {
			want = append(want, filepath.Base(s))
		}
		for _, r := range results(t, done(t, append([]string{"replay", "--json"}, order...)...)) {
			got = append(got, r.Session)
		}
		if !slices.Equal(got, want) {
			t.Errorf("replay of %v: got %v", want, got)
		}
	}
	for _, args := range [][]string{{"replay", "--json", a, b}, {"replay", a, b}} {
		if one, two := done(t, args...), done(t, args...); one != two || one == "" {
			t.Errorf("%v: two replays differ:\n%s\n%s", args, one, two)
		}
	}
	if !reflect.DeepEqual(before, snapshot(t, a)) {
		t.Error("a replay changed the session")
	}
}

// TestReplayGoesOn: a session that cannot be read is told in a line, and keeps none of the others from being replayed.
func TestReplayGoesOn(t *testing.T) {
	dir := t.TempDir()
	a, b := both(t, "a"), imported(t, "b", "--scale", put(t, dir, "s.csv", scaleTable))
	said := quern(t, "replay", "--json", a, filepath.Join(dir, "none"), b)
	var got []string
	for _, r := range results(t, said.out) {
		got = append(got, r.Session)
	}
	if want := []string{"a", "b"}; said.status != 2 || !slices.Equal(got, want) || strings.Count(said.err, "\n") != 1 || !strings.Contains(said.err, "none: found no such folder") {
		t.Errorf("status %d, sessions %v, expected 2 and %v; told %q", said.status, got, want, said.err)
	}
	if said := quern(t, "replay", filepath.Join(dir, "none"), a); said.status != 2 || !strings.Contains(said.out, "a, run 1") {
		t.Errorf("as a table: status %d, %q, %q", said.status, said.out, said.err)
	}
}

// TestReplayLab wants the thresholds of a lab in place of the stored ones, in that replay only.
func TestReplayLab(t *testing.T) {
	s := both(t, "s")
	kinds := func(args ...string) (out []string) {
		r := results(t, done(t, append([]string{"replay", "--json", s}, args...)...))
		for _, e := range r[0].Runs[0].Events {
			out = append(out, string(e.Kind))
		}
		return out
	}
	stored := kinds()
	if slices.Contains(stored, "overload_start") {
		t.Fatalf("4 A of 6 A rated is no overload: %v", stored)
	}
	// 4 A are an overload to a motor rated 3 A: 1.33 times.
	other := putLab(t, t.TempDir(), bench+"[detect.motor]\noverload_hold_s = 1.0\n")
	put(t, other, "units.toml", "[[unit]]\nid = \"unit-a\"\nrated_current_a = 3.0\nlocked_rotor_a = 33.0\n")
	if got := kinds("--lab", other); !slices.Contains(got, "overload_start") {
		t.Errorf("with 3 A rated: got %v, want an overload", got)
	}
	if got := kinds(); !slices.Equal(got, stored) {
		t.Errorf("after a replay under another lab the stored settings give %v, before %v", got, stored)
	}
	// A louder calibration moves every level by as much.
	louder := putLab(t, t.TempDir(), strings.Replace(bench, "full_scale_db = 120.0", "full_scale_db = 123.0", 1))
	near(t, "laeq_db at 3 dB more", results(t, done(t, "replay", "--json", s, "--lab", louder))[0].Runs[0].Sound.LAeqDB, toneDB+3, 0.1)
}

// Keys of the outer contract, and those that the program adds to them.
var (
	resultKeys  = keys("session unit procedure runs warnings", "")
	runKeys     = keys("start_s end_s elapsed_s motor_on_s run_time_s events sound motor", "states")
	eventKeys   = keys("kind at_s", "within_s sure evidence")
	soundKeys   = keys("laeq_db lafmax_db lasmax_db lcpeak_db lae_db la10_db la90_db background_laeq_db laeq_corrected_db third_octaves", "lceq_db la50_db")
	bandKeys    = keys("nominal_hz leq_db", "")
	motorKeys   = keys("idle_a mean_a max_a inrush_a frequency_hz", "peak_a crest_factor thd_percent harmonics_a noise_a")
	warningKeys = keys("code text", "")
)

func keys(contract, added string) []string {
	out := append(strings.Fields(contract), strings.Fields(added)...)
	slices.Sort(out)
	return out
}

// TestKeys wants every key of the contract in every session, null where nothing was measured.
func TestKeys(t *testing.T) {
	dir := t.TempDir()
	mic := putWave(t, filepath.Join(dir, "m.wav"), wave.PCM16, micHz, pressure())
	clamp := putWave(t, filepath.Join(dir, "c.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	for _, c := range []struct {
		name  string
		args  []string
		nulls []string // of "sound" and "motor", all of them
	}{
		{"both", []string{"--microphone", mic, "--clamp", clamp}, nil},
		{"microphone-only", []string{"--microphone", mic}, []string{"motor.idle_a", "motor.mean_a", "motor.max_a", "motor.inrush_a", "motor.frequency_hz"}},
		{"clamp-only", []string{"--clamp", clamp}, []string{"sound.laeq_db", "sound.lafmax_db", "sound.lasmax_db", "sound.lcpeak_db", "sound.lae_db",
			"sound.la10_db", "sound.la90_db", "sound.background_laeq_db", "sound.laeq_corrected_db"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var top map[string]any
			text := done(t, "replay", "--json", imported(t, c.name, c.args...))
			if err := json.Unmarshal([]byte(text), &top); err != nil {
				t.Fatal(err)
			}
			run := list(t, top, "runs", 1)[0]
			want := func(what string, m map[string]any, keys []string) {
				var got []string
				for k := range m {
					got = append(got, k)
				}
				slices.Sort(got)
				if !slices.Equal(got, keys) {
					t.Errorf("%s: keys %v, want %v", what, got, keys)
				}
			}
			sound, motor := run["sound"].(map[string]any), run["motor"].(map[string]any)
			want("the object", top, resultKeys)
			want("run", run, runKeys)
			want("sound", sound, soundKeys)
			want("motor", motor, motorKeys)
			for _, e := range list(t, run, "events", 2) {
				want("event", e, eventKeys)
			}
			for _, w := range list(t, top, "warnings", 0) {
				want("warning", w, warningKeys)
			}
			for _, b := range list(t, sound, "third_octaves", 0) {
				want("band", b, bandKeys)
			}
			for name, m := range map[string]map[string]any{"sound": sound, "motor": motor} {
				for k, v := range m {
					if absent := v == nil; absent != slices.Contains(c.nulls, name+"."+k) && slices.Contains(slices.Concat(c.nulls, contractFigures), name+"."+k) {
						t.Errorf("%s.%s is %v", name, k, v)
					}
				}
			}
			if c.nulls != nil && len(list(t, top, "warnings", 1)) == 0 {
				t.Error("figures are absent and no warning says why")
			}
		})
	}
}

// contractFigures are the figures that a session with sound, current and quiet before the start has.
var contractFigures = []string{"sound.laeq_db", "sound.lafmax_db", "sound.lasmax_db", "sound.lcpeak_db", "sound.lae_db", "sound.la10_db", "sound.la90_db",
	"sound.background_laeq_db", "sound.laeq_corrected_db", "motor.mean_a", "motor.max_a", "motor.inrush_a", "motor.frequency_hz"}

// list returns a list of objects of at least so many; null is not a list.
func list(t *testing.T, m map[string]any, key string, least int) []map[string]any {
	t.Helper()
	all, ok := m[key].([]any)
	if !ok || len(all) < least {
		t.Fatalf("%s is %v, want a list of at least %d", key, m[key], least)
	}
	out := make([]map[string]any, len(all))
	for i, v := range all {
		if out[i], ok = v.(map[string]any); !ok {
			t.Fatalf("%s holds %v, want objects", key, v)
		}
	}
	return out
}

// TestKinds wants the events of the contract by their names in order of time.
func TestKinds(t *testing.T) {
	r := results(t, done(t, "replay", "--json", both(t, "s")))[0].Runs[0]
	if len(r.Events) < 2 || r.Events[0].Kind != rig.MotorStart || r.Events[len(r.Events)-1].Kind != rig.MotorStop {
		t.Errorf("got %+v, want a start first and a stop last", r.Events)
	}
	for i := range r.Events[1:] {
		if r.Events[i+1].AtS.V < r.Events[i].AtS.V {
			t.Errorf("events out of order: %+v", r.Events)
		}
	}
}

// Before a whole catalogue is compared under other settings it is said which they are; those that no analysis asks for are
// none.
func TestReplayAllSaysWhichSettings(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	putWave(t, filepath.Join(dir, "mic.wav"), wave.PCM16, micHz, pressure())
	putWave(t, filepath.Join(dir, "clamp.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	done(t, "import", "--lab", lab, "--unit", "unit-b", "--procedure", "mixed", "--out", filepath.Join(sessions, "recorded"), "--microphone", dir+"/mic.wav", "--clamp", dir+"/clamp.wav")
	if said := done(t, "replay", "--all", "--lab", lab, sessions); !strings.HasPrefix(said, "all settings of the analysis are those stored in the sessions\n0 of 37 runs changed\n") {
		t.Errorf("the same lab: %s", said)
	}
	b, err := os.ReadFile(filepath.Join(lab, "bench.toml"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, lab, "bench.toml", string(b)+"\n[detect.load]\ndwell_s = 3.0\n")
	want := "settings of the analysis that differ from those stored in the sessions: 1\n  bench.toml, detect.load.dwell_s: 3.0 s instead of 5.0 s, in 1 session\n"
	if said := done(t, "replay", "--all", "--lab", lab, sessions); !strings.HasPrefix(said, want) {
		t.Errorf("got %s, expected\n%s", said, want)
	}
	var out struct {
		Settings []struct {
			Key      string
			Sessions int
		}
	}
	if err := json.Unmarshal([]byte(done(t, "replay", "--all", "--lab", lab, sessions, "--json")), &out); err != nil || len(out.Settings) != 1 || out.Settings[0].Key != "detect.load.dwell_s" || out.Settings[0].Sessions != 1 {
		t.Errorf("as JSON: %+v, %v", out, err)
	}
}

// What another version of the program made of a session is told apart from what settings do to it, and stays in its place;
// so is what the recordings were made with from rules.
func TestReplayAllTellsTheProgramFromSettings(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	putWave(t, filepath.Join(dir, "mic.wav"), wave.PCM16, micHz, pressure())
	putWave(t, filepath.Join(dir, "clamp.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	recorded := filepath.Join(sessions, "recorded")
	done(t, "import", "--lab", lab, "--unit", "unit-b", "--procedure", "mixed", "--out", recorded, "--microphone", dir+"/mic.wav", "--clamp", dir+"/clamp.wav")
	done(t, "replay", "--all", "--lab", lab, sessions)
	all, err := session.Analyses(recorded)
	if err != nil || len(all) != 1 {
		t.Fatal(len(all), err)
	}
	old := all[0]
	old.Tool = "quern of yesterday"
	old.Result.Runs[0].Events[0].AtS = rig.Fig(old.Result.Runs[0].Events[0].AtS.V + 0.25)
	if err := session.StoreAnalysis(recorded, old); err != nil {
		t.Fatal(err)
	}
	program := "another version of the program made the analyses that are kept:\n  quern of yesterday, of 1 session\nby quern " + version() +
		", under the same settings: 1 of 37 runs changed\n\nrecorded, unit-b\n  motor start at "
	for range 2 { // what is kept stays
		said := done(t, "replay", "--all", "--lab", lab, sessions)
		if !strings.HasPrefix(said, program) || !strings.Contains(said, "(-0.250 s)\n") ||
			!strings.HasSuffix(said, "\nall settings of the analysis are those stored in the sessions\nby the lab's settings: 0 of 37 runs changed\n") {
			t.Fatalf("got %s", said)
		}
	}
	b, err := os.ReadFile(filepath.Join(lab, "bench.toml"))
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(b), "full_scale_a = 100.0", "full_scale_a = 50.0", 1)
	if text == string(b) {
		t.Fatal("the lab has no full scale of 100 A")
	}
	put(t, lab, "bench.toml", strings.Replace(text, "name = \"", "name = \"another-", 1)) // a name changes no figure
	said := done(t, "replay", "--all", "--lab", lab, sessions)
	if !strings.HasPrefix(said, program) || !strings.Contains(said, "\nwhat recordings were made with, and the lab says otherwise now: 1\n  bench.toml, clamp.full_scale_a: 50.0 A instead of 100.0 A, in 1 session\n") ||
		!strings.Contains(said, "\nby the lab's settings: 1 of 37 runs changed\n") {
		t.Errorf("got %s", said)
	}
	var out struct {
		Programs  []struct{ Tool string }
		ByProgram []struct{ Run string } `json:"changes_by_program"`
		Settings  []struct{ Device bool }
		Changes   []struct{ Run string }
	}
	if err := json.Unmarshal([]byte(done(t, "replay", "--all", "--lab", lab, sessions, "--json")), &out); err != nil ||
		len(out.Programs) != 1 || len(out.ByProgram) != 1 || len(out.Settings) != 1 || !out.Settings[0].Device || len(out.Changes) != 1 {
		t.Errorf("as JSON: %+v, %v", out, err)
	}
}
