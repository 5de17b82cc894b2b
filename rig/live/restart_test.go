package live

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig/session"
)

// A session that was cut off says what of its journal was lost and where the recording ended, and is
// analysed once: whoever scores it finds the analysis.
func TestRecoverAll(t *testing.T) {
	left := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "plain"))
		b := start(t, d.Setup(), nil, src)
		b.do(Ask{Act: Begin})
		time.Sleep(5 * time.Second)
		if res, err := RecoverAll(b.dir, "quern test", slog.New(slog.DiscardHandler)); err != nil || len(res) > 0 {
			t.Errorf("beside a daemon that records: got %d results, %v, want its session left alone", len(res), err)
		}
		if err := os.CopyFS(left, os.DirFS(b.dir)); err != nil { // as the disk is at this instant
			t.Fatal(err)
		}
		b.stop()
	})
	all, err := filepath.Glob(filepath.Join(left, "*"))
	if err != nil || len(all) != 1 {
		t.Fatalf("got %v, %v, want one session", all, err)
	}
	dir := all[0]
	journal, err := os.OpenFile(filepath.Join(dir, "journal.lp"), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = journal.WriteString("mark text=\"half a li")
	if cerr := journal.Close(); err != nil || cerr != nil {
		t.Fatal(err, cerr)
	}
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	res, err := RecoverAll(left, "quern test", log)
	if err != nil || len(res) != 1 {
		t.Fatalf("got %d results, %v, want one", len(res), err)
	}
	s, err := session.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, w := range s.Warnings() {
		said = append(said, w.Code+": "+w.Text)
	}
	text := strings.Join(said, "\n")
	for _, want := range []string{session.Interrupted + ": ", "what of its journal did not prove itself stands in journal.torn-1, 20 bytes", "cut-off: the recording was cut off at "} {
		if !strings.Contains(text, want) {
			t.Errorf("got warnings\n%s\nwant %q among them", text, want)
		}
	}
	a, err := session.LoadAnalysis(dir, session.AnalysisKey(s.Setup().ForAnalysis()))
	if err != nil || a.Tool != "quern test" || len(a.Result.Warnings) != len(res[0].Warnings) {
		t.Errorf("got an analysis by %q with %d warnings, %v, want the one that was returned", a.Tool, len(a.Result.Warnings), err)
	}
	if again, err := RecoverAll(left, "quern test", log); err != nil || len(again) > 0 {
		t.Errorf("the second time: got %d results, %v, want none", len(again), err)
	}
}
