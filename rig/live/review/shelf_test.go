package review

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"quern/config"
	"quern/rig/report/series"
	"quern/rig/report/series/recorded"
)

// shelfOf is a shelf over a folder with the demonstration lab, on which everybody is an operator named ann.
func shelfOf(t testing.TB, folder string, change func(*Options)) *Shelf {
	t.Helper()
	lab := testLab(t)
	o := Options{Dir: folder, Tool: "quern test", Now: func() time.Time { return later }, Lab: func() *config.Lab { return lab }}
	if change != nil {
		change(&o)
	}
	h := New(o)
	t.Cleanup(func() {
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	})
	return h
}

// TestOnceForAll: many ask at once for a session that was never derived; everything is made once, and all
// come to the same.
func TestOnceForAll(t *testing.T) {
	folder := t.TempDir()
	dir := filepath.Join(folder, "s")
	recorded.Record(t, dir, recorded.Small(t, "stall-and-trip"), true)
	var mu sync.Mutex
	changed := 0
	h := shelfOf(t, folder, func(o *Options) {
		o.Changed = func(string) { mu.Lock(); changed++; mu.Unlock() }
	})
	var all sync.WaitGroup
	sessions := map[*Session]bool{}
	for i := range 24 {
		all.Add(1)
		go func() {
			defer all.Done()
			err := h.with(t.Context(), "s", func(s *Session) error {
				mu.Lock()
				sessions[s] = true
				mu.Unlock()
				for _, c := range s.Channels() {
					if c == series.ThirdOctaves {
						if _, err := s.Octaves(t.Context(), 0, 60, 100); err != nil {
							return err
						}
						continue
					}
					e, err := s.Envelope(t.Context(), c, float64(i), float64(i)+10, 100)
					if err != nil {
						return err
					}
					if !(e.Progress > 0 || c != series.Waveform) || e.Progress > 1 {
						return fmt.Errorf("progress %g", e.Progress)
					}
				}
				return s.Wait(t.Context())
			})
			if err == nil {
				_, err = h.Result(t.Context(), "s")
			}
			if err != nil {
				t.Error(err)
			}
		}()
	}
	all.Wait()
	if len(sessions) != 1 {
		t.Errorf("the session was opened %d times", len(sessions))
	}
	for {
		r, err := h.Result(t.Context(), "s")
		if err != nil {
			t.Fatal(err)
		}
		if r.Analysis.Progress.V == 1 {
			if len(r.Runs) != 1 || r.Derived.V != 1 {
				t.Errorf("%d runs, derived %g", len(r.Runs), r.Derived.V)
			}
			break
		}
	}
	made, err := filepath.Glob(filepath.Join(dir, "analyses", "*.json"))
	if err != nil || len(made) != 1 {
		t.Errorf("%d analyses were kept (%v), want 1", len(made), err)
	}
	if kept, err := filepath.Glob(filepath.Join(folder, series.CacheName, "*.bin")); err != nil || len(kept) != 1 {
		t.Error("not one cache file")
	}
	if err := h.Close(); err != nil {
		t.Error(err)
	}
	if mu.Lock(); changed != 1 {
		t.Errorf("told of %d changes, want 1: the analysis", changed)
	}
	mu.Unlock()
}

// TestShelfIsBounded: what was used longest ago goes, what is in use stays, a session that was replaced is
// opened again.
func TestShelfIsBounded(t *testing.T) {
	folder := t.TempDir()
	for i := range 5 {
		recorded.Tone(t, filepath.Join(folder, fmt.Sprintf("s%d", i)), 1)
	}
	h := shelfOf(t, folder, nil)
	nothing := func(s *Session) error { return s.Wait(t.Context()) }
	held := make(chan struct{})
	got := make(chan error)
	go func() {
		got <- h.with(t.Context(), "s0", func(s *Session) error {
			held <- struct{}{}
			<-held
			_, err := s.Envelope(t.Context(), series.Waveform, 0, 1, 10)
			return err
		})
	}()
	<-held
	for i := 1; i < 5; i++ {
		if err := h.with(t.Context(), fmt.Sprintf("s%d", i), nothing); err != nil {
			t.Fatal(err)
		}
	}
	open := func() string {
		h.mu.Lock()
		defer h.mu.Unlock()
		return strings.Join(slices.Sorted(maps.Keys(h.books)), " ")
	}
	if o := open(); o != "s0 s3 s4" {
		t.Errorf("open are %s, want s0, which is in use, s3 and s4", o)
	}
	held <- struct{}{}
	if err := <-got; err != nil {
		t.Error(err)
	}
	dir := filepath.Join(folder, "s4")
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := h.with(t.Context(), "s4", nothing); statusOf(err) != 404 {
		t.Errorf("a session that has gone: %v", err)
	}
	recorded.Tone(t, dir, 7)
	err := h.with(t.Context(), "s4", func(s *Session) error {
		if s.Seconds() != 13 {
			t.Errorf("the new session lasts %g s, want 13", s.Seconds())
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	if err := h.Close(); err != nil {
		t.Error(err)
	}
	if err := h.with(t.Context(), "s0", nothing); statusOf(err) != 503 {
		t.Errorf("after Close: %v", err)
	}
}

// TestNamesAreNoPaths: only what the folder lists is a session.
func TestNamesAreNoPaths(t *testing.T) {
	top := t.TempDir()
	folder := filepath.Join(top, "sessions")
	for _, d := range []string{"sessions", "sessions/empty", "sessions/.hidden"} {
		if err := os.Mkdir(filepath.Join(top, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	recorded.Tone(t, filepath.Join(top, "outside"), 1)
	recorded.Tone(t, filepath.Join(folder, "s"), 1)
	recorded.Tone(t, filepath.Join(folder, ".hidden", "deep"), 1)
	if err := os.Symlink(filepath.Join(top, "outside"), filepath.Join(folder, "link")); err != nil {
		t.Fatal(err)
	}
	h := shelfOf(t, folder, nil)
	for _, name := range []string{"", ".", "..", "../outside", "s/../../outside", "s/", "/s", "S", "link", "empty", ".hidden", ".hidden/deep", "s\x00", filepath.Join(top, "outside"), strings.Repeat("x", 1000)} {
		if err := h.with(t.Context(), name, func(*Session) error { return nil }); statusOf(err) != 404 {
			t.Errorf("%.40q: %v, want a fault of 404", name, err)
		}
	}
	for _, path := range []string{"..%2foutside", "%2e%2e%2foutside", "s%2f..%2f..%2foutside", "link", "%00"} {
		w := httptest.NewRecorder()
		h.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/sessions/"+path+"/result", nil))
		if w.Code != 404 {
			t.Errorf("%s: %d %s", path, w.Code, w.Body)
		}
	}
	if err := h.with(t.Context(), "s", func(*Session) error { return nil }); err != nil {
		t.Error(err)
	}
}

// TestAlign gives the motor's start, by which two runs are laid over each other.
func TestAlign(t *testing.T) {
	folder := t.TempDir()
	dir := filepath.Join(folder, "s")
	recorded.Record(t, dir, recorded.Small(t, "two-runs"), false)
	res := recorded.Keep(t, dir)
	h := shelfOf(t, folder, nil)
	derive(t, h, "s") // until then series tell what there is
	if len(res.Runs) != 2 {
		t.Fatalf("%d runs, want 2", len(res.Runs))
	}
	for i := range res.Runs {
		at, err := h.Align(t.Context(), "s", i+1)
		if err != nil || at != res.Runs[i].StartS.V {
			t.Errorf("run %d starts at %g (%v), want %g", i+1, at, err, res.Runs[i].StartS.V)
		}
	}
	if _, err := h.Align(t.Context(), "s", 3); statusOf(err) != 404 {
		t.Errorf("run 3: %v", err)
	}
	var by [2]struct {
		From float64    `json:"from_s"`
		Min  []*float64 `json:"min"`
		Max  []*float64 `json:"max"`
	}
	for i, query := range []string{"run=2&from=-1&to=2", fmt.Sprintf("from=%.9f&to=%.9f", res.Runs[1].StartS.V-1, res.Runs[1].StartS.V+2)} {
		w := httptest.NewRecorder()
		h.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/sessions/s/series?channel=rms&points=30&"+query, nil))
		if err := json.Unmarshal(w.Body.Bytes(), &by[i]); err != nil || len(by[i].Max) != 30 {
			t.Fatal(w.Code, w.Body, err)
		}
	}
	if by[0].From != -1 {
		t.Errorf("aligned, it begins at %g s, want -1", by[0].From)
	}
	for k := range by[0].Max {
		if a, b := by[0].Max[k], by[1].Max[k]; (a == nil) != (b == nil) || a != nil && *a != *b {
			t.Errorf("column %d differs", k)
		}
	}
	if *by[0].Max[8] > 1 || *by[0].Max[15] < 3 {
		t.Errorf("current before and after the start: %g and %g A", *by[0].Max[8], *by[0].Max[15])
	}
}
