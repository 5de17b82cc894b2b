package stream

import (
	"net/http"
	"strconv"
	"time"
)

const (
	keepAlive = 5 * time.Second  // without a message, between two comments
	patience  = 10 * time.Second // for a write to go through
)

// ServeHTTP holds a connection open until the page goes, does not keep up, or the hub closes. ?history=SECONDS
// asks for less than half an hour of the trace; ?after=ID stands for the header Last-Event-ID.
func (h *Hub) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p, ok := asked(r)
	if !ok {
		http.Error(w, "history is a number of seconds from 0 to 1800", http.StatusBadRequest)
		return
	}
	last := r.Header.Get("Last-Event-ID") // a browser that comes back by itself; newer than what the address says
	if last == "" {
		last = r.FormValue("after")
	}
	lacks, ok := h.join(p, last)
	if !ok {
		w.Header().Set("Retry-After", "5")
		http.Error(w, "too many pages are open, or the daemon is going down", http.StatusServiceUnavailable)
		return
	}
	defer h.leave(p)
	c := http.NewResponseController(w)
	_ = c.SetReadDeadline(time.Time{}) // the request is in; not every writer has deadlines
	head := w.Header()
	head.Set("Content-Type", "text/event-stream; charset=utf-8")
	head.Set("Cache-Control", "no-store")
	head.Set("X-Accel-Buffering", "no") // for a proxy before the daemon
	write := func(m []byte) bool {
		_ = c.SetWriteDeadline(time.Now().Add(patience))
		_, err := w.Write(m)
		return err == nil
	}
	ok = write([]byte("retry: 1000\n\n"))
	for _, m := range lacks {
		ok = ok && write(m)
	}
	if !ok || c.Flush() != nil {
		return
	}
	idle := time.NewTimer(keepAlive)
	defer idle.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-idle.C:
			ok = write([]byte(":\n\n"))
		case m, more := <-p.out:
			if !more {
				return
			}
			ok = write(m) && p.drain(write)
		}
		if !ok || c.Flush() != nil {
			return
		}
		idle.Reset(keepAlive)
	}
}

// asked makes a page as its address asks for it.
func asked(r *http.Request) (*page, bool) {
	p := &page{history: ringPoints}
	if s := r.FormValue("history"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 0 || n > ringPoints*stepS {
			return nil, false
		}
		p.history = int(float64(n) / stepS)
	}
	return p, true
}

// drain writes what else waits, so that it goes out in the same packet; false: there is nothing more to come.
func (p *page) drain(write func([]byte) bool) bool {
	for {
		select {
		case m, more := <-p.out:
			if !more || !write(m) {
				return false
			}
		default:
			return true
		}
	}
}
