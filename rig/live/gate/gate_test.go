package gate

import (
	"crypto/tls"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
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
