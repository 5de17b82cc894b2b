package review

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"quern/rig/report/series"
)

// What is kept open at once, where nobody is using more.
const (
	mostOpen  = 3
	mostBytes = 64 << 20
)

// Shelf keeps the sessions of a folder that were looked at last. It is safe for use by several goroutines
// at once; a session is opened, and derived, once however many ask for it.
type Shelf struct {
	o      Options
	slots  slots
	whatIf once
	amend  sync.Mutex // facts are added one after the other

	mu     sync.Mutex
	books  map[string]*book
	tick   int64
	closed bool
}

// book is a session on the shelf.
type book struct {
	ready chan struct{} // closed when s or err is there
	s     *Session
	err   error
	print string // of the manifest that was opened
	users int
	used  int64
	gone  bool // to be closed when nobody uses it any more
}

// slots bound what is computed at a time, of all sessions: a daemon may be recording beside it.
type slots struct{ derive, analyse chan struct{} }

func newSlots() slots { return slots{make(chan struct{}, 1), make(chan struct{}, 1)} }

// New returns a shelf over a folder. Close closes what is open.
func New(o Options) *Shelf {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.WhatIfWithin == 0 {
		o.WhatIfWithin = time.Minute
	}
	return &Shelf{o: o, slots: newSlots(), books: map[string]*book{}}
}

// find returns the folder of a session by its name, which must be one of those that the folder lists: no
// name becomes a path unchecked.
func (h *Shelf) find(name string) (dir, print string, err error) {
	entries, err := os.ReadDir(h.o.Dir)
	if err != nil {
		return "", "", err
	}
	for _, e := range entries {
		if e.Name() != name || !e.IsDir() || name[0] == '.' {
			continue
		}
		dir = filepath.Join(h.o.Dir, e.Name())
		info, err := os.Stat(filepath.Join(dir, "manifest.json"))
		if err != nil {
			break
		}
		return dir, fmt.Sprint(info.Size(), info.ModTime().UnixNano()), nil
	}
	return "", "", fault(http.StatusNotFound, "found session %q, expected one of the folder of sessions: see the list at /sessions", clip40(name))
}

// with opens a session if need be and calls f with it.
func (h *Shelf) with(ctx context.Context, name string, f func(*Session) error) error {
	dir, print, err := h.find(name)
	if err != nil {
		return err
	}
	b, err := h.take(name, dir, print)
	if err != nil {
		return err
	}
	defer h.give(name, b)
	select {
	case <-b.ready:
	case <-ctx.Done():
		return ctx.Err()
	}
	if b.err != nil {
		return b.err
	}
	return f(b.s)
}

// take returns the book of a session, on which give must be called. Whoever comes first opens it.
func (h *Shelf) take(name, dir, print string) (*book, error) {
	h.mu.Lock()
	if h.closed {
		h.mu.Unlock()
		return nil, fault(http.StatusServiceUnavailable, "the daemon is stopping")
	}
	h.tick++
	b := h.books[name]
	if b != nil && b.print != print { // another session stands there now
		h.drop(name, b)
		b = nil
	}
	mine := b == nil
	if mine {
		b = &book{ready: make(chan struct{}), print: print}
		h.books[name] = b
	}
	b.users++
	b.used = h.tick
	h.mu.Unlock()
	if mine {
		b.s, b.err = open(dir, filepath.Join(h.o.Dir, series.CacheName), h.slots)
		close(b.ready)
		if b.err != nil { // the next one may have more luck
			h.mu.Lock()
			if h.books[name] == b {
				h.drop(name, b)
			}
			h.mu.Unlock()
		}
	}
	return b, nil
}

// give says that a book is no longer used, and clears the shelf.
func (h *Shelf) give(name string, b *book) {
	h.mu.Lock()
	b.users--
	var out []*book
	if b.gone && b.users == 0 {
		out = append(out, b)
	}
	out = append(out, h.clear()...)
	h.mu.Unlock()
	for _, b := range out {
		h.shut(b)
	}
}

// drop takes a book off the shelf; its last user closes it. The lock is held.
func (h *Shelf) drop(name string, b *book) {
	delete(h.books, name)
	b.gone = true
}

// clear takes what was used longest ago off the shelf until the rest is within the limits. Those in use
// stay. The lock is held; what it returns is to be shut without it.
func (h *Shelf) clear() []*book {
	var out []*book
	for {
		total, open := int64(0), 0
		oldest := ""
		for name, b := range h.books {
			select {
			case <-b.ready:
			default:
				continue
			}
			if b.s == nil {
				continue
			}
			open++
			total += b.s.Bytes()
			if b.users == 0 && (oldest == "" || b.used < h.books[oldest].used) {
				oldest = name
			}
		}
		if oldest == "" || open <= mostOpen && (total <= mostBytes || open == 1) {
			return out
		}
		b := h.books[oldest]
		h.drop(oldest, b)
		out = append(out, b)
	}
}

func (h *Shelf) shut(b *book) {
	<-b.ready
	if b.s == nil {
		return
	}
	if err := b.s.Close(); err != nil {
		h.o.Log.Warn("a session could not be closed well", "err", err)
	}
}

// Close closes what is open. Requests must have ended.
func (h *Shelf) Close() error {
	h.mu.Lock()
	h.closed = true
	var out []*book
	for name, b := range h.books {
		h.drop(name, b)
		out = append(out, b)
	}
	h.mu.Unlock()
	var all []error
	for _, b := range out {
		<-b.ready
		if b.s != nil {
			all = append(all, b.s.Close())
		}
	}
	return errors.Join(all...)
}
