package main

import (
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// words returns what a page says, without its style, plots and markup.
func words(t *testing.T, page string) string {
	t.Helper()
	b, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	text = text[strings.Index(text, "<main"):]
	text = regexp.MustCompile(`(?s)<svg.*?</svg>`).ReplaceAllString(text, "")
	text = regexp.MustCompile(`(?s)<nav.*?</nav>`).ReplaceAllString(text, "")
	text = regexp.MustCompile(`<span class="together">([^<]*)</span>`).ReplaceAllString(strings.ReplaceAll(text, "\u00a0", " "), "$1")
	text = regexp.MustCompile(`</(p|li|tr|h[1-4]|dt|dd|figcaption|summary)>`).ReplaceAllString(text, "\n")
	text = regexp.MustCompile(`</(td|th|span)>`).ReplaceAllString(text, "  ")
	text = html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(text, ""))
	text, _, _ = strings.Cut(text, "What it can be checked by\n")
	var lines []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(regexp.MustCompile(`[ \t]+`).ReplaceAllString(line, " ")); line != "" && !strings.Contains(line, "SHA-256") {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// written returns the names and all bytes below a folder.
func written(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	if err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all.WriteString(path + "\n" + string(b))
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return all.String()
}

// asBefore holds a text to what testdata has of it.
func asBefore(t *testing.T, file, got string) {
	t.Helper()
	path := filepath.Join("testdata", file)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs (go test -update writes it anew); got:\n%s", file, got)
	}
}

func TestReportOfACampaign(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	out := filepath.Join(t.TempDir(), "report")
	said := doneOn(t, "2026-06-01", "report", "unit-b", "--lab", lab, "--out", out, sessions)
	if !strings.HasPrefix(said, filepath.Join(out, "unit-b.html")+": unit-b: report, and 3 plots beside it") {
		t.Errorf("it says %q", said)
	}
	doneOn(t, "2026-06-01", "report", "standings", "--lab", lab, "--out", out, "--against", "2026-02-20", sessions)
	one, err := filepath.Glob(filepath.Join(sessions, "*unit-b*"))
	if err != nil || len(one) != 9 {
		t.Fatalf("%d sessions, %v", len(one), err)
	}
	doneOn(t, "2026-06-01", "report", one[0], "--lab", lab, "--out", out)
	if strings.Contains(written(t, out), secret) {
		t.Error("the name is told before its day")
	}
	asBefore(t, "report-unit.txt", words(t, filepath.Join(out, "unit-b.html")))
	asBefore(t, "report-standings.txt", words(t, filepath.Join(out, "standings.html")))

	before := filepath.Join(t.TempDir(), "report")
	for _, what := range []string{"unit-b", "standings"} {
		doneOn(t, "2026-06-01", "report", what, "--lab", lab, "--out", before, "--as-of", "2025-12-31", sessions)
	}
	if all := written(t, before); !strings.Contains(all, "No points") || !strings.Contains(all, "There is no run.") {
		t.Error("before the first run a page says so")
	}

	later := filepath.Join(t.TempDir(), "report")
	doneOn(t, "2026-12-01", "report", "unit-b", "--lab", lab, "--out", later, "--others", "masked", sessions)
	all := written(t, later)
	if !strings.Contains(all, secret) || strings.Contains(all, "unit-a") {
		t.Error("from its day on the name is told, and on a masked page no other code")
	}
}

// Without a browser the page is made all the same, and a sentence says how to print it.
func TestReportWithoutBrowser(t *testing.T) {
	_, lab, sessions := campaignStage(t)
	t.Setenv("PATH", t.TempDir())
	out := filepath.Join(t.TempDir(), "report")
	said := doneOn(t, "2026-06-01", "report", "unit-a", "--lab", lab, "--out", out, "--pdf", sessions)
	if !strings.Contains(said, "No PDF: there is no Chromium on the PATH. Open ") {
		t.Errorf("it says %q", said)
	}
	if _, err := os.Stat(filepath.Join(out, "unit-a.html")); err != nil {
		t.Error(err)
	}
}

func TestReportRefuses(t *testing.T) {
	dir, lab, sessions := campaignStage(t)
	out := filepath.Join(dir, "out")
	one, err := filepath.Glob(filepath.Join(sessions, "*unit-b*"))
	if err != nil || len(one) == 0 {
		t.Fatal(err)
	}
	put(t, dir, "file", "")
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"no lab", []string{"unit-a", "--out", out, sessions}, "--lab names the lab folder"},
		{"no folder for it", []string{"unit-a", "--lab", lab, sessions}, "report: --out is missing"},
		{"no sessions", []string{"unit-a", "--lab", lab, "--out", out}, "found no folder of sessions after \"unit-a\""},
		{"no such unit", []string{"unit-x", "--lab", lab, "--out", out, sessions}, "expected standings, a session's own folder, or a unit that is scored: unit-a, unit-b, unit-c, unit-d"},
		{"no such folder", []string{"unit-a", "--lab", lab, "--out", out, dir + "/none"}, "expected a folder of sessions"},
		{"too many", []string{one[0], "--lab", lab, "--out", out, sessions}, "expected nothing"},
		{"others", []string{"unit-a", "--lab", lab, "--out", out, "--others", "hidden", sessions}, `found --others "hidden", expected shown or masked`},
		{"mass", []string{"unit-a", "--lab", lab, "--out", out, "--mass", "lb", sessions}, `found --mass "lb", expected g or oz`},
		{"paper", []string{"unit-a", "--lab", lab, "--out", out, "--paper", "a3", sessions}, `found --paper "a3", expected a4 or letter`},
		{"against", []string{"unit-a", "--lab", lab, "--out", out, "--against", lab, sessions}, "expected it with standings"},
		{"masked standings", []string{"standings", "--lab", lab, "--out", out, "--others", "masked", sessions}, "expected it with a unit"},
		{"out is a file", []string{"unit-a", "--lab", lab, "--out", dir + "/file", sessions}, "expected a folder that can be written to"},
		{"json", []string{"unit-a", "--lab", lab, "--out", out, "--json", sessions}, "found --json, expected it with score"},
		{"nothing", nil, "usage: quern report"},
	} {
		s := on(t, "2026-06-01", append([]string{"report"}, c.args...)...)
		if s.status != 2 || !strings.Contains(s.err, c.want) || strings.Count(s.err, "\n") != 1 {
			t.Errorf("%s: status %d, %q, want 2 and %q in one line", c.name, s.status, s.err, c.want)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("something was left behind")
	}
}
