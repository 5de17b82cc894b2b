package stream

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

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
