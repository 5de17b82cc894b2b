package gate

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"math/big"
	"sync"
	"time"
)

// A code has a million values. Five wrong ones make another; after thirty none holds until somebody at the
// machine asks for one. So whoever guesses has 3 chances in 100 000 for each code that is asked for.
const (
	codeHolds   = 10 * time.Minute
	triesOfCode = 5
	triesInAll  = 30
)

// codes is the pairing code that holds now.
type codes struct {
	mu    sync.Mutex
	code  string // "": none
	until time.Time
	wrong int // since the code was made
	all   int // since one was asked for
}

// Code makes a new pairing code, which replaces any other.
func (g *Gate) Code() (code string, until time.Time) {
	c := &g.codes
	c.mu.Lock()
	defer c.mu.Unlock()
	c.code, c.until, c.wrong, c.all = drawCode(), time.Now().Add(codeHolds), 0, 0
	return c.code, c.until
}

// Waiting says whether a code holds now.
func (g *Gate) Waiting() bool {
	g.codes.mu.Lock()
	defer g.codes.mu.Unlock()
	return g.codes.code != "" && time.Now().Before(g.codes.until)
}

func drawCode() string {
	n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
	if err != nil {
		panic(err) // crypto/rand.Reader never fails
	}
	return fmt.Sprintf("%06d", n)
}

var (
	errNoCode    = errors.New("no code holds now: run quern pair at the machine of the daemon, and type what it prints within ten minutes")
	errWrongCode = errors.New("this is not the code")
	errTooOften  = errors.New("too many tries: wait a minute")
)

// try holds a code against the one that holds now, and uses it up.
func (g *Gate) try(typed, peer string) error {
	now := time.Now()
	if !g.tries.take(peer, now) {
		return errTooOften
	}
	c := &g.codes
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.code == "" || !now.Before(c.until) {
		c.code = ""
		return errNoCode
	}
	if subtle.ConstantTimeCompare([]byte(typed), []byte(c.code)) == 1 {
		c.code = ""
		return nil
	}
	c.wrong++
	c.all++
	switch {
	case c.all >= triesInAll:
		c.code = ""
		g.opts.Log.Error("too many wrong pairing codes: none holds until quern pair asks for one", "last_peer", peer)
	case c.wrong >= triesOfCode:
		c.code, c.wrong = drawCode(), 0
		g.opts.Log.Warn("five wrong pairing codes: here is another", "code", c.code, "until", c.until.Format(time.TimeOnly), "last_peer", peer)
	}
	return errWrongCode
}
