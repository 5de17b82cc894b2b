package review

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"quern/config"
	"quern/rig/report/series/recorded"
)

var started, later = recorded.Started, recorded.Later

// patterns are folders with a session s, derived and analysed, that tests take copies of.
type patterns struct {
	mu  sync.Mutex
	dir string
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "review")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	shared.dir = dir
	code := m.Run()
	_ = os.RemoveAll(dir) // of no use to anybody
	os.Exit(code)
}

var shared patterns

// made returns the folder of a scenario, made by whoever asks first.
func made(t testing.TB, scenario string) string {
	t.Helper()
	shared.mu.Lock()
	defer shared.mu.Unlock()
	folder := filepath.Join(shared.dir, scenario)
	dir := filepath.Join(folder, "s")
	if _, err := os.Stat(folder); err == nil {
		return folder
	}
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	recorded.Record(t, dir, recorded.Small(t, scenario), true)
	recorded.Keep(t, dir)
	h := New(Options{Dir: folder})
	derive(t, h, "s")
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	return folder
}

// derive waits until the series of a session are there.
func derive(t testing.TB, h *Shelf, name string) {
	t.Helper()
	if err := h.with(t.Context(), name, func(s *Session) error { return s.Wait(t.Context()) }); err != nil {
		t.Fatal(err)
	}
}

// testLab is the demonstration lab, and for units that it does not have, none.
func testLab(t testing.TB) *config.Lab {
	t.Helper()
	lab, err := config.Read(os.DirFS("../../../testdata/lab"))
	if err != nil {
		t.Fatal(err)
	}
	return lab
}

type bytesAt []byte

func (b bytesAt) ReadAt(p []byte, off int64) (int, error) {
	n := copy(p, b[min(off, int64(len(b))):])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}
