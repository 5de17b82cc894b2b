package gate

import (
	"context"
	"errors"
	"log"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
)

// Bounds of what one peer can make the daemon do.
const (
	bodyBytes   = 64 << 10
	factsBytes  = 256 << 10 // a correction with its reasons, or detect settings
	headerBytes = 16 << 10
	perPeer     = 32  // connections: five pages of a browser take six each
	inAll       = 128 // connections
	peersKept   = 1024
)

// bound holds the body to its bound, and refuses at once what says that it is larger.
func (g *Gate) bound(w http.ResponseWriter, r *http.Request) bool {
	most := int64(bodyBytes)
	if strings.HasPrefix(r.URL.Path, "/sessions/") {
		most = factsBytes
	}
	if r.ContentLength > most {
		w.Header().Set("Connection", "close")
		g.says(w, r, http.StatusRequestEntityTooLarge, "this is too much for one request")
		return false
	}
	r.Body = http.MaxBytesReader(w, r.Body, most)
	return true
}

// Serve serves until ctx ends or the listener fails; stop is called before the last requests are waited for, and ends
// what would go on for ever.
func (g *Gate) Serve(ctx context.Context, l net.Listener, h http.Handler, stop func()) error {
	s := g.server(h)
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		<-ctx.Done()
		if stop != nil {
			stop()
		}
		last, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		if s.Shutdown(last) != nil {
			_ = s.Close() // what still hangs is cut off
		}
	}()
	l = g.limit(l)
	var err error
	if s.TLSConfig != nil {
		err = s.ServeTLS(l, "", "")
	} else {
		err = s.Serve(l)
	}
	cancel()
	<-done
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// server has bounds for every time that a peer can stretch. Streams set their own.
func (g *Gate) server(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 20 * time.Second,
		IdleTimeout: time.Minute, MaxHeaderBytes: headerBytes, TLSConfig: g.opts.TLS,
		ErrorLog: log.New(quiet{g.opts.Log}, "", 0)}
}

// quiet logs what a server says of its peers where it does not hide what matters.
type quiet struct{ log *slog.Logger }

func (q quiet) Write(b []byte) (int, error) {
	q.log.Debug("http", "said", strings.TrimSpace(string(b)))
	return len(b), nil
}

// limit holds a listener to a number of connections, in all and from each peer.
func (g *Gate) limit(l net.Listener) net.Listener {
	return &listener{Listener: l, open: map[string]int{}}
}

type listener struct {
	net.Listener
	mu   sync.Mutex
	open map[string]int
	all  int
}

// Accept closes at once what is too much: whoever waits in the queue is not made to.
func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		p := peerOf(c.RemoteAddr().String())
		l.mu.Lock()
		full := l.all >= inAll || l.open[p] >= perPeer
		if !full {
			l.all++
			l.open[p]++
		}
		l.mu.Unlock()
		if full {
			_ = c.Close() // nobody is owed an answer
			continue
		}
		return &counted{Conn: c, closed: sync.OnceFunc(func() {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.all--
			if l.open[p]--; l.open[p] == 0 {
				delete(l.open, p)
			}
		})}, nil
	}
}

type counted struct {
	net.Conn
	closed func()
}

func (c *counted) Close() error {
	c.closed()
	return c.Conn.Close()
}

// rates is a bucket of tokens for each peer. The zero time of a peer is a full bucket.
type rates struct {
	perS, burst float64
	mu          sync.Mutex
	left        map[string]bucket
}

type bucket struct {
	tokens float64
	at     time.Time
}

// take takes a token of a peer's, if there is one.
func (r *rates) take(peer string, now time.Time) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.left == nil {
		r.left = map[string]bucket{}
	}
	b, ok := r.left[peer]
	if !ok {
		if len(r.left) >= peersKept && !r.forget(now) {
			return false
		}
		b = bucket{r.burst, now}
	}
	b.tokens = min(r.burst, b.tokens+r.perS*now.Sub(b.at).Seconds())
	b.at = now
	ok = b.tokens >= 1
	if ok {
		b.tokens--
	}
	r.left[peer] = b
	return ok
}

// forget drops peers whose buckets are full again; false: there are none.
func (r *rates) forget(now time.Time) bool {
	for p, b := range r.left {
		if b.tokens+r.perS*now.Sub(b.at).Seconds() >= r.burst {
			delete(r.left, p)
		}
	}
	return len(r.left) < peersKept
}
