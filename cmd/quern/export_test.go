package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"quern/rig/report/export"
)

// TestExportIsReplay: every figure of a run that replay prints stands in the table of runs, digit by digit.
func TestExportIsReplay(t *testing.T) {
	s := both(t, "s")
	d := stage(t)
	done(t, "export", s, "--lab", d+"/lab", "--out", d+"/tables", "--form", "json", "--only", "runs,events")
	var replayed struct {
		Runs []struct {
			Sound  map[string]any   `json:"sound"`
			Motor  map[string]any   `json:"motor"`
			Start  float64          `json:"start_s"`
			Events []map[string]any `json:"events"`
		} `json:"runs"`
	}
	if err := json.Unmarshal([]byte(done(t, "replay", s, "--json")), &replayed); err != nil {
		t.Fatal(err)
	}
	rows := func(name string) (out []map[string]any) {
		b, err := os.ReadFile(filepath.Join(d, "tables", name))
		if err == nil {
			err = json.Unmarshal(b, &out)
		}
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	compared, runs, events := 0, rows("runs.json"), rows("events.json")
	if len(runs) != 1 || len(replayed.Runs) != 1 || len(events) != len(replayed.Runs[0].Events) {
		t.Fatalf("%d runs and %d events, replay has %d", len(runs), len(events), len(replayed.Runs))
	}
	was := replayed.Runs[0]
	was.Motor["start_s"] = was.Start
	for _, part := range []map[string]any{was.Sound, was.Motor} {
		for name, want := range part {
			if _, list := want.([]any); list {
				continue // a table of its own
			}
			if got, there := runs[0][name]; !there || got != want {
				t.Errorf("%s is %v, replay says %v", name, got, want)
			}
			compared++
		}
	}
	for i, e := range was.Events {
		for name, want := range e {
			if events[i][name] != want {
				t.Errorf("event %d: %s is %v, replay says %v", i+1, name, events[i][name], want)
			}
		}
	}
	if compared < 20 {
		t.Errorf("only %d figures compared", compared)
	}
}

// TestExport imports a session, exports it and looks at what came.
func TestExport(t *testing.T) {
	d := stage(t)
	put(t, d, "sessions/notes", "")
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/sessions/s", "--scale", d+"/good.csv", "--microphone", d+"/mic.wav")
	got := done(t, "export", d+"/sessions", "--lab", d+"/lab", "--out", d+"/tables", "--only", "tables,series_mass", "--form", "json,csv")
	if !strings.Contains(got, "as csv, json") {
		t.Errorf("it says %q", got)
	}
	for _, x := range export.Tables() {
		for _, end := range []string{".csv", ".json"} {
			_, err := os.Stat(filepath.Join(d, "tables", x.Name+end))
			if wanted := !x.Series || x.Name == "series_mass"; (err == nil) != wanted {
				t.Errorf("%s%s is there: %v", x.Name, end, err == nil)
			}
		}
	}
	f, err := os.Open(filepath.Join(d, "tables", "series_mass.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 3 || !slices.Equal(rows[0], []string{"session", "time_s", "utc", "mass_g", "min_g", "max_g"}) {
		t.Errorf("the scale's series is %q (%v)", rows, err)
	}
	got = done(t, "export", d+"/sessions/s", "--form", "wav", "--out", d+"/s.wav")
	in, err1 := os.ReadFile(filepath.Join(d, "mic.wav"))
	out, err2 := os.ReadFile(filepath.Join(d, "s.wav"))
	if err1 != nil || err2 != nil || !strings.HasPrefix(string(out[44:]), string(in[len(in)-2*micHz:])) || !strings.Contains(got, "waveform of ") {
		t.Errorf("%d bytes of sound from %d, %q", len(out), len(in), got)
	}
	help := done(t, "export", "--help")
	for _, x := range export.Tables() {
		if !strings.Contains(help, "  "+x.Name+" ") {
			t.Errorf("the help does not name the table %s", x.Name)
		}
	}
	for _, form := range append([]string{"wav"}, export.Forms...) {
		if !strings.Contains(help, "\n  "+form+" ") || form != "csv" && !strings.Contains(help, "--form "+form) {
			t.Errorf("the help does not show the form %s with an example", form)
		}
	}
}

// TestExportWrong: what is wrong with a command line is told in one line, and nothing is left.
func TestExportWrong(t *testing.T) {
	d := stage(t)
	done(t, "import", "--lab", d+"/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d+"/s", "--scale", d+"/good.csv")
	const tables = "export $/s --lab $/lab --out $/new "
	for _, c := range []struct{ line, want string }{
		{"export $/s --lab $/lab", `found no --out, expected the folder or the WAV file`},
		{"export $/s --out $/new", `--lab names the lab folder`},
		{tables + "--form xls", `--form "xls", expected some of csv, json, parquet, line, or wav`},
		{tables + "--only run", `--only: found table "run", expected tables, series, all, or some of sessions, runs`},
		{tables + "--mass stone", `--mass: found unit of mass "stone", expected one of g, `},
		{tables + "--step 150ms", `--step 150ms, expected whole tenths of a second`},
		{tables + "--run 1", `--run, expected it with --form wav`},
		{"export $/s --lab $/lab --out $/taken", `/taken: found something there already, expected a folder that is not there`},
		{"export $/s --lab $/lab --out $/no/new", `/no: found nothing of that name, expected a folder in which new can be written`},
		{"export $/none --lab $/lab --out $/new", `/none: found nothing of that name, expected a folder of sessions`},
		{"export $/s --form wav --out $/new --lab $/lab", `--lab with --form wav`},
		{"export $/s --form wav,csv --out $/new", `--form wav stands by itself`},
		{"export $/s --form wav --out $/new", `no samples of a microphone`},
		{"export $/s --form wav --out $/new --channel mass", `no samples of "mass"`},
		{"export $/s --form wav --out $/new --run -1", `expected neither below 0`},
		{"export $/none --form wav --out $/new", `/none: found no such folder`},
	} {
		var args []string
		for _, w := range strings.Fields(c.line) {
			args = append(args, strings.ReplaceAll(w, "$", d))
		}
		got := quern(t, args...)
		if got.status != 2 || got.out != "" || strings.Count(got.err, "\n") != 1 || !regexp.MustCompile(c.want).MatchString(got.err) {
			t.Errorf("%s:\n got %d %q %q\nwant %s", c.line, got.status, got.out, got.err, c.want)
		}
		if hidden, _ := filepath.Glob(d + "/.*"); exists(d+"/new") || exists(d+"/no") || len(hidden) > 0 {
			t.Fatalf("%s: something was left: %v", c.line, hidden)
		}
	}
}
