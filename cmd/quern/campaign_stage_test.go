package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// on runs a command line on a day.
func on(t testing.TB, day string, args ...string) said {
	t.Helper()
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	status := run(context.Background(), env{args: args, out: &out, err: &errs, now: func() time.Time { return at.Add(12 * time.Hour) }})
	return said{status, out.String(), errs.String()}
}

// doneOn is on for what must succeed.
func doneOn(t testing.TB, day string, args ...string) string {
	t.Helper()
	s := on(t, day, args...)
	if s.status != 0 || s.err != "" {
		t.Fatalf("quern %s: status %d, standard error %q", strings.Join(args, " "), s.status, s.err)
	}
	return s.out
}

// secret is a public name that no output may show before its day.
const secret = "Invented Grand Mill"

// campaignStage is a lab like the example's with a campaign of results taken by hand: four units, three
// procedures, three runs each.
func campaignStage(t testing.TB) (dir, lab, sessions string) {
	t.Helper()
	dir = t.TempDir()
	lab, sessions = filepath.Join(dir, "lab"), filepath.Join(dir, "sessions")
	if err := os.CopyFS(lab, os.DirFS("../../testdata/lab")); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(lab, "units.toml"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, lab, "units.toml", strings.Replace(string(b), `name = "invented unit B"`, `name = "`+secret+"\"\nrelease = \"2026-12-01\"", 1))
	var table strings.Builder
	table.WriteString("unit,procedure,date,who,note,run_time_s,left_share,coarse_share,fine_share,sizeable_share,trips,laeq_db,la10_db\n")
	for u, unit := range []string{"unit-a", "unit-b", "unit-c", "unit-d"} {
		for p, procedure := range []string{"mixed", "fish-frames", "poultry-bones"} {
			for n := range 3 {
				fmt.Fprintf(&table, "%s,%s,2026-0%d-%02d,ann,invented,%.1f,%.4f,%.4f,%.4f,%.4f,%d,%.1f,%.1f\n", unit, procedure, n+1, 1+4*p+u,
					100-15*float64(u)+3*float64(n), 0.03-0.006*float64(u)+0.001*float64(n), 0.008, 0.08, 0.088, 0, 80-2.5*float64(u)+0.5*float64(n), 84-2.5*float64(u))
			}
		}
	}
	done(t, "import", "--lab", lab, "--table", put(t, dir, "old.csv", table.String()), "--out", sessions)
	return dir, lab, sessions
}

type standingsOut struct {
	Lines []struct {
		Place   int
		Unit    string
		Shown   string
		Overall *float64
		Tests   []struct {
			Test, Outcome string
			Points        *float64
		}
	} `json:"standings"`
	Rules []string
}

func standingsOf(t testing.TB, args ...string) standingsOut {
	t.Helper()
	var out standingsOut
	if err := json.Unmarshal([]byte(doneOn(t, "2026-11-25", append([]string{"standings", "--json"}, args...)...)), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

var update = flag.Bool("update", false, "write the golden files anew")
