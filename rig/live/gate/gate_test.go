package gate

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

const (
	onNetwork = "192.0.2.20" // RFC 5737: an address of no machine
	atHome    = "192.0.2.1:8750"
)

// house is a gate with a page for each role behind it.
type house struct {
	t *testing.T
	*Gate
	front http.Handler
}

func newHouse(t *testing.T, o Options) *house {
	t.Helper()
	if o.Log == nil {
		o.Log = slog.New(slog.NewTextHandler(t.Output(), nil))
	}
	g, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	says := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, err := io.ReadAll(r.Body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusRequestEntityTooLarge)
			return
		}
		v := Who(r.Context())
		fmt.Fprintf(w, "%s %s %v %d", v.Role, v.Name, v.Firm, len(b))
	})
	mux.Handle("/pair", says)
	mux.Handle("GET /watch", g.Allow(Viewer, says))
	mux.Handle("POST /act", g.Allow(Operator, says))
	mux.Handle("POST /sessions/x/facts", g.Allow(Operator, says))
	mux.Handle("POST /pair/new", g.Allow(Console, says))
	return &house{t, g, g.Handler(mux)}
}

// ask sends a request from a peer and returns the answer.
func (h *house) ask(peer, method, path, body string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://"+atHome+path, strings.NewReader(body))
	r.RemoteAddr = peer + ":51000"
	if strings.HasPrefix(peer, "127.") {
		r.Host = "127.0.0.1:8750"
	}
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	h.front.ServeHTTP(w, r)
	return w
}

func cookie(c *http.Cookie) func(*http.Request) {
	return func(r *http.Request) { r.AddCookie(c) }
}

func header(k, v string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(k, v) }
}

// pair pairs a browser, which must succeed.
func (h *house) pair(who string) *http.Cookie {
	h.t.Helper()
	code, _ := h.Code()
	w := httptest.NewRecorder()
	r := httptest.NewRequest("POST", "http://"+atHome+"/pair", nil)
	r.RemoteAddr = onNetwork + ":51000"
	if err := h.Pair(w, r, code, who); err != nil {
		h.t.Fatal(err)
	}
	return w.Result().Cookies()[0]
}

func TestWhoMayDoWhat(t *testing.T) {
	host := func(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }
	remote := func(a string) func(*http.Request) { return func(r *http.Request) { r.RemoteAddr = a } }
	for name, c := range map[string]struct {
		opts         Options
		peer         string
		method, path string
		change       []func(*http.Request)
		status       int
	}{
		"the console acts":                      {Options{}, "127.0.0.1", "POST", "/act", nil, 200},
		"the console asks for a code":           {Options{}, "127.0.0.1", "POST", "/pair/new", nil, 200},
		"the console by IPv6":                   {Options{}, "x", "POST", "/act", []func(*http.Request){remote("[::1]:51000"), host("[::1]:8750")}, 200},
		"the console by the name localhost":     {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){host("localhost:8750")}, 200},
		"the console by its network address":    {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){host(atHome)}, 403},
		"a proxy passes on somebody else":       {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("X-Forwarded-For", onNetwork)}, 403},
		"the console has to pair":               {Options{PairAtConsole: true}, "127.0.0.1", "POST", "/act", nil, 403},
		"the network watches where it may":      {Options{ViewersMayWatch: true}, onNetwork, "GET", "/watch", nil, 200},
		"the network acts":                      {Options{ViewersMayWatch: true}, onNetwork, "POST", "/act", nil, 403},
		"the network watches where it may not":  {Options{}, onNetwork, "GET", "/watch", nil, 401},
		"a browser is sent to pair":             {Options{}, onNetwork, "GET", "/watch", []func(*http.Request){header("Accept", "text/html,*/*")}, 303},
		"the network sees the form":             {Options{}, onNetwork, "GET", "/pair", nil, 200},
		"the network asks for a code":           {Options{}, onNetwork, "POST", "/pair/new", nil, 403},
		"loopback only":                         {Options{LoopbackOnly: true}, onNetwork, "GET", "/pair", nil, 403},
		"loopback claimed by a name":            {Options{}, onNetwork, "POST", "/act", []func(*http.Request){host("127.0.0.1:8750")}, 403},
		"a rebound name":                        {Options{}, "127.0.0.1", "GET", "/watch", []func(*http.Request){host("rebound.example:8750")}, 403},
		"a rebound name of the local network":   {Options{}, "127.0.0.1", "GET", "/watch", []func(*http.Request){host("other.local")}, 403},
		"a name that ends like ours":            {Options{}, "127.0.0.1", "GET", "/watch", []func(*http.Request){host("localhost.example")}, 403},
		"no name at all":                        {Options{}, "127.0.0.1", "GET", "/watch", []func(*http.Request){host("")}, 403},
		"our name":                              {Options{Hosts: []string{"Bench"}, ViewersMayWatch: true}, onNetwork, "GET", "/watch", []func(*http.Request){host("bench.local:8750")}, 200},
		"our name is no loopback":               {Options{Hosts: []string{"bench"}}, "127.0.0.1", "POST", "/act", []func(*http.Request){host("bench")}, 403},
		"a page elsewhere, by its browser":      {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Sec-Fetch-Site", "cross-site")}, 403},
		"a page on another port":                {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Sec-Fetch-Site", "same-site")}, 403},
		"a page elsewhere, by its origin":       {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Origin", "http://elsewhere.example")}, 403},
		"a page without an origin":              {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Origin", "null")}, 403},
		"our own page":                          {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Origin", "http://127.0.0.1:8750"), header("Sec-Fetch-Site", "same-origin")}, 200},
		"our own page, of an old browser":       {Options{}, "127.0.0.1", "POST", "/act", []func(*http.Request){header("Origin", "http://127.0.0.1:8750")}, 200},
		"a made-up cookie":                      {Options{}, onNetwork, "POST", "/act", []func(*http.Request){cookie(&http.Cookie{Name: "quern-operator", Value: strings.Repeat("A", 43)})}, 403},
		"an empty cookie":                       {Options{}, onNetwork, "POST", "/act", []func(*http.Request){cookie(&http.Cookie{Name: "quern-operator"})}, 403},
		"a cookie of plain HTTP where TLS runs": {Options{TLS: &tls.Config{}}, onNetwork, "POST", "/act", nil, 403},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHouse(t, c.opts)
			w := h.ask(c.peer, c.method, c.path, "", c.change...)
			if w.Code != c.status {
				t.Errorf("%d %s, want %d", w.Code, w.Body, c.status)
			}
			for k, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Cross-Origin-Resource-Policy": "same-origin", "Cache-Control": "no-store"} {
				if got := w.Header().Get(k); got != want {
					t.Errorf("%s: %q, want %q", k, got, want)
				}
			}
			csp := w.Header().Get("Content-Security-Policy")
			if !strings.HasPrefix(csp, "default-src 'none';") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "*") {
				t.Errorf("policy %q", csp)
			}
			if w.Header().Get("Access-Control-Allow-Origin") != "" {
				t.Error("pages elsewhere may read this")
			}
		})
	}
}

func TestBodies(t *testing.T) {
	h := newHouse(t, Options{})
	for name, c := range map[string]struct {
		path   string
		bytes  int
		told   bool // its length is said beforehand
		status int
	}{
		"what fits":             {"/act", 64 << 10, true, 200},
		"too much, as it says":  {"/act", 64<<10 + 1, true, 413},
		"too much, unsaid":      {"/act", 64<<10 + 1, false, 413},
		"facts may be longer":   {"/sessions/x/facts", 256 << 10, true, 200},
		"facts have an end too": {"/sessions/x/facts", 256<<10 + 1, false, 413},
	} {
		w := h.ask("127.0.0.1", "POST", c.path, strings.Repeat("x", c.bytes), func(r *http.Request) {
			if !c.told {
				r.ContentLength = -1
			}
		})
		if w.Code != c.status {
			t.Errorf("%s: %d %s, want %d", name, w.Code, w.Body, c.status)
		}
	}
}

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

func TestCodes(t *testing.T) {
	try := func(h *house, peer, code string) error {
		r := httptest.NewRequest("POST", "http://"+atHome+"/pair", nil)
		r.RemoteAddr = peer + ":51000"
		return h.Pair(httptest.NewRecorder(), r, code, "Alex")
	}
	wrong := func(code string) string { return string('0'+(code[0]-'0'+1)%10) + code[1:] }
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, Options{})
		if err := try(h, onNetwork, ""); err != errNoCode {
			t.Errorf("without a code: %v", err)
		}
		code, until := h.Code()
		if len(code) != 6 || time.Until(until) != codeHolds {
			t.Errorf("code %q until %v", code, until)
		}
		if err := try(h, onNetwork, wrong(code)); err != errWrongCode {
			t.Errorf("a wrong code: %v", err)
		}
		if err := try(h, onNetwork, code[:3]+" "+code[3:]); err != nil {
			t.Errorf("the code: %v", err)
		}
		if err := try(h, onNetwork, code); err != errNoCode {
			t.Errorf("the code again: %v", err)
		}
		code, _ = h.Code()
		time.Sleep(codeHolds)
		if err := try(h, onNetwork, code); err != errNoCode {
			t.Errorf("the code after ten minutes: %v", err)
		}
	})
	synctest.Test(t, func(t *testing.T) { // one guesses
		h := newHouse(t, Options{})
		code, _ := h.Code()
		for range 5 {
			if err := try(h, onNetwork, wrong(code)); err != errWrongCode {
				t.Error(err)
			}
		}
		if err := try(h, onNetwork, code); err != errTooOften {
			t.Errorf("the sixth try within a minute: %v", err)
		}
		if err := try(h, "192.0.2.21", code); err == nil {
			t.Error("a code outlasts five wrong tries")
		}
		if !h.Waiting() {
			t.Error("no other code took its place")
		}
	})
	synctest.Test(t, func(t *testing.T) { // many guess together
		h := newHouse(t, Options{})
		code, _ := h.Code()
		tries := 0
		for i := 0; h.Waiting() && i < 1000; i++ {
			if err := try(h, fmt.Sprintf("192.0.2.%d", i%250), "x"+code); err == errWrongCode {
				tries++
			}
		}
		if tries != triesInAll {
			t.Errorf("%d tries of one code that was asked for, want %d", tries, triesInAll)
		}
	})
}

func TestNames(t *testing.T) {
	for name, ok := range map[string]bool{"Alex": true, "Zoë M.": true, "": false, " \t ": false, "console": false, "Console": false,
		strings.Repeat("x", 41): false, "a\x1b[2J": false, "a\u202eb": false, "\xff": false} {
		if _, err := tidyName(name); (err == nil) != ok {
			t.Errorf("%q: %v", name, err)
		}
	}
	for name, ok := range map[string]bool{"20260301-100000-unit-a": true, "campaign-unit-a-1": true, "": false, ".": false, "..": false, ".pairings.json": false,
		"../x": false, "a/b": false, `a\b`: false, "a\x00": false, "a b": true, "Übung 1": true, "a\nb": false, "a\x1b[2J": false,
		"a\u202eb": false, "\xff": false, strings.Repeat("x", 256): false} {
		if SafeName(name) != ok {
			t.Errorf("SafeName(%q) is %v", name, !ok)
		}
	}
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

func TestRateOfActs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHouse(t, Options{ViewersMayWatch: true})
		passed := 0
		for range 1000 {
			if h.ask("127.0.0.1", "POST", "/act", "").Code == 200 {
				passed++
			}
		}
		if passed != 30 {
			t.Errorf("%d acts at once, want the burst of 30", passed)
		}
		if w := h.ask("127.0.0.1", "POST", "/act", ""); w.Code != 429 || w.Header().Get("Retry-After") == "" {
			t.Errorf("%d %v", w.Code, w.Header())
		}
		if w := h.ask("127.0.0.1", "GET", "/watch", ""); w.Code != 200 {
			t.Errorf("who acts too often cannot look: %d", w.Code)
		}
		if w := h.ask(onNetwork, "POST", "/pair", ""); w.Code != 200 {
			t.Errorf("somebody else pays for it: %d", w.Code)
		}
		time.Sleep(time.Second)
		if w := h.ask("127.0.0.1", "POST", "/act", ""); w.Code != 200 {
			t.Errorf("a second later: %d", w.Code)
		}
	})
	r := rates{perS: 1, burst: 1}
	now := time.Unix(0, 0)
	for i := range 2 * peersKept {
		r.take(fmt.Sprint(i), now)
	}
	if len(r.left) > peersKept {
		t.Errorf("%d peers are kept", len(r.left))
	}
	if !r.take("new", now.Add(2*time.Second)) {
		t.Error("peers that were many once are never forgotten")
	}
}

func TestPeers(t *testing.T) {
	for remote, want := range map[string]string{"192.0.2.7:1": "192.0.2.7", "[::ffff:192.0.2.7]:1": "192.0.2.7", "[2001:db8:1:2:3:4:5:6]:1": "2001:db8:1:2::",
		"[2001:db8:1:2:ffff::1]:9": "2001:db8:1:2::", "[fe80::1%eth0]:9": "fe80::", "[::1]:9": "::1"} {
		if got := peerOf(remote); got != want {
			t.Errorf("%s is counted as %s, want %s", remote, got, want)
		}
	}
}
