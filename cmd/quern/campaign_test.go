package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quern/rig/wave"
)

// Results taken by hand come in as sessions and are ranked by the same rules, marked as what they are.
func TestByHandIsRanked(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	s := standingsOf(t, "--lab", lab, sessions)
	order := ""
	for i, l := range s.Lines {
		order += l.Unit[5:]
		if l.Place != i+1 || l.Overall == nil {
			t.Errorf("line %d: %+v", i, l)
		}
	}
	if order != "dcba" {
		t.Errorf("order %q, want the fastest and quietest first: dcba", order)
	}
	text := doneOn(t, "2026-11-25", "score", "--lab", lab, sessions, "--unit", "unit-a")
	for _, want := range []string{"taken by hand: no recording", "Mixed load: passed (3 of 3)", "run_time_s", "not tested"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in:\n%s", want, text)
		}
	}
}

// What the verbs of scoring print, looked at by people once and held since. Checksums and versions are
// left out.
func TestCampaignGolden(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	doneOn(t, "2026-03-20", "correct", filepath.Join(sessions, "20260101-unit-a-mixed-by-hand-1"), "--target", "measure.left_share", "--new", "0.0496", "--u", "0.002", "--why", "weighed again", "--who", "bo")
	doneOn(t, "2026-03-20", "correct", filepath.Join(sessions, "20260202-unit-b-mixed-by-hand-1"), "--target", "measure.left_share", "--new", "0.09", "--why", "weighed again", "--who", "bo")
	doneOn(t, "2026-03-21", "correct", filepath.Join(sessions, "20260303-unit-c-mixed-by-hand-1"), "--target", "void", "--new", "rig", "--why", "no water", "--who", "bo")
	for name, args := range map[string][]string{
		"standings.txt": {"standings", "--lab", lab, sessions},
		"unit.txt":      {"score", "--lab", lab, sessions, "--unit", "unit-a"},
		"explain.txt":   {"explain", "unit-b", "--lab", lab, sessions},
		"moves.txt":     {"standings", "--lab", lab, sessions, "--against", "2026-03-19"},
	} {
		var kept []string
		for line := range strings.Lines(doneOn(t, "2026-11-25", args...)) {
			if !strings.Contains(line, "SHA-256") && !strings.HasPrefix(strings.TrimSpace(line), "quern (") {
				kept = append(kept, line)
			}
		}
		got := strings.Join(kept, "")
		file := filepath.Join("testdata", name)
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s differs (go test -update writes it anew); got:\n%s", file, got)
		}
	}
}

// A public name appears in no output before its release, and in the standings from that day on.
func TestEmbargo(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	commands := [][]string{{"check", lab}, {"standings", "--lab", lab, sessions}, {"standings", "--json", "--lab", lab, sessions}, {"score", "--lab", lab, sessions},
		{"score", "--json", "--lab", lab, sessions}, {"explain", "unit-b", "--lab", lab, sessions}, {"control", "--lab", lab, sessions},
		{"standings", "--lab", lab, sessions, "--against", "2026-02-01"}, {"replay", "--all", "--lab", lab, sessions}}
	for _, args := range commands {
		if out := doneOn(t, "2026-11-30", args...); strings.Contains(out, secret) {
			t.Errorf("quern %s shows the name before its release", strings.Join(args, " "))
		}
	}
	if out := doneOn(t, "2026-12-01", "standings", "--lab", lab, sessions); !strings.Contains(out, secret+" (unit-b)") {
		t.Errorf("no name on the day of its release:\n%s", out)
	}
	err := filepath.WalkDir(sessions, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		if bytes.Contains(b, []byte(secret)) {
			t.Errorf("%s holds the public name", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Corrections are appended, shown where they count, and can be taken back; the record stays whole.
func TestCorrections(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	ses := filepath.Join(sessions, "20260101-unit-a-mixed-by-hand-1")
	before := standingsOf(t, "--lab", lab, sessions)
	doneOn(t, "2026-03-20", "correct", ses, "--target", "measure.trips", "--new", "2", "--why", "seen on the film", "--who", "bo")
	doneOn(t, "2026-03-20", "correct", ses, "--target", "measure.run_time_s", "--new", "300", "--why", "read the wrong line", "--who", "bo")
	out := doneOn(t, "2026-03-21", "score", "--lab", lab, ses)
	for _, want := range []string{"failed", "corrected: measure.run_time_s to 300 by bo: read the wrong line", "5:00.0", "at most 4:00.0: fail"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
	after := standingsOf(t, "--lab", lab, sessions)
	if o := after.Lines[3]; o.Unit != "unit-a" || o.Tests[0].Outcome != "failed" || *o.Tests[0].Points != 0 {
		t.Errorf("a run that fails a gate: got %+v", o)
	}
	// As things stood before the correction, nothing has changed.
	old := standingsOf(t, "--lab", lab, sessions, "--as-of", "2026-03-19")
	if *old.Lines[3].Overall != *before.Lines[3].Overall {
		t.Errorf("as of the day before: %v, want %v", *old.Lines[3].Overall, *before.Lines[3].Overall)
	}
	doneOn(t, "2026-03-22", "correct", ses, "--target", "void", "--new", "operator", "--why", "fed in the wrong order", "--who", "bo")
	void := standingsOf(t, "--lab", lab, sessions)
	if o := void.Lines[3]; o.Tests[0].Outcome != "passed" || *o.Tests[0].Points == 0 {
		t.Errorf("a void run still counts: %+v", o)
	}
	text := doneOn(t, "2026-03-23", "score", "--lab", lab, sessions, "--unit", "unit-a")
	if !strings.Contains(text, "void (operator): fed in the wrong order; its values: run_time_s 5:00.0") {
		t.Errorf("the void run's values are not shown:\n%s", text)
	}
	if out := done(t, "verify", ses); !strings.Contains(out, "good") && !strings.Contains(out, "whole") && out == "" {
		t.Errorf("verify: %q", out)
	}
}

// What moved between two rankings adds up, whatever changed: rules, or what was known.
func TestAgainstAddsUp(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	other := filepath.Join(dir, "other")
	if err := os.CopyFS(other, os.DirFS(lab)); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(lab, "scorecard.toml"))
	if err != nil {
		t.Fatal(err)
	}
	card := strings.Replace(string(b), "weight = 2.0             # what most", "weight = 5.0             # what most", 1)
	card = strings.Replace(card, "{ at = 90.0, points = 0.0 }", "{ at = 85.0, points = 0.0 }", 1)
	put(t, other, "scorecard.toml", card)
	for _, against := range []string{other, "2026-02-15"} {
		var out struct {
			Moves []struct {
				Unit     string
				Old, New *float64
				Parts    []struct {
					Criterion, Cause string
					Points           float64
				}
			}
		}
		if err := json.Unmarshal([]byte(doneOn(t, "2026-11-25", "standings", "--json", "--lab", lab, sessions, "--against", against)), &out); err != nil {
			t.Fatal(err)
		}
		if len(out.Moves) != 4 {
			t.Fatalf("%d moves", len(out.Moves))
		}
		causes := map[string]bool{}
		for _, m := range out.Moves {
			sum := 0.0
			for _, p := range m.Parts {
				sum += p.Points
				causes[p.Cause] = true
			}
			if !(math.Abs(sum-(*m.New-*m.Old)) <= 1e-9) || len(m.Parts) == 0 {
				t.Errorf("against %s, %s: parts make %g, the move is %g", against, m.Unit, sum, *m.New-*m.Old)
			}
		}
		if against == other && (!causes["weight"] || !causes["curve"]) || against != other && !causes["measure"] {
			t.Errorf("against %s: causes %v", against, causes)
		}
	}
}

// The index changes no byte of any answer, and may be deleted or broken at any time.
func TestIndexChangesNothing(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	file := filepath.Join(sessions, ".index.sqlite")
	ask := func(more ...string) string {
		return doneOn(t, "2026-11-25", append([]string{"score", "--json", "--lab", lab, sessions}, more...)...)
	}
	want := ask("--no-index")
	if exists(file) {
		t.Fatal("--no-index makes an index")
	}
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"first", func() {}}, {"again", func() {}}, {"deleted", func() { os.Remove(file) }},
		{"broken", func() { put(t, sessions, ".index.sqlite", "this is no index") }}, {"after that", func() {}},
	} {
		c.do()
		if got := ask(); got != want {
			t.Errorf("%s: the index changes the answer", c.name)
		}
	}
	doneOn(t, "2026-03-20", "correct", filepath.Join(sessions, "20260101-unit-a-mixed-by-hand-1"), "--target", "measure.trips", "--new", "3", "--why", "counted again", "--who", "bo")
	if got, want := ask(), ask("--no-index"); got != want || !strings.Contains(got, "counted again") {
		t.Error("a fact that was added does not show")
	}
}

// Every present number of a unit's report is traced to what it was made of, on a recorded session with
// weighings that were put on record.
func TestEveryNumberIsTraced(t *testing.T) {
	dir, lab, _ := campaignStage(t)
	ses := filepath.Join(dir, "recorded", "one")
	if err := os.MkdirAll(filepath.Dir(ses), 0o755); err != nil {
		t.Fatal(err)
	}
	putWave(t, filepath.Join(dir, "mic.wav"), wave.PCM16, micHz, pressure())
	putWave(t, filepath.Join(dir, "clamp.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	done(t, "import", "--lab", lab, "--unit", "unit-a", "--procedure", "mixed", "--out", ses, "--microphone", dir+"/mic.wav", "--clamp", dir+"/clamp.wav", "--start", "2026-03-01T10:00:00Z")
	weigh := func(args ...string) {
		doneOn(t, "2026-03-01", append([]string{"weigh", ses, "--who", "ann"}, args...)...)
	}
	weigh("--role", "charge", "--net", "49", "--unit", "oz") // common practice: 8.5 oz left of 49 oz is 17.3 %
	weigh("--role", "chamber", "--net", "8.5", "--unit", "oz", "--drained", "121")
	weigh("--role", "coarse", "--vessel", "sieve-coarse", "--gross", "391", "--drained", "120")
	weigh("--role", "fine", "--net", "99", "--drained", "120")
	weigh("--role", "fine", "--vessel", "sieve-fine", "--gross", "407", "--drained", "160")
	var out struct {
		Units []struct {
			Tests []struct {
				Runs []struct {
					Measures []struct {
						Measure string
						Value   *float64
						From    []struct{ What, Text string }
					}
				}
			}
		}
	}
	if err := json.Unmarshal([]byte(doneOn(t, "2026-03-02", "explain", "--json", "unit-a", "--lab", lab, filepath.Dir(ses))), &out); err != nil {
		t.Fatal(err)
	}
	values := map[string]float64{}
	for _, m := range out.Units[0].Tests[0].Runs[0].Measures {
		if m.Value == nil {
			continue
		}
		values[m.Measure] = *m.Value
		if len(m.From) == 0 && *m.Value != 0 {
			t.Errorf("%s = %g comes from nowhere", m.Measure, *m.Value)
		}
	}
	if !(math.Abs(values["left_share"]-8.5/49) <= 1e-9) || !(math.Abs(values["left_share"]-0.173) <= 0.0005) {
		t.Errorf("left_share %v, want 17.3 %%", values["left_share"])
	}
	if values["coarse_g"] != 40 || values["fine_g"] != 40 { // by the register's wet tares; the last weighing counts
		t.Errorf("coarse %g g, fine %g g; want 40, 40", values["coarse_g"], values["fine_g"])
	}
	text := doneOn(t, "2026-03-02", "explain", "unit-a", "--lab", lab, filepath.Dir(ses))
	for _, want := range []string{"weighing 2 at", "weighing 5 at", "motor_start: ", "lies between ", "manifest SHA-256", "scorecard and procedures SHA-256", "read late, after 160 s", " = "} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in:\n%s", want, text)
		}
	}
}

// A plan is drawn, followed by sessions, and re-planned after a void without reshuffling what is left.
func TestPlanFollowsSessions(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	file := filepath.Join(dir, "plan.csv")
	draw := []string{"plan", "--lab", lab, "--seed", "7", "--out", file}
	for d := 1; d <= 6; d++ {
		draw = append(draw, "--day", fmt.Sprintf("2026-01-%02d", d))
	}
	first := doneOn(t, "2025-12-31", draw...)
	if !strings.Contains(first, "36 runs drawn with seed 7") {
		t.Fatalf("got %s", first)
	}
	if s := on(t, "2025-12-31", draw...); s.status != 2 || !strings.Contains(s.err, "exists") {
		t.Errorf("a plan is written over: %+v", s)
	}
	doneOn(t, "2026-03-22", "correct", filepath.Join(sessions, "20260101-unit-a-mixed-by-hand-1"), "--target", "void", "--new", "rig", "--why", "no water", "--who", "bo")
	again := doneOn(t, "2026-03-23", "plan", file, "--lab", lab, sessions)
	if !strings.Contains(again, "revision 2") || !strings.Contains(again, "void") || !strings.Contains(again, "replaces") {
		t.Errorf("no replacement:\n%s", again)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	doneOn(t, "2026-03-24", "plan", file, "--lab", lab, sessions)
	if after, _ := os.ReadFile(file); !bytes.Equal(b, after) {
		t.Error("asking again changes the plan")
	}
	// A run that nobody weighed takes its slot and says what is wanting, until it is weighed or void, whatever the reason.
	ses := filepath.Join(sessions, "unweighed")
	done(t, "import", "--lab", lab, "--unit", "unit-c", "--procedure", "mixed", "--out", ses, "--clamp", put(t, dir, "clamp.csv", rmsTable()), "--start", "2026-01-02T10:00:00Z")
	unweighed := doneOn(t, "2026-03-24", "plan", file, "--lab", lab, sessions)
	if !strings.Contains(unweighed, "done: but left_share cannot be judged (chamber not weighed)") {
		t.Errorf("a run that nobody weighed:\n%s", unweighed)
	}
	doneOn(t, "2026-03-24", "correct", ses, "--target", "void", "--new", "rig", "--why", strings.Repeat("nobody weighed it, ", 30), "--who", "bo")
	if void := doneOn(t, "2026-03-24", "plan", file, "--lab", lab, sessions); strings.Contains(void, "cannot be judged") || !strings.Contains(void, "void: nobody weighed it, ") {
		t.Errorf("and then void, for a long reason:\n%s", void)
	}
	doneOn(t, "2026-03-24", "plan", file)
}

// Hand-entered values need a name of the scorecard, and the last one counts.
func TestRate(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	rate := func(value string) {
		doneOn(t, "2026-03-01", "rate", "--lab", lab, "--unit", "unit-a", "--name", "build", "--value", value, "--note", "loose collar", "--who", "ann")
	}
	rate("4")
	rate("7.5")
	out := doneOn(t, "2026-03-02", "explain", "unit-a", "--lab", lab, sessions)
	if !strings.Contains(out, "7.50 (typed)") || !strings.Contains(out, "loose collar") || !strings.Contains(out, "entered by ann on 2026-03-01") {
		t.Errorf("got %s", out)
	}
	if s := on(t, "2026-03-01", "rate", "--lab", lab, "--unit", "unit-a", "--name", "biuld", "--value", "1", "--who", "ann"); s.status != 2 || !strings.Contains(s.err, "did you mean build?") {
		t.Errorf("got %+v", s)
	}
}

// A session by itself is judged with the checks of its day, in whichever session of the folder they stand; the runs of
// those do not count.
func TestOneSessionSeesTheDaysChecks(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	ses, opening := filepath.Join(sessions, "20260101-unit-a-mixed-by-hand-1"), filepath.Join(sessions, "opening")
	done(t, "import", "--lab", lab, "--unit", "unit-b", "--procedure", "mixed", "--out", opening, "--scale", put(t, dir, "scale.csv", scaleTable), "--start", "2026-01-01T08:00:00Z")
	score := func(more ...string) string {
		return doneOn(t, "2026-01-02", append([]string{"score", "--lab", lab, ses}, more...)...)
	}
	const without, with = "no check weight on record for 2026-01-01", "check weight for 2026-01-01 is on record in session opening"
	if out := score(); !strings.Contains(out, without) {
		t.Fatalf("before it was checked:\n%s", out)
	}
	doneOn(t, "2026-01-01", "checked", opening, "--kind", "scale", "--nominal", "1000", "--found", "1000", "--who", "ann")
	out := score()
	if strings.Contains(out, without) || !strings.Contains(out, with) || !strings.Contains(out, "no calibration of the microphone on record") || strings.Contains(out, "unit-b") {
		t.Errorf("checked in another session:\n%s", out)
	}
	if out := score("--as-of", "2025-12-31"); strings.Contains(out, with) {
		t.Errorf("as of the day before:\n%s", out)
	}
	if all := doneOn(t, "2026-01-02", "score", "--lab", lab, sessions, "--unit", "unit-a"); strings.Contains(all, "2026-01-01 is on record") || strings.Contains(all, without) {
		t.Errorf("the whole folder:\n%s", all)
	}
}
