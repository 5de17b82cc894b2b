package gate

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// wire is a network without a kernel, so that its time can be that of a bubble.
type wire struct {
	calls chan net.Conn
	done  chan struct{}
}

func newWire() *wire { return &wire{make(chan net.Conn), make(chan struct{})} }

func (w *wire) Accept() (net.Conn, error) {
	select {
	case c := <-w.calls:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wire) Close() error   { close(w.done); return nil }
func (w *wire) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 8750} }

type from struct {
	net.Conn
	at net.IP
}

func (f from) RemoteAddr() net.Addr { return &net.TCPAddr{IP: f.at, Port: 51000} }

// call opens a connection from a peer.
func (w *wire) call(last byte) net.Conn {
	ours, theirs := net.Pipe()
	w.calls <- from{theirs, net.IPv4(192, 0, 2, last)}
	return ours
}

// served serves a handler on a wire for the length of a test.
func served(t *testing.T, g *Gate, h http.Handler) (*wire, func()) {
	w := newWire()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- g.Serve(ctx, w, h, nil) }()
	return w, func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

// closedAfter returns how long a connection stayed open while bytes of text went in, one a second.
func closedAfter(c net.Conn, text string) time.Duration {
	begun := time.Now()
	closed := make(chan struct{})
	go func() {
		_, _ = io.Copy(io.Discard, c)
		close(closed)
	}()
	for i := 0; ; i++ {
		_ = c.SetWriteDeadline(time.Now().Add(time.Second))
		_, err := c.Write([]byte{text[i%len(text)]})
		if errors.Is(err, io.ErrClosedPipe) {
			break
		}
		select {
		case <-closed:
		case <-time.After(time.Second):
			if time.Since(begun) < time.Hour {
				continue
			}
		}
		break
	}
	return time.Since(begun)
}

// deaf is a listener that fails.
type deaf struct{ net.Listener }

var errDeaf = errors.New("no more files")

func (deaf) Accept() (net.Conn, error) { return nil, errDeaf }

// TestListenerFails: what goes on for ever has been ended when Serve returns, though nobody stopped it.
func TestListenerFails(t *testing.T) {
	g, err := New(Options{})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	stopped := false
	if err := g.Serve(t.Context(), deaf{l}, http.NotFoundHandler(), func() { stopped = true }); !errors.Is(err, errDeaf) || !stopped {
		t.Errorf("got %v, stopped %v; want %v, true", err, stopped, errDeaf)
	}
}

func TestSlowPeers(t *testing.T) {
	for name, c := range map[string]struct {
		said string // at once
		drip string
		most time.Duration
	}{
		"header": {"GET / HTTP/1.1\r\nHost: x\r\n", "X-Y: z\r\n", 6 * time.Second},
		"body":   {"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 60000\r\n\r\n", "x", 22 * time.Second},
		"idle":   {"GET / HTTP/1.1\r\nHost: x\r\n\r\n", "\r\n", 70 * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				g, err := New(Options{})
				if err != nil {
					t.Fatal(err)
				}
				w, end := served(t, g, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
					if _, err := io.Copy(io.Discard, r.Body); err != nil {
						http.Error(w, "too slow", http.StatusRequestTimeout)
					}
				}))
				defer end()
				conn := w.call(20)
				defer conn.Close()
				if _, err := conn.Write([]byte(c.said)); err != nil {
					t.Fatal(err)
				}
				if got := closedAfter(conn, c.drip); got > c.most {
					t.Errorf("held open for %v, want at most %v", got, c.most)
				}
			})
		})
	}
}

// Who asks for much and does not read it is let go.
func TestSlowReader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g, err := New(Options{})
		if err != nil {
			t.Fatal(err)
		}
		took := make(chan time.Duration, 1)
		w, end := served(t, g, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			begun := time.Now()
			for range 1000 {
				if _, err := w.Write(make([]byte, 10000)); err != nil {
					break
				}
			}
			took <- time.Since(begun)
		}))
		defer end()
		conn := w.call(20)
		defer conn.Close()
		if _, err := conn.Write([]byte("GET / HTTP/1.1\r\nHost: x\r\n\r\n")); err != nil {
			t.Fatal(err)
		}
		if d := <-took; d > 25*time.Second {
			t.Errorf("it took %v", d)
		}
	})
}

func TestLongHeader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g, err := New(Options{})
		if err != nil {
			t.Fatal(err)
		}
		w, end := served(t, g, http.NotFoundHandler())
		defer end()
		conn := w.call(20)
		defer conn.Close()
		go func() {
			_, _ = conn.Write([]byte("GET / HTTP/1.1\r\nHost: x\r\nX: " + strings.Repeat("x", 64<<10) + "\r\n\r\n"))
		}()
		resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
		if err != nil || resp.StatusCode != http.StatusRequestHeaderFieldsTooLarge {
			t.Errorf("%v %v", resp, err)
		}
	})
}

func TestManyConnections(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g, err := New(Options{})
		if err != nil {
			t.Fatal(err)
		}
		w, end := served(t, g, http.NotFoundHandler())
		defer end()
		open := func(c net.Conn) bool { // a connection that was refused is closed
			_ = c.SetReadDeadline(time.Now().Add(time.Millisecond))
			_, err := c.Read(make([]byte, 1))
			var timeout net.Error
			return errors.As(err, &timeout) && timeout.Timeout()
		}
		var conns []net.Conn
		count := func() (n int) {
			for _, c := range conns {
				if open(c) {
					n++
				}
			}
			return n
		}
		for range 100 {
			conns = append(conns, w.call(20))
		}
		if n := count(); n != perPeer {
			t.Errorf("one peer holds %d connections, want %d", n, perPeer)
		}
		if other := w.call(21); !open(other) {
			t.Error("another peer is kept out")
		}
		_ = conns[0].Close()
		synctest.Wait()
		if again := w.call(20); !open(again) {
			t.Error("a place that was given back cannot be taken")
		}
		for last := byte(30); last < 50; last++ {
			for range 20 {
				conns = append(conns, w.call(last))
			}
		}
		if n := count(); n != inAll-2 { // with the two above
			t.Errorf("%d connections in all, want %d", n+2, inAll)
		}
		for _, c := range conns {
			_ = c.Close()
		}
	})
}
