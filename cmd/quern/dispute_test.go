package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDispute: whoever has a session's folder and nothing else can check the verdict, by the gates of the day it was
// recorded, and is told where something in it was tampered with.
func TestDispute(t *testing.T) {
	dir, lab, _ := campaignStage(t)
	ses := filepath.Join(dir, "one")
	done(t, "import", "--lab", lab, "--unit", "unit-c", "--procedure", "mixed", "--out", ses, "--clamp", put(t, dir, "clamp.csv", rmsTable()), "--start", "2026-03-01T10:00:00Z")
	for _, w := range []string{"--role charge --net 2500", "--role chamber --net 60 --drained 120", "--role coarse --net 0 --drained 120", "--role fine --net 90 --drained 120"} {
		doneOn(t, "2026-03-01", append([]string{"weigh", ses, "--who", "ann"}, strings.Fields(w)...)...)
	}
	const pass, fail = "left_share at most 5.00 %: pass", "left_share at most 1.00 %: fail"
	if out := doneOn(t, "2026-03-02", "score", ses, "--lab", lab); !strings.Contains(out, pass) || strings.Contains(out, "kept in the session") {
		t.Fatalf("on the day:\n%s", out)
	}
	procedure := filepath.Join(lab, "procedures", "mixed.toml")
	b, err := os.ReadFile(procedure)
	if err != nil {
		t.Fatal(err)
	}
	put(t, lab, "procedures/mixed.toml", strings.Replace(string(b), "measure = \"left_share\"\nlimit = 0.05", "measure = \"left_share\"\nlimit = 0.01", 1))
	if out := doneOn(t, "2026-06-01", "score", ses, "--lab", lab); !strings.Contains(out, fail) {
		t.Fatalf("by the lab's new limit:\n%s", out)
	}
	elsewhere := filepath.Join(t.TempDir(), "lent")
	if err := os.CopyFS(elsewhere, os.DirFS(ses)); err != nil {
		t.Fatal(err)
	}
	if out := doneOn(t, "2026-06-01", "score", elsewhere); !strings.Contains(out, pass) || !strings.Contains(out, "\njudged by the procedure kept in the session\n") || !strings.Contains(out, "facts and settings SHA-256 ") {
		t.Errorf("by the rules of then:\n%s", out)
	}
	if out := doneOn(t, "2026-06-01", "explain", "unit-c", elsewhere); !strings.Contains(out, "left_share at most 5 %") || !strings.Contains(out, "manifest SHA-256") {
		t.Errorf("explained by the rules of then:\n%s", out)
	}
	doneOn(t, "2026-06-01", "report", elsewhere, "--out", filepath.Join(dir, "page"))
	for _, args := range [][]string{{"score", dir}, {"score", elsewhere, ses}, {"standings", elsewhere}, {"score", elsewhere, "--settings", "lab"}} {
		if s := on(t, "2026-06-01", args...); s.status != 2 || !strings.Contains(s.err, "--lab") {
			t.Errorf("quern %s: %+v, want that it asks for a lab", strings.Join(args, " "), s)
		}
	}

	// The unit may have been the wrong one: its code is in the correction, its nameplate is not.
	other := filepath.Join(t.TempDir(), "other")
	if err := os.CopyFS(other, os.DirFS(ses)); err != nil {
		t.Fatal(err)
	}
	doneOn(t, "2026-03-02", "correct", other, "--target", "unit", "--new", "unit-a", "--why", "the wrong one was chosen", "--who", "ann")
	if out := doneOn(t, "2026-06-01", "score", other); !strings.Contains(out, "unit-a under mixed") || !strings.Contains(out, pass) {
		t.Errorf("of another unit:\n%s", out)
	}
	if out := doneOn(t, "2026-06-01", "explain", "unit-a", other); !strings.Contains(out, "left_share at most 5 %") {
		t.Errorf("of another unit, explained:\n%s", out)
	}
	if out := doneOn(t, "2026-06-01", "explain", "unit-c", other); !strings.Contains(out, "no run") {
		t.Errorf("of the unit that it was not:\n%s", out)
	}
	doneOn(t, "2026-06-01", "report", other, "--out", filepath.Join(dir, "page"))
	doneOn(t, "2026-03-03", "correct", other, "--target", "procedure", "--new", "fish-frames", "--why", "the wrong one was chosen", "--who", "ann")
	for _, args := range [][]string{{"score", other}, {"report", other, "--out", filepath.Join(dir, "page")}, {"explain", "unit-a", other}} {
		if s := on(t, "2026-06-01", args...); s.status != 2 || !strings.Contains(s.err, "fish-frames") || !strings.Contains(s.err, "by the lab's rules: --lab LAB") {
			t.Errorf("quern %s of a session under a procedure that it does not keep: %+v", strings.Join(args, " "), s)
		}
	}

	// A correction that a damaged end hides would turn the verdict: it is not passed over in silence.
	doneOn(t, "2026-06-01", "correct", elsewhere, "--target", "void", "--new", "rig", "--why", "the tap was forgotten", "--who", "ann")
	if out := doneOn(t, "2026-06-01", "score", elsewhere); !strings.Contains(out, ": void") {
		t.Errorf("once it is void:\n%s", out)
	}
	addenda := filepath.Join(elsewhere, "addenda.lp")
	if b, err = os.ReadFile(addenda); err != nil {
		t.Fatal(err)
	}
	put(t, elsewhere, "addenda.lp", strings.Replace(string(b), "the tap was", "the lid was", 1))
	s := on(t, "2026-06-01", "score", elsewhere)
	if s.status != 0 || !strings.Contains(s.err, "is damaged, and what comes of it may be wrong") || !strings.Contains(s.out, "note: the session is damaged") {
		t.Errorf("with a damaged end: %+v", s)
	}
}
