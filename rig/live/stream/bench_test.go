package stream

import (
	"io"
	"net/http"
	"net/http/httptest"
	"syscall"
	"testing"
	"time"

	"quern/rig"
)

// wide is about as long as what a daemon publishes in mid-run: three sources, thirty events with evidence.
type wide struct {
	Say     string
	Events  [30]event
	Sources [3]source
}

type event struct {
	Kind     string
	AtS      rig.Figure
	Evidence string
}

type source struct {
	Channel, Device, State string
	Samples, Rejects, Gaps int64
	AgeS                   rig.Figure
}

// BenchmarkFivePages is what a second of the bench costs with five pages open over the kernel's own network:
// ten messages of now and two of trace. cpu-ms/s counts both ends of the connections, so it bounds the daemon's.
func BenchmarkFivePages(b *testing.B) {
	for name, pages := range map[string]int{"none": 0, "five": 5} {
		b.Run(name, func(b *testing.B) {
			h := New()
			s := httptest.NewServer(h)
			defer s.Close()
			defer h.Close()
			for range pages {
				resp, err := http.Get(s.URL)
				if err != nil {
					b.Fatal(err)
				}
				go func() { _, _ = io.Copy(io.Discard, resp.Body) }()
			}
			w := &wide{Say: "recording 20260301-100000-unit-a: microphone 71.2 dB(A), clamp 4.12 A (current flows), scale 2500 g"}
			for i := range w.Events {
				w.Events[i] = event{"overload_start", rig.Fig(float64(i)), "current passed 1.25 x rated and stayed there for at least 2 s"}
			}
			used := cpu(b)
			n := 0
			tick := time.NewTicker(10 * time.Millisecond) // ten times as fast as a bench
			defer tick.Stop()
			for b.Loop() {
				for range 10 {
					<-tick.C
					n++
					h.mu.Lock()
					h.begun = h.begun.Add(-90 * time.Millisecond)
					h.mu.Unlock()
					h.Publish(w, Point{LAFDB: rig.Fig(71.2), RMSA: rig.Fig(4.12), MassG: rig.Fig(2500), State: rig.Loaded})
				}
			}
			b.ReportMetric((cpu(b)-used).Seconds()*1000/(float64(n)/10), "cpu-ms/s")
		})
	}
}

// cpu is what this process has used of it.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
