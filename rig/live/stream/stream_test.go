package stream

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
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

func TestLive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "", "")
		publish(h, 3*time.Second)
		cancel()
		<-done
		all := v.messages(t)
		nows, traces := 0, 0
		var tr message
		var last int64
		for _, m := range all {
			if m.ID <= last {
				t.Errorf("id %d after %d", m.ID, last)
			}
			last = m.ID
			if m.Boot != h.boot || m.id != fmt.Sprintf("%s.%d", m.Boot, m.ID) {
				t.Errorf("ids %q and %s.%d", m.id, m.Boot, m.ID)
			}
			switch m.event {
			case "now":
				nows++
				if m.S.N != nows || m.AtMS != h.begun.UnixMilli()+int64(nows)*100 || m.TS != float64(nows)/10 {
					t.Errorf("message %d says %+v", nows, m)
				}
			case "trace":
				traces++
				tr = m
			}
		}
		if nows != 30 || traces != 6 {
			t.Errorf("%d of now and %d of trace in 3 s, want 30 and 6", nows, traces)
		}
		if tr.Mass[0] != nil || tr.RMS[0] == nil || *tr.RMS[0] != 1 || tr.State[0] != "loaded" {
			t.Errorf("what was not measured, what was, and the state: %+v", tr)
		}
		if ct := v.header.Get("Content-Type"); !strings.HasPrefix(ct, "text/event-stream") {
			t.Errorf("content type %q", ct)
		}
		if n := h.Pages(); n != 0 {
			t.Errorf("%d pages after the last one went", n)
		}
	})
}

// A page that went away and comes back has a trace without a gap, by any of the ways of coming back.
func TestComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		got := map[int]float64{}
		last, query := "", ""
		for i, away := range []time.Duration{0, 300 * time.Millisecond, 2 * time.Second, 4 * time.Minute} {
			publish(h, away)
			ctx, cancel := context.WithCancel(t.Context())
			header, q := last, ""
			if i == 2 {
				header, q = "", query
			}
			v, done := watch(ctx, h, q, header)
			publish(h, 1300*time.Millisecond)
			cancel()
			<-done
			all := v.messages(t)
			trace(t, got, all)
			points := 0
			for _, m := range all {
				points += len(m.LAF)
			}
			if most := int((away+1300*time.Millisecond)/(100*time.Millisecond)) + 2*batch; points > most {
				t.Errorf("after %v it was given %d points, of which it lacked at most %d", away, points, most)
			}
			last = all[len(all)-1].id
			query = "after=" + last
		}
		publish(h, time.Second)
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "", last)
		cancel()
		<-done
		trace(t, got, v.messages(t))
		whole(t, got, 1, int(h.told))
	})
}

// What a page says it has seen is believed only if it can be.
func TestStrangeIDs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		publish(h, 10*time.Second)
		for _, last := range []string{"", "0", h.boot, h.boot + ".", h.boot + ".-1", h.boot + ".999999", "ffffffff.50", h.boot + ".99999999999999999999", "\x00"} {
			ctx, cancel := context.WithCancel(t.Context())
			v, done := watch(ctx, h, "", last)
			cancel()
			<-done
			got := map[int]float64{}
			trace(t, got, v.messages(t))
			whole(t, got, 1, int(h.told))
		}
	})
}

func TestHistory(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		publish(h, 40*time.Minute)
		for query, want := range map[string]int{"": ringPoints, "history=60": 600, "history=0": 0} {
			ctx, cancel := context.WithCancel(t.Context())
			v, done := watch(ctx, h, query, "")
			cancel()
			<-done
			n := 0
			for _, m := range v.messages(t) {
				n += len(m.LAF)
			}
			if n > want || n < want-2*batch {
				t.Errorf("%q gives %d points, want %d", query, n, want)
			}
		}
		for _, query := range []string{"history=-1", "history=1801", "history=x"} {
			v := &viewer{}
			h.ServeHTTP(v, httptest.NewRequest("GET", "/stream?"+query, nil))
			if v.status != http.StatusBadRequest {
				t.Errorf("%s: %d", query, v.status)
			}
		}
	})
}

// Where nothing was published there is a gap, not a line; a moment is bridged.
func TestGap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		publish(h, time.Second)
		time.Sleep(700 * time.Millisecond)
		publish(h, time.Second)
		time.Sleep(20 * time.Second)
		publish(h, time.Second)
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "", "")
		cancel()
		<-done
		for _, m := range v.messages(t) {
			if m.event != "trace" {
				continue
			}
			for i, want := range map[int]bool{5: true, 12: true, 16: true, 25: true, 100: false, 200: false, 230: true} {
				if got := m.LAF[i] != nil; got != want || !got && m.State[i] != "unknown" {
					t.Errorf("at %d tenths there is a point: %v, state %s", i, got, m.State[i])
				}
			}
		}
	})
}

func TestAnotherDay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "history=0", "")
		publish(h, time.Second)
		time.Sleep(24 * time.Hour)
		publish(h, time.Second)
		cancel()
		<-done
		n := 0
		for _, m := range v.messages(t) {
			n = max(n, len(m.LAF))
		}
		if n > ringPoints {
			t.Errorf("a trace of %d points", n)
		}
	})
}

// A page that does not read is cut off, and nobody waits for it.
func TestSlowReader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		slow, quick := &viewer{stuck: make(chan struct{})}, &viewer{}
		gone := watchAs(t.Context(), h, slow, "", "")
		ctx, cancel := context.WithCancel(t.Context())
		stays := watchAs(ctx, h, quick, "", "")
		begun := time.Now()
		publish(h, 15*time.Second)
		if d := time.Since(begun); d != 15*time.Second {
			t.Errorf("publishing 15 s took %v: somebody was waited for", d)
		}
		<-gone
		if n := h.Pages(); n != 1 {
			t.Errorf("%d pages are told, want 1", n)
		}
		nows := 0
		for _, m := range quick.messages(t) {
			if m.event == "now" {
				nows++
			}
		}
		if nows != 150 {
			t.Errorf("the other page got %d of 150", nows)
		}
		cancel()
		<-stays
	})
}

func TestKeptAlive(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "", "")
		time.Sleep(time.Minute)
		synctest.Wait()
		v.mu.Lock()
		n := strings.Count(v.got.String(), "\n:\n")
		v.mu.Unlock()
		if n < 11 || n > 13 {
			t.Errorf("%d comments in a silent minute, want 12", n)
		}
		cancel()
		<-done
	})
}

func TestClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		_, one := watch(t.Context(), h, "", "")
		_, two := watch(t.Context(), h, "", "")
		h.Close()
		<-one
		<-two
		v, late := watch(t.Context(), h, "", "")
		<-late
		if v.status != http.StatusServiceUnavailable {
			t.Errorf("after the end: %d", v.status)
		}
		h.Publish(snap{}, Point{})
	})
}

func TestTooManyPages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := New()
		ctx, cancel := context.WithCancel(t.Context())
		var all []chan struct{}
		for range mostPages {
			_, done := watch(ctx, h, "", "")
			all = append(all, done)
		}
		v, late := watch(ctx, h, "", "")
		<-late
		if v.status != http.StatusServiceUnavailable || v.header.Get("Retry-After") == "" {
			t.Errorf("%d %v", v.status, v.header)
		}
		cancel()
		for _, d := range all {
			<-d
		}
	})
}

// Hours of messages leave no more behind than one.
func TestMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("four hours of messages take some seconds")
	}
	synctest.Test(t, func(t *testing.T) {
		h := New()
		ctx, cancel := context.WithCancel(t.Context())
		v, done := watch(ctx, h, "", "")
		live := func() float64 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			return float64(m.HeapAlloc) / (1 << 20)
		}
		hours := func(n int) {
			for range n * 60 {
				publish(h, time.Minute)
				v.mu.Lock()
				v.got.Reset()
				v.mu.Unlock()
			}
		}
		hours(1)
		first := live()
		hours(3)
		if last := live(); last > first+1 {
			t.Errorf("the heap went from %.2f to %.2f MiB", first, last)
		}
		if len(h.marks) > 2*ringPoints/batch {
			t.Errorf("%d marks are kept", len(h.marks))
		}
		cancel()
		<-done
	})
}

// Over the kernel's own network, behind a server with the daemon's timeouts.
func TestRealNetwork(t *testing.T) {
	h := New()
	s := httptest.NewUnstartedServer(h)
	s.Config.ReadTimeout, s.Config.WriteTimeout = 50*time.Millisecond, 50*time.Millisecond // a stream outlasts both
	s.Start()
	defer s.Close()
	defer h.Close()
	resp, err := http.Get(s.URL + "/stream")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for n := 1; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
				h.Publish(snap{n}, Point{State: rig.Off})
			}
		}
	}()
	errEnough := errors.New("enough")
	n, last := 0, 0
	func() {
		defer func() {
			if p := recover(); p != nil && p != errEnough {
				panic(p)
			}
		}()
		parse(t, resp.Body, func(m message) {
			if m.event == "now" {
				if n++; last > 0 && m.S.N != last+1 {
					t.Errorf("%d follows on %d", m.S.N, last)
				}
				last = m.S.N
			}
			if n == 20 { // 0.4 s: eight times the timeouts
				panic(errEnough)
			}
		})
	}()
	if n < 20 {
		t.Errorf("the stream broke off after %d messages", n)
	}
}
