package pages

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig"
	"quern/rig/live/gate"
)

const (
	onNetwork = "192.0.2.20:51000" // RFC 5737: an address of no machine
	onMachine = "127.0.0.1:51000"
)

// What may be asked for, and by whom, stands here a second time: a page that is open by mistake differs.
func TestEveryPageHasItsRole(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	unusual := map[string]gate.Role{
		"GET /health": gate.Anyone, "GET /assets/{name}": gate.Anyone, "POST /theme": gate.Anyone,
		"GET /pair": gate.Anyone, "POST /pair": gate.Anyone, "POST /pair/leave": gate.Anyone,
		"POST /pair/new": gate.Console, "POST /pair/forget": gate.Console,
		"POST /sessions/{name}/what-if": gate.Operator, // keeps nothing, but takes a core
	}
	for _, p := range h.pages() {
		want := gate.Operator
		if strings.HasPrefix(p.pattern, "GET ") {
			want = gate.Viewer
		}
		if u, ok := unusual[p.pattern]; ok {
			want = u
		}
		if p.least != want {
			t.Errorf("%s is for %s, want %s", p.pattern, p.least, want)
		}
		target := strings.NewReplacer("{name}", "x", "{$}", "").Replace(p.pattern)
		method, path, _ := strings.Cut(target, " ")
		if code := h.ask(onNetwork, method, path, "").Code; (code == 401 || code == 403) != (p.least > gate.Anyone) && p.pattern != "POST /pair" {
			t.Errorf("%s from the network: %d", p.pattern, code)
		}
	}
}

func TestNoSuchPage(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	for target, c := range map[string]struct {
		method string
		status int
	}{
		"/nothing": {"GET", 404}, "/status": {"POST", 405}, "/act": {"GET", 405}, "/assets/": {"GET", 404}, "/assets/none.js": {"GET", 404},
		"/assets/..%2fserver.go": {"GET", 404}, "/assets/.keep": {"GET", 404}, "/sessions/..%2f..%2fetc%2fpasswd": {"GET", 404}, "/sessions/.pairings.json": {"GET", 404},
		"/sessions/%00": {"GET", 404}, "/sessions/../status%2f": {"GET", 307},
	} {
		for _, change := range [][]func(*http.Request){nil, {browser}} {
			w := h.ask(onMachine, c.method, target, "", change...)
			if w.Code != c.status && !(c.status == 307 && w.Code == 404) {
				t.Errorf("%s %s: %d, want %d", c.method, target, w.Code, c.status)
			}
			if w.Code == 405 && w.Header().Get("Allow") == "" {
				t.Errorf("%s does not say what it is for", target)
			}
			if strings.Contains(w.Body.String(), "root:") {
				t.Errorf("%s leads out of the folder", target)
			}
		}
	}
	if w := h.ask(onMachine, "GET", "/nothing", "", browser); !strings.Contains(w.Body.String(), "<h1>Not Found</h1>") {
		t.Errorf("a browser is told %s", w.Body)
	}
	if w := h.ask(onMachine, "GET", "/nothing", ""); strings.Contains(w.Body.String(), "<") {
		t.Errorf("a program is told %s", w.Body)
	}
}

func TestAssets(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	at := h.assets.url("base.css")
	if at == "" {
		t.Fatal("no style sheet is embedded")
	}
	plain := h.ask(onNetwork, "GET", at, "")
	if plain.Code != 200 || !strings.Contains(plain.Header().Get("Cache-Control"), "immutable") || !strings.HasPrefix(plain.Header().Get("Content-Type"), "text/css") {
		t.Errorf("%d %v", plain.Code, plain.Header())
	}
	small := h.ask(onNetwork, "GET", at, "", func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip, br") })
	z, err := gzip.NewReader(small.Body)
	if err != nil {
		t.Fatal(err)
	}
	unpacked, err := io.ReadAll(z)
	if err != nil || !bytes.Equal(unpacked, plain.Body.Bytes()) {
		t.Errorf("compressed it is something else: %v", err)
	}
	for _, target := range []string{"/assets/base.css", "/assets/base.css?h=000000000000"} {
		if cc := h.ask(onNetwork, "GET", target, "").Header().Get("Cache-Control"); cc != "no-cache" {
			t.Errorf("%s is kept: %q", target, cc)
		}
	}
	w := h.ask(onNetwork, "GET", "/assets/base.css", "", func(r *http.Request) { r.Header.Set("If-None-Match", plain.Header().Get("ETag")) })
	if w.Code != 304 || w.Body.Len() != 0 {
		t.Errorf("what the browser has is sent again: %d", w.Code)
	}
}

func TestTheme(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	form := func(theme, back string) string { return url.Values{"theme": {theme}, "back": {back}}.Encode() }
	w := h.ask(onNetwork, "POST", "/theme", form("dark", "/air?format=9x16"))
	if w.Code != 303 || w.Header().Get("Location") != "/air?format=9x16" {
		t.Errorf("%d %s", w.Code, w.Header().Get("Location"))
	}
	page := h.ask(onMachine, "GET", "/pair", "", browser, with(w.Result().Cookies()[0])).Body.String()
	if !strings.Contains(page, `<html lang="en" data-theme="dark">`) {
		t.Error("the page is not dark")
	}
	w = h.ask(onNetwork, "POST", "/theme", form("device", "/"))
	if c := w.Result().Cookies()[0]; c.MaxAge >= 0 {
		t.Errorf("the choice is not taken back: %+v", c)
	}
	for _, back := range []string{"//elsewhere.example/", "https://elsewhere.example/", `/\elsewhere.example`, "javascript:alert(1)", "", "/\r\nX: y", "/\t/elsewhere.example"} {
		if at := h.ask(onNetwork, "POST", "/theme", form("light", back)).Header().Get("Location"); at != "/" {
			t.Errorf("%q leads to %q", back, at)
		}
	}
	odd := h.ask(onMachine, "GET", "/pair", "", browser, with(&http.Cookie{Name: themeCookie, Value: `x" onload="y`})).Body.String()
	if strings.Contains(odd, "data-theme") {
		t.Error("any theme is believed")
	}
}

func TestPairByForm(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	if w := h.ask(onNetwork, "GET", "/pair", "", browser); w.Code != 200 || !strings.Contains(w.Body.String(), "No code holds now") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	var code Code
	if err := json.Unmarshal(h.ask(onMachine, "POST", "/pair/new", "").Body.Bytes(), &code); err != nil {
		t.Fatal(err)
	}
	form := func(code, name string) string { return url.Values{"code": {code}, "name": {name}}.Encode() }
	w := h.ask(onNetwork, "POST", "/pair", form("12345", `<b>"Alex"`), browser)
	if w.Code != 403 || !strings.Contains(w.Body.String(), "this is not the code") || strings.Contains(w.Body.String(), "<b>") || len(w.Result().Cookies()) != 0 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	if w := h.ask(onNetwork, "POST", "/pair", form(code.Code, " "), browser); w.Code != 403 || !strings.Contains(w.Body.String(), "a name of 1 to 40 letters") {
		t.Errorf("without a name: %d", w.Code)
	}
	w = h.ask(onNetwork, "POST", "/pair", form(code.Code, "Alex"), browser)
	if w.Code != 303 || len(w.Result().Cookies()) != 1 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	c := with(w.Result().Cookies()[0])
	if w := h.ask(onNetwork, "GET", "/pair", "", browser, c); !strings.Contains(w.Body.String(), "<strong>Alex</strong>") {
		t.Errorf("%s", w.Body)
	}
	if w := h.ask(onNetwork, "GET", "/status", "", c); w.Code != 200 {
		t.Errorf("an operator may not watch: %d", w.Code)
	}
	var gone Forgotten
	if err := json.Unmarshal(h.ask(onMachine, "POST", "/pair/forget", `{"who":""}`).Body.Bytes(), &gone); err != nil || gone.Pairings != 1 {
		t.Errorf("%+v %v", gone, err)
	}
	if w := h.ask(onNetwork, "GET", "/status", "", c); w.Code != 401 {
		t.Errorf("a forgotten browser watches: %d", w.Code)
	}
	if w := h.ask(onNetwork, "POST", "/pair/forget", `{}`); w.Code != 403 {
		t.Errorf("the network forgets pairings: %d", w.Code)
	}
}

// An act stands in the record under the name that was given when pairing, whatever the request says.
func TestActsSayWho(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, gate.Options{}, true)
		defer h.stop()
		time.Sleep(20 * time.Second) // of the bubble; a session is open
		code, _ := h.gate.Code()
		w := h.ask(onNetwork, "POST", "/pair", url.Values{"code": {code}, "name": {"Alex"}}.Encode())
		mark := func(peer, text, who string, change ...func(*http.Request)) {
			if got := h.ask(peer, "POST", "/act", `{"act":"mark","text":"`+text+`"`+who+`}`, change...); got.Code != 200 {
				t.Errorf("%d %s", got.Code, got.Body)
			}
		}
		mark(onNetwork, "paired", `,"who":"Kim"`, with(w.Result().Cookies()[0]))
		mark(onMachine, "believed", `,"who":"Kim"`)
		mark(onMachine, "unsaid", "")
		h.stop()
		journal := ""
		files, _ := filepath.Glob(filepath.Join(h.opts.Dir, "*", "journal.lp"))
		for _, f := range files {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Error(err)
			}
			journal += string(b)
		}
		for text, who := range map[string]string{"paired": "Alex", "believed": "Kim", "unsaid": "console"} {
			found := ""
			for l := range strings.Lines(journal) {
				if strings.Contains(l, `"`+text+`"`) {
					found = l
				}
			}
			if !strings.Contains(found, `who="`+who+`"`) {
				t.Errorf("%s is to stand under %s: %q", text, who, found)
			}
		}
	})
}

// What happens is told at once: within 60 ms of when the engine knows it.
func TestEventsAreToldAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, gate.Options{}, true)
		defer h.stop()
		seen := &watcher{first: map[rig.Kind]time.Time{}}
		r := httptest.NewRequest("GET", "http://127.0.0.1:8750/stream", nil)
		r.RemoteAddr = onMachine
		done := make(chan struct{})
		go func() {
			defer close(done)
			h.ServeHTTP(seen, r)
		}()
		time.Sleep(60 * time.Second)
		synctest.Wait()
		h.opts.Hub.Close()
		<-done
		h.mu.Lock()
		defer h.mu.Unlock()
		if len(h.told) < 4 {
			t.Fatalf("only %d kinds of event", len(h.told))
		}
		for kind, at := range h.told {
			first, ok := seen.first[kind]
			if d := first.Sub(at); !ok || d > 60*time.Millisecond {
				t.Errorf("%s came %v after it was known (%v)", kind, d, ok)
			}
		}
		if perS := float64(seen.nows) / 60; perS < 8 || perS > 11 {
			t.Errorf("%.1f messages a second, want about ten", perS)
		}
	})
}

// watcher notes when events first came.
type watcher struct {
	httptest.ResponseRecorder
	nows  int
	first map[rig.Kind]time.Time
}

var kindsIn = regexp.MustCompile(`"kind":"([a-z_]+)"`)

func (w *watcher) Header() http.Header { return http.Header{} }
func (w *watcher) Flush()              {}
func (w *watcher) Write(b []byte) (int, error) {
	if bytes.HasPrefix(b, []byte("event: now")) {
		w.nows++
		for _, m := range kindsIn.FindAllSubmatch(b, -1) {
			if k := rig.Kind(m[1]); w.first[k].IsZero() {
				w.first[k] = time.Now()
			}
		}
	}
	return len(b), nil
}

// Every page that can be opened is whole, names itself, and holds nothing inline that the policy forbids.
func TestPagesAreWhole(t *testing.T) {
	h := newHouse(t, gate.Options{}, false)
	inline := regexp.MustCompile(`(?i)<style|<script[^>]*>[^<]|\son[a-z]+=|\sstyle=|javascript:|(src|href|action)="(https?:)?//`)
	for _, p := range h.pages() {
		if !strings.HasPrefix(p.pattern, "GET ") || strings.Contains(p.pattern, "{name}") || p.pattern == "GET /stream" {
			continue
		}
		target := strings.TrimSuffix(strings.TrimPrefix(p.pattern, "GET "), "{$}")
		w := h.ask(onMachine, "GET", target, "", browser)
		if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		page := w.Body.String()
		if w.Code != 200 || !strings.HasSuffix(page, "</html>\n") || !strings.Contains(page, "<title>") {
			t.Errorf("%s: %d %.200s", target, w.Code, page)
		}
		if bad := inline.FindString(page); bad != "" {
			t.Errorf("%s holds %q", target, bad)
		}
	}
}

// TestWithoutBench wants the pages of what was recorded, and no others, where there is no bench.
func TestWithoutBench(t *testing.T) {
	g, err := gate.New(gate.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(Options{Dir: t.TempDir(), Gate: g}, nil)
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, Site: s, gate: g}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if w := h.ask(onMachine, "GET", "/", "", browser); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/sessions" {
		t.Errorf("found %d to %q, expected 303 to /sessions", w.Code, w.Header().Get("Location"))
	}
	for target, want := range map[string]int{"/sessions": 200, "/standings": 200, "/air": 404, "/status": 404, "/stream": 404} {
		w := h.ask(onMachine, "GET", target, "", browser)
		if w.Code != want {
			t.Errorf("%s: found status %d, expected %d", target, w.Code, want)
		}
		if strings.Contains(w.Body.String(), "On camera") {
			t.Errorf("%s leads to the on-camera page, which is not there", target)
		}
	}
}

// Two screens: a press means what its screen showed, whatever the other has done meanwhile.
func TestTwoScreens(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, gate.Options{}, true)
		defer h.stop()
		time.Sleep(20 * time.Second) // of the bubble; a session is open
		for i, c := range []struct {
			act, more string
			status    int
			says      string
		}{
			{"mark", "text=a", 200, "marked: a"},
			{"mark", "text=b++b", 200, "marked: b b"},
			{"undo", "what=mark+“a”", 409, "the last act is another by now: mark “b b”"},
			{"undo", "what=mark+“b+b”", 200, "taken back: mark “b b”"},
			{"undo", "what=mark+“b+b”", 409, "mark “a”"}, // of the other screen, at the same instant
			{"undo", "", 200, "taken back: mark “a”"},
			{"undo", "", 409, "there is nothing to take back"},
			{"inspect", "now=false", 200, "inspection begins"},
			{"inspect", "now=false", 200, "inspection begins, as another screen has said already"},
			{"inspect", "now=true", 200, "inspection ends"},
			{"inspect", "now=true", 200, "inspection ends, as another screen has said already"},
			{"inspect", "", 200, "inspection begins"},
			{"undo", "what=mark+“inspection+begins”", 200, "taken back"},
			{"inspect", "now=true", 200, "inspection ends, as another screen has said already"},
		} {
			w := h.ask(onMachine, "POST", "/do", "act="+c.act+"&"+c.more, func(r *http.Request) { r.Header.Set("Accept", "application/json") })
			if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) || strings.Contains(w.Body.String(), "another screen") && !strings.Contains(c.says, "another screen") {
				t.Errorf("press %d, %s %s: %d %s, want %d %q", i+1, c.act, c.more, w.Code, w.Body, c.status, c.says)
			}
		}
	})
}
