package live

import (
	"bytes"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/rig/session"
)

// A session that was cut off says what of its journal was lost and where the recording ended.
func TestRecoverAll(t *testing.T) {
	left := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "plain"))
		b := start(t, d.Setup(), nil, src)
		b.do(Ask{Act: Begin})
		time.Sleep(5 * time.Second)
		if res, err := RecoverAll(b.dir, slog.New(slog.DiscardHandler)); err != nil || len(res) > 0 {
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
	unfinished := filepath.Join(left, ".import.partial-1")
	if err := os.Mkdir(unfinished, 0o755); err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	recovered, err := RecoverAll(left, log)
	if _, err := os.Stat(unfinished); err == nil {
		t.Error("what an import left behind is still there")
	}
	if err != nil || len(recovered) != 1 || recovered[0] != dir {
		t.Fatalf("got %v, %v, want %s", recovered, err, dir)
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
	if again, err := RecoverAll(left, log); err != nil || len(again) > 0 {
		t.Errorf("the second time: got %d sessions, %v, want none", len(again), err)
	}
}

// TestToldOfCutOff: whoever comes back to the bench after a loss of power is told what became of the run, until the
// next session is closed.
func TestToldOfCutOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "plain"))
		b := start(t, d.Setup(), func(o *Options) { o.CutOff = []string{filepath.Join(o.Dir, "the-one-before")} }, src)
		time.Sleep(time.Second)
		const want = "the-one-before: cut off by a loss of power or a crash"
		s := b.engine.Now()
		var screen strings.Builder
		if err := s.Print(&screen); err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(s.Before(), want) || !strings.Contains(screen.String(), want) {
			t.Errorf("told %q, on the screen\n%s", s.Before(), screen.String())
		}
		b.do(Ask{Act: Begin})
		time.Sleep(time.Second)
		b.do(Ask{Act: End})
		if s := b.engine.Now(); s.Before() != "" {
			t.Errorf("after the next session: %q", s.Before())
		}
		b.stop()
	})
}

// TestDiskComesBack: while no session can be opened the log says so once and the status all along; once one can be,
// the run that goes on is recorded, and the status has nothing to complain of.
func TestDiskComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, src := simulatedSource(t, light(t, "plain"))
		var log bytes.Buffer
		b := start(t, d.Setup(), func(o *Options) { o.Log = slog.New(slog.NewTextHandler(&log, nil)) }, src)
		if err := os.Rename(b.dir, b.dir+"-away"); err != nil {
			t.Fatal(err)
		}
		for range 300 {
			if time.Sleep(100 * time.Millisecond); b.engine.Now().Fault != "" {
				break
			}
		}
		time.Sleep(3 * time.Second)
		if s := b.engine.Now(); s.Ready || !strings.Contains(s.Caution+s.Fault, "a folder that cannot be written to (no such file or directory)") {
			t.Errorf("without a folder: ready %v, fault %q, want the reason", s.Ready, s.Fault)
		}
		if err := os.Rename(b.dir+"-away", b.dir); err != nil {
			t.Fatal(err)
		}
		time.Sleep(7 * time.Second)
		if s := b.engine.Now(); s.Session == "" || s.Fault != "" {
			t.Errorf("with the folder back: session %q, fault %q, want one that records", s.Session, s.Fault)
		}
		b.stop()
		if n := strings.Count(log.String(), "recording stopped"); n != 1 {
			t.Errorf("the log says %d times that recording stopped, want once", n)
		}
	})
}

// TestDiskThatKeepsFailing: one that takes the beginning of a session and then no more is not covered with beginnings.
func TestDiskThatKeepsFailing(t *testing.T) {
	d, src := simulatedSource(t, light(t, "plain"))
	now := time.Unix(0, 0)
	sup, err := acquire.New(func() time.Time { return now }, now, []acquire.Source{src})
	if err != nil {
		t.Fatal(err)
	}
	e, err := New(sup, Options{Dir: t.TempDir(), Setup: d.Setup()})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []float64{1, 2, 4, 8, 16, 16} {
		e.broken(errors.New("input/output error"))
		if e.pauseS != want {
			t.Errorf("the next try is %g s later, want %g", e.pauseS, want)
		}
	}
	if e.open(0, "it is better"); e.rec == nil || e.tot.fault != "" {
		t.Fatalf("no session once the disk takes one: %s", e.tot.fault)
	}
	if err := e.close("done"); err != nil || e.pauseS != 0 {
		t.Errorf("a session was kept (%v), and the next try is still %g s later", err, e.pauseS)
	}
}
