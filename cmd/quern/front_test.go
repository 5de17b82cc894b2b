package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// putCertificate writes a certificate for a name of the network, and its key.
func putCertificate(t *testing.T, dir string) (cert, key string, roots *x509.CertPool) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "bench.example"}, DNSNames: []string{"bench.example"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	roots = x509.NewCertPool()
	roots.AppendCertsFromPEM(certPEM)
	return put(t, dir, "cert.pem", string(certPEM)), put(t, dir, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw}))), roots
}

// serving runs a daemon in this process until the test ends, and returns where it answers.
func serving(t *testing.T, args ...string) string {
	t.Helper()
	return answering(t, append([]string{"serve"}, args...)...)
}

// answering runs a verb that answers requests in this process until the test ends, and returns where it does.
func answering(t *testing.T, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, w := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, env{args: args, out: io.Discard, err: w, now: time.Now})
		_ = w.Close()
	}()
	lines := bufio.NewScanner(r)
	var said bytes.Buffer
	for lines.Scan() {
		said.WriteString(lines.Text() + "\n")
		if m := listens.FindStringSubmatch(lines.Text()); m != nil {
			go func() { _, _ = io.Copy(io.Discard, r) }()
			t.Cleanup(func() {
				cancel()
				if status := <-ended; status != 0 {
					t.Errorf("the daemon ended with status %d", status)
				}
			})
			return m[1]
		}
	}
	cancel()
	t.Fatalf("the daemon does not come up: status %d\n%s", <-ended, &said)
	return ""
}

// TestPairOverTLS lets a browser in, by what quern pair prints, and acts in its name.
func TestPairOverTLS(t *testing.T) {
	dir := t.TempDir()
	cert, key, roots := putCertificate(t, dir)
	out := filepath.Join(dir, "sessions")
	at := serving(t, "--simulate", "plain", "--out", out, "--listen", "127.0.0.1:0", "--tls-cert", cert, "--tls-key", key, "--host", "bench.example")
	if s := done(t, "status", "--at", at, "--json"); !strings.Contains(s, `"ready":`) {
		t.Errorf("status says %.200s", s)
	}
	printed := done(t, "pair", "--at", at)
	m := regexp.MustCompile(`^(\d{3}) (\d{3}) +holds until`).FindStringSubmatch(printed)
	if m == nil {
		t.Fatalf("pair prints %q", printed)
	}

	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := http.Client{Jar: jar, Timeout: 10 * time.Second, Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: "bench.example"}}}
	ask := func(method, path, body string) (int, string) {
		t.Helper()
		r, err := http.NewRequest(method, "https://"+at+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Host = "bench.example" // not a name of loopback: it has to pair
		if strings.Contains(body, "=") {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		resp, err := browser.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, string(b)
	}
	if status, _ := ask("POST", "/act", `{"act":"begin"}`); status != http.StatusForbidden {
		t.Errorf("whoever has not paired acts: %d", status)
	}
	browser.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	if status, body := ask("POST", "/pair", url.Values{"code": {m[1] + m[2]}, "name": {"Alex"}}.Encode()); status != http.StatusSeeOther {
		t.Fatalf("%d %s", status, body)
	}
	if status, body := ask("POST", "/act", `{"act":"begin"}`); status != http.StatusOK {
		t.Errorf("%d %s", status, body)
	}
	if s := done(t, "pair", "--forget", "--at", at); s != "pairings forgotten: 1\n" {
		t.Errorf("forget prints %q", s)
	}
	if status, _ := ask("POST", "/act", `{"act":"end"}`); status != http.StatusForbidden {
		t.Errorf("who was forgotten acts: %d", status)
	}
	if b, err := os.ReadFile(filepath.Join(out, ".pairings.json")); err != nil || strings.Contains(string(b), "Alex") {
		t.Errorf("%v %s", err, b)
	}
}

func TestFrontIsRefused(t *testing.T) {
	dir := t.TempDir()
	cert, key, _ := putCertificate(t, dir)
	other, _, _ := putCertificate(t, filepath.Join(dir, "other"))
	for name, c := range map[string]struct{ args, says string }{
		"a certificate alone":      {"--tls-cert " + cert, "--tls-cert and --tls-key go together"},
		"a key alone":              {"--tls-key " + key, "--tls-cert and --tls-key go together"},
		"no certificate":           {"--tls-cert " + key + " --tls-key " + key, "--tls-cert"},
		"the key of another":       {"--tls-cert " + other + " --tls-key " + key, "private key does not match"},
		"an address of no machine": {"--listen 192.0.2.1:8750", "--listen 192.0.2.1:8750"},
	} {
		args := append([]string{"serve", "--simulate", "plain", "--out", filepath.Join(dir, "sessions")}, strings.Fields(c.args)...)
		if s := quern(t, args...); s.status != 2 || !strings.Contains(s.err, c.says) {
			t.Errorf("%s: status %d, %q", name, s.status, s.err)
		}
	}
	if s := quern(t, "pair", "--who", "Alex"); s.status != 2 || !strings.Contains(s.err, "--forget") {
		t.Errorf("status %d, %q", s.status, s.err)
	}
}

// Whether all on the network may watch is the lab's word, and the command line's where it says something. A host name
// of the network stands for a device of it: nobody there has paired.
func TestViewersByTheLab(t *testing.T) {
	dir := t.TempDir()
	closed, open := filepath.Join(dir, "closed"), filepath.Join(dir, "open")
	putLab(t, closed, bench)
	putLab(t, open, bench+"[pages]\nviewers = true\n")
	for _, c := range []struct {
		lab  string
		more []string
		may  bool
	}{
		{closed, nil, false}, {open, nil, true},
		{closed, []string{"--viewers"}, true}, {open, []string{"--viewers=false"}, false},
	} {
		for _, verb := range []string{"serve", "pages"} {
			sessions := filepath.Join(t.TempDir(), "sessions")
			args := []string{verb, "--simulate", "plain", "--out", sessions}
			if verb == "pages" {
				args = []string{verb, sessions}
				if err := os.Mkdir(sessions, 0o755); err != nil {
					t.Fatal(err)
				}
			}
			t.Run(verb+" "+filepath.Base(c.lab)+" "+strings.Join(c.more, " "), func(t *testing.T) {
				at := answering(t, append(append(args, "--lab", c.lab, "--listen", "127.0.0.1:0", "--host", "bench.example"), c.more...)...)
				r, err := http.NewRequest("GET", "http://"+at+"/sessions", nil)
				if err != nil {
					t.Fatal(err)
				}
				r.Host = "bench.example"
				resp, err := http.DefaultClient.Do(r)
				if err != nil {
					t.Fatal(err)
				}
				_ = resp.Body.Close() // only the status matters
				if got := resp.StatusCode == http.StatusOK; got != c.may {
					t.Errorf("who has not paired gets status %d, may watch: %v", resp.StatusCode, c.may)
				}
			})
		}
	}
}

// A folder of sessions belongs to one daemon as long as that runs: two would write over each other's pairings. Pages that
// only this machine sees may be open beside it.
func TestOneDaemonAFolder(t *testing.T) {
	dir := t.TempDir()
	lab, sessions := filepath.Join(dir, "lab"), filepath.Join(dir, "sessions")
	putLab(t, lab, bench)
	daemon := []string{"serve", "--simulate", "plain", "--out", sessions, "--listen", "127.0.0.1:0"}
	t.Run("while one runs", func(t *testing.T) {
		at := serving(t, daemon[1:]...)
		for _, args := range [][]string{daemon, {"pages", sessions, "--lab", lab, "--listen", ":0"}} {
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second) // should it run
			s := quernUntil(ctx, args...)
			cancel()
			for _, says := range []string{"the folder of a daemon that runs", fmt.Sprintf("process %d,", os.Getpid()), at} {
				if s.status != 2 || !strings.Contains(s.err, says) {
					t.Errorf("%v: status %d, %q lacks %q", args, s.status, s.err, says)
				}
			}
		}
		at = answering(t, "pages", sessions, "--lab", lab, "--listen", "127.0.0.1:0")
		// They lead to no bench, for there is none behind them.
		a, err := http.Get("http://" + at + "/sessions")
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		if text, err := io.ReadAll(a.Body); err != nil || !strings.Contains(string(text), `href="/standings"`) || strings.Contains(string(text), `href="/"`) {
			t.Errorf("%v, %s", err, text)
		}
	})
	if left, err := filepath.Glob(filepath.Join(sessions, ".*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	serving(t, daemon[1:]...) // it is free again
}
