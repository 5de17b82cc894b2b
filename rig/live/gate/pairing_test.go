package gate

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func TestPairing(t *testing.T) {
	dir := t.TempDir()
	h := newHouse(t, Options{Dir: dir})
	c := h.pair("  Alex   Invented ")
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Secure || len(c.Value) != 43 {
		t.Errorf("cookie %+v", c)
	}
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Body.String() != "operator Alex Invented true 0" {
		t.Errorf("the paired browser is told %d %s", w.Code, w.Body)
	}
	if w := h.ask(onNetwork, "POST", "/pair/new", "", cookie(c)); w.Code != 403 {
		t.Errorf("an operator on the network pairs others: %d", w.Code)
	}

	file := filepath.Join(dir, pairingsFile)
	info, err := os.Stat(file)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v %v", info.Mode(), err)
	}
	if b, _ := os.ReadFile(file); strings.Contains(string(b), c.Value) {
		t.Error("the file holds what lets a browser in")
	}
	if left, err := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("left behind: %v %v", left, err)
	}

	again := newHouse(t, Options{Dir: dir})
	if w := again.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 200 {
		t.Errorf("after a restart: %d %s", w.Code, w.Body)
	}
	other := newHouse(t, Options{Dir: t.TempDir()})
	if w := other.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 403 {
		t.Errorf("another daemon takes the cookie: %d", w.Code)
	}
	if n, err := again.Forget("somebody else"); n != 0 || err != nil {
		t.Errorf("forgot %d, %v", n, err)
	}
	if n, err := again.Forget("Alex Invented"); n != 1 || err != nil {
		t.Errorf("forgot %d, %v", n, err)
	}
	for _, g := range []*house{again, newHouse(t, Options{Dir: dir})} {
		if w := g.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 403 {
			t.Errorf("a forgotten cookie is taken: %d", w.Code)
		}
	}
}

func TestLeave(t *testing.T) {
	h := newHouse(t, Options{Dir: t.TempDir()})
	mine, others := h.pair("Alex"), h.pair("Kim")
	r := httptest.NewRequest("POST", "http://"+atHome+"/pair/leave", nil)
	r.AddCookie(mine)
	w := httptest.NewRecorder()
	if err := h.Leave(w, r); err != nil {
		t.Fatal(err)
	}
	if c := w.Result().Cookies()[0]; c.MaxAge >= 0 || c.Value != "" {
		t.Errorf("the browser keeps %+v", c)
	}
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(mine)); w.Code != 403 {
		t.Errorf("a cookie kept from before is taken: %d", w.Code)
	}
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(others)); w.Code != 200 {
		t.Errorf("somebody else left as well: %d", w.Code)
	}
}

func TestPairingEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, Options{})
		c := h.pair("Alex")
		time.Sleep(pairingHolds - time.Hour)
		if w := h.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 200 {
			t.Errorf("an hour before its end: %d", w.Code)
		}
		time.Sleep(2 * time.Hour)
		if w := h.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 403 {
			t.Errorf("an hour after its end: %d", w.Code)
		}
	})
}

// A pairing that was made before the clock was set outlasts that: its end is told from the time that passes.
func TestPairingOutlastsAStep(t *testing.T) {
	s, err := openStore("")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.add("Alex", time.Now()); err != nil {
		t.Fatal(err)
	}
	if until := s.all[0].Until; until == until.Round(0) { // that is without the time that passes
		t.Error("its end is told by the wall clock alone")
	}
}

// A stream that was let in ends when the pairing does.
func TestForgettingEndsStreams(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g, err := New(Options{})
		if err != nil {
			t.Fatal(err)
		}
		var ended error
		h := &house{t, g, g.Handler(g.Allow(Viewer, http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			<-r.Context().Done()
			ended = context.Cause(r.Context())
		})))}
		c := h.pair("Alex")
		go h.ask(onNetwork, "GET", "/watch", "", cookie(c))
		synctest.Wait()
		if ended != nil {
			t.Fatal("the stream ended by itself")
		}
		if _, err := g.Forget(""); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if ended == nil {
			t.Error("the stream goes on")
		}
	})
}

// A file of pairings that is none stops the daemon, and says what to do.
func TestBrokenPairings(t *testing.T) {
	for _, text := range []string{"{", "[null]", `[{"sha256":"x"}]`} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, pairingsFile), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := New(Options{Dir: dir}); err == nil || !strings.Contains(err.Error(), "pair again") {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// A pairing holds even where it cannot be kept, and a forgotten one is forgotten.
func TestPairingOnFullDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gone")
	h := newHouse(t, Options{Dir: dir}) // a folder that is not there cannot be written
	c := h.pair("Alex")
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 200 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if n, err := h.Forget(""); n != 1 || err == nil {
		t.Errorf("forgot %d, %v", n, err)
	}
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(c)); w.Code != 403 {
		t.Errorf("%d", w.Code)
	}
}

func TestPairingsAreBounded(t *testing.T) {
	dir := t.TempDir()
	h := newHouse(t, Options{Dir: dir})
	first := h.pair("first")
	for range pairingsKept {
		if _, err := h.store.add("more", time.Now()); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(filepath.Join(dir, pairingsFile))
	var kept []pairing
	if err != nil || json.Unmarshal(b, &kept) != nil || len(kept) != pairingsKept {
		t.Errorf("%d pairings are kept, %v", len(kept), err)
	}
	if w := h.ask(onNetwork, "POST", "/act", "", cookie(first)); w.Code != 403 {
		t.Errorf("the oldest stays: %d", w.Code)
	}
}
