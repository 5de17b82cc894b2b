package gate

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/intact"
)

const (
	pairingHolds = 30 * 24 * time.Hour
	pairingsKept = 64 // the oldest goes first
	pairingsFile = ".pairings.json"
	longestName  = 40 // letters
)

// pairing is one browser that was let in.
type pairing struct {
	Hash   string    `json:"sha256"` // of its cookie: the file lets nobody in
	Who    string    `json:"who"`
	Paired time.Time `json:"paired"`
	Until  time.Time `json:"until"` // by the time that passes too, until the file is read: the clock may step
	ended  chan struct{}
}

// store keeps pairings in memory and, whole or not at all, in a file.
type store struct {
	path string // "": memory only
	mu   sync.Mutex
	all  []*pairing // by when they were made
}

func openStore(dir string) (*store, error) {
	s := &store{}
	if dir == "" {
		return s, nil
	}
	s.path = filepath.Join(dir, pairingsFile)
	b, err := os.ReadFile(s.path)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(b, &s.all); err != nil {
		return nil, &rig.FileError{File: s.path, Found: err.Error(), Want: "the pairings that a daemon wrote", Do: "remove the file and pair again"}
	}
	for _, p := range s.all {
		if p == nil || len(p.Hash) != 2*sha256.Size {
			return nil, &rig.FileError{File: s.path, Found: "a pairing without its hash", Want: "the pairings that a daemon wrote", Do: "remove the file and pair again"}
		}
		p.ended = make(chan struct{})
	}
	return s, nil
}

func hashOf(token string) string {
	h := sha256.Sum256([]byte(token))
	return hex.EncodeToString(h[:])
}

// find returns the pairing of a cookie. Hashes are compared, so that the time this takes tells nothing of a
// cookie that exists.
func (s *store) find(token string, now time.Time) (pairing, bool) {
	h := hashOf(token)
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, p := range s.all {
		if p.Hash == h && now.Before(p.Until) {
			return *p, true
		}
	}
	return pairing{}, false
}

// add makes a pairing and returns its cookie's value: 256 random bits.
func (s *store) add(who string, now time.Time) (string, error) {
	var raw [32]byte
	_, _ = rand.Read(raw[:]) // never fails
	token := base64.RawURLEncoding.EncodeToString(raw[:])
	s.mu.Lock()
	defer s.mu.Unlock()
	p := &pairing{Hash: hashOf(token), Who: who, Paired: now.UTC().Truncate(time.Second), Until: now.Add(pairingHolds), ended: make(chan struct{})}
	var kept []*pairing
	for _, old := range s.all {
		if now.Before(old.Until) {
			kept = append(kept, old)
		}
	}
	kept = append(kept, p)
	kept = kept[max(0, len(kept)-pairingsKept):]
	return token, s.replace(kept)
}

// drop ends the pairings that match, and returns how many there were.
func (s *store) drop(match func(*pairing) bool) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var kept []*pairing
	for _, p := range s.all {
		if !match(p) {
			kept = append(kept, p)
		}
	}
	n := len(s.all) - len(kept)
	if n == 0 {
		return 0, nil
	}
	return n, s.replace(kept)
}

// replace writes the pairings and ends those that are no longer among them; those end even if the file
// cannot be written. The caller holds the lock.
func (s *store) replace(kept []*pairing) error {
	stays := map[*pairing]bool{}
	for _, p := range kept {
		stays[p] = true
	}
	for _, p := range s.all {
		if !stays[p] {
			close(p.ended)
		}
	}
	s.all = kept
	if s.path == "" {
		return nil
	}
	b, err := json.MarshalIndent(kept, "", " ")
	if err != nil {
		return err
	}
	return intact.File(s.path, 0o600, intact.Bytes(append(b, '\n'))) // only its owner may read it
}

// Pair lets a browser in that knows the code, by the name of who sits before it.
func (g *Gate) Pair(w http.ResponseWriter, r *http.Request, code, who string) error {
	who, err := tidyName(who)
	if err != nil {
		return err
	}
	code = strings.Map(func(c rune) rune {
		if unicode.IsSpace(c) || c == '-' {
			return -1
		}
		return c
	}, code)
	if err := g.try(code, peer(r)); err != nil {
		return err
	}
	token, err := g.store.add(who, time.Now())
	if err != nil {
		g.opts.Log.Error("this pairing will not outlast the daemon", "err", err)
	}
	g.opts.Log.Info("paired", "who", who, "peer", peer(r))
	http.SetCookie(w, g.cookie(token, int(pairingHolds/time.Second)))
	return nil
}

// Status is the status of an answer that tells an error of Pair.
func Status(err error) int {
	if errors.Is(err, errTooOften) {
		return http.StatusTooManyRequests
	}
	return http.StatusForbidden
}

// Leave ends the pairing of the browser that asks.
func (g *Gate) Leave(w http.ResponseWriter, r *http.Request) error {
	http.SetCookie(w, g.cookie("", -1))
	c, err := r.Cookie(g.cookieName())
	if err != nil {
		return nil // was not paired
	}
	h := hashOf(c.Value)
	_, err = g.store.drop(func(p *pairing) bool { return p.Hash == h })
	return err
}

// Forget ends the pairings of a name, or all for the name "", and returns how many there were.
func (g *Gate) Forget(who string) (int, error) {
	return g.store.drop(func(p *pairing) bool { return who == "" || p.Who == who })
}

func (g *Gate) cookieName() string {
	if g.opts.TLS != nil {
		return "__Host-quern-operator" // browsers hold it to this host and to TLS
	}
	return "quern-operator"
}

func (g *Gate) cookie(value string, maxAgeS int) *http.Cookie {
	return &http.Cookie{Name: g.cookieName(), Value: value, Path: "/", MaxAge: maxAgeS, HttpOnly: true, Secure: g.opts.TLS != nil, SameSite: http.SameSiteStrictMode}
}

func tidyName(who string) (string, error) {
	who = strings.Join(strings.Fields(who), " ")
	n := utf8.RuneCountInString(who)
	if n < 1 || n > longestName || !utf8.ValidString(who) || strings.ContainsFunc(who, func(c rune) bool { return !unicode.IsPrint(c) }) {
		return "", fmt.Errorf("a name of 1 to %d letters is missing: it stands beside everything you do", longestName)
	}
	if strings.EqualFold(who, atConsole) {
		return "", fmt.Errorf("%s is the name of the machine itself: choose another", atConsole)
	}
	return who, nil
}
