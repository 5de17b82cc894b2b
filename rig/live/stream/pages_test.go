package stream

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig"
)

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
