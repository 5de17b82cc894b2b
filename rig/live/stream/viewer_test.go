package stream

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig"
)

// snap stands for what a daemon publishes.
type snap struct {
	N int `json:"n"`
}

// message is one event as a page reads it.
type message struct {
	event, id string
	Boot      string     `json:"boot"`
	ID        int64      `json:"id"`
	AtMS      int64      `json:"at_ms"`
	TS        float64    `json:"t_s"`
	S         snap       `json:"s"`
	FromS     float64    `json:"from_s"`
	StepS     float64    `json:"step_s"`
	LAF       []*float64 `json:"laf_db"`
	RMS       []*float64 `json:"rms_a"`
	Mass      []*float64 `json:"mass_g"`
	State     []string   `json:"state"`
}

// parse reads events as the standard has it: lines, fields, an empty line (WHATWG HTML, 9.2.6).
func parse(t *testing.T, r io.Reader, each func(message)) {
	t.Helper()
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 8<<20)
	var m message
	for lines.Scan() {
		field, value, _ := strings.Cut(lines.Text(), ": ")
		switch field {
		case "event":
			m.event = value
		case "id":
			m.id = value
		case "data":
			if err := json.Unmarshal([]byte(value), &m); err != nil {
				t.Errorf("%v in %.200s", err, value)
			}
		case "":
			if m.event != "" {
				each(m)
			}
			m = message{}
		case "retry", ":":
		default:
			t.Errorf("a line that is none of the format: %.100q", lines.Text())
		}
	}
}

// viewer is a page's end of a connection: it takes what is written, or blocks.
type viewer struct {
	mu     sync.Mutex
	header http.Header
	status int
	got    bytes.Buffer
	stuck  chan struct{} // not nil: writes wait for it, or for their deadline
	until  time.Time
}

func (v *viewer) Header() http.Header {
	if v.header == nil {
		v.header = http.Header{}
	}
	return v.header
}
func (v *viewer) WriteHeader(status int)             { v.status = status }
func (v *viewer) Flush()                             {}
func (v *viewer) SetReadDeadline(time.Time) error    { return nil }
func (v *viewer) SetWriteDeadline(t time.Time) error { v.until = t; return nil }
func (v *viewer) Write(b []byte) (int, error) {
	if v.stuck != nil {
		select {
		case <-v.stuck:
		case <-time.After(time.Until(v.until)):
			return 0, os.ErrDeadlineExceeded
		}
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.got.Write(b)
}

func (v *viewer) messages(t *testing.T) (all []message) {
	v.mu.Lock()
	defer v.mu.Unlock()
	parse(t, bytes.NewReader(v.got.Bytes()), func(m message) { all = append(all, m) })
	return all
}

// watch opens a page until ctx ends.
func watch(ctx context.Context, h *Hub, query, last string) (*viewer, chan struct{}) {
	v := &viewer{}
	return v, watchAs(ctx, h, v, query, last)
}

func watchAs(ctx context.Context, h *Hub, v *viewer, query, last string) chan struct{} {
	r := httptest.NewRequestWithContext(ctx, "GET", "/stream?"+query, nil)
	if last != "" {
		r.Header.Set("Last-Event-ID", last)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.ServeHTTP(v, r)
	}()
	synctest.Wait()
	return done
}

// publish publishes ten times a second for a while; the level counts the tenths since the hub began.
func publish(h *Hub, d time.Duration) {
	for range int(d / (100 * time.Millisecond)) {
		time.Sleep(100 * time.Millisecond) // of the bubble
		n := int(time.Since(h.begun)/time.Millisecond) / 100
		h.Publish(snap{n}, Point{LAFDB: rig.Fig(float64(n)), RMSA: rig.Fig(1), State: rig.Loaded})
	}
	synctest.Wait()
}

// trace puts together what traces say, by place, and fails where two say different things.
func trace(t *testing.T, into map[int]float64, all []message) {
	t.Helper()
	for _, m := range all {
		if m.event != "trace" {
			continue
		}
		if len(m.RMS) != len(m.LAF) || len(m.Mass) != len(m.LAF) || len(m.State) != len(m.LAF) {
			t.Errorf("a trace of %d, %d, %d and %d points", len(m.LAF), len(m.RMS), len(m.Mass), len(m.State))
		}
		for i, v := range m.LAF {
			k := int(m.FromS/m.StepS+0.5) + i
			if v == nil {
				continue
			}
			if was, ok := into[k]; ok && was != *v {
				t.Errorf("point %d is %g and %g", k, was, *v)
			}
			into[k] = *v
		}
	}
}

func whole(t *testing.T, got map[int]float64, from, to int) {
	t.Helper()
	for k := from; k < to; k++ {
		if v, ok := got[k]; !ok || v != float64(k) {
			t.Errorf("point %d is %v (%v)", k, v, ok)
			return
		}
	}
}
