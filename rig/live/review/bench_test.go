package review

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"quern/acquire/sim"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/report/series/recorded"
	"quern/rig/session"
	"quern/rig/wave"
)

// longS is the length of the session that the benchmarks look at, s.
const longS = 1200

// long records twenty minutes of 48 kHz sound of 16 bits, 8 kHz current and a scale: a simulated session over
// and over again, joined where it ends.
func long(b *testing.B, dir string) {
	b.Helper()
	sc, _ := sim.Named("plain", 1)
	sc.Sound.Bits = 16
	bench, err := sim.New(sc)
	if err != nil {
		b.Fatal(err)
	}
	var loop []rig.Block
	for {
		k, err := bench.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			b.Fatal(err)
		}
		k.Samples = append([]float64(nil), k.Samples...)
		k.Readings = append([]rig.Reading(nil), k.Readings...)
		loop = append(loop, k)
	}
	head := session.Head{Setup: bench.Setup(), Started: started, Tool: "quern test", Origin: rig.Recorded}
	at := map[rig.Channel]float64{}
	rate := map[rig.Channel]float64{}
	for _, s := range bench.Streams() {
		x := session.Stream{Stream: s}
		if s.Form == rig.Waveform {
			x.Encoding = wave.PCM16
		}
		rate[s.Channel] = s.RateHz
		head.Streams = append(head.Streams, x)
	}
	w, err := session.Create(dir, head)
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	frames := map[rig.Channel]int{}
	for turn := 0; ; turn++ {
		for _, k := range loop {
			if k.Samples != nil {
				k.StartS = float64(frames[k.Channel]) / rate[k.Channel]
				frames[k.Channel] += len(k.Samples)
			}
			readings := append([]rig.Reading(nil), k.Readings...)
			for i := range readings {
				readings[i].AtS += at[k.Channel]
			}
			k.Readings = readings
			if k.StartS >= longS || len(readings) > 0 && readings[0].AtS >= longS {
				continue
			}
			if err := w.AppendBlock(k); err != nil {
				b.Fatal(err)
			}
		}
		at[rig.Scale] += bench.Seconds()
		if at[rig.Scale] >= longS {
			break
		}
	}
	if err := w.Seal(); err != nil {
		b.Fatal(err)
	}
}

func get(b *testing.B, h http.Handler, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", path, nil)
	r.Header.Set("Accept-Encoding", "gzip")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		b.Fatalf("%s: %d %s", path, w.Code, w.Body)
	}
	return w
}

// BenchmarkReview looks at a session of twenty minutes as a page does. One operation is all of what is named,
// through the handler, compressed.
func BenchmarkReview(b *testing.B) {
	folder := b.TempDir()
	dir := filepath.Join(folder, "long")
	long(b, dir)
	recorded.Keep(b, dir)
	cache := filepath.Join(folder, series.CacheName)
	channels := []string{series.Level, series.Waveform, series.Current, series.RMS, series.Mass, series.ThirdOctaves}
	view := func(b *testing.B, h http.Handler, from, to float64, channels ...string) {
		var all sync.WaitGroup
		for _, c := range channels {
			all.Add(1)
			go func() {
				defer all.Done()
				get(b, h, fmt.Sprintf("/sessions/long/series?channel=%s&from=%g&to=%g&points=1600", c, from, to))
			}()
		}
		all.Wait()
	}
	shelf := func() *Shelf { return New(Options{Dir: folder, Tool: "quern test"}) }
	first := func(b *testing.B, cached bool, channels ...string) {
		for b.Loop() {
			b.StopTimer()
			if !cached {
				if err := os.RemoveAll(cache); err != nil {
					b.Fatal(err)
				}
			}
			h := shelf()
			b.StartTimer()
			if len(channels) == 0 {
				get(b, h.Handler(), "/sessions/long/result")
			} else {
				view(b, h.Handler(), 0, longS, channels...)
			}
			b.StopTimer()
			if err := h.Close(); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
		}
	}
	b.Run("no cache/result", func(b *testing.B) { first(b, false) })
	b.Run("no cache/waveform", func(b *testing.B) { first(b, false, series.Waveform) })
	b.Run("no cache/all six series, as far as they are", func(b *testing.B) { first(b, false, channels...) })
	b.Run("no cache/until everything is derived", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			if err := os.RemoveAll(cache); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
			h := shelf()
			derive(b, h, "long")
			if err := h.Close(); err != nil {
				b.Fatal(err)
			}
		}
	})
	if info, err := os.ReadDir(cache); err == nil && len(info) == 1 {
		if i, err := info[0].Info(); err == nil {
			b.Logf("the cache file has %.1f MB", float64(i.Size())/1e6)
		}
	}
	b.Run("cached/result", func(b *testing.B) { first(b, true) })
	b.Run("cached/all six series", func(b *testing.B) { first(b, true, channels...) })
	h := shelf()
	defer h.Close()
	derive(b, h, "long")
	for _, seconds := range []float64{1200, 600, 120, 40, 10, 1, 0.01} {
		for _, c := range append(append([]string{}, channels...), "") {
			name, all := c, []string{c}
			if c == "" {
				name, all = "all six", channels
			}
			b.Run(fmt.Sprintf("zoom/%g s/%s", seconds, name), func(b *testing.B) {
				at := 0.0
				for b.Loop() {
					at += 7.13
					if at+seconds > longS {
						at = 0
					}
					view(b, h.Handler(), at, at+seconds, all...)
				}
			})
		}
	}
	b.Run("result", func(b *testing.B) {
		for b.Loop() {
			get(b, h.Handler(), "/sessions/long/result")
		}
	})
	b.Run("sound of 120 s", func(b *testing.B) {
		for b.Loop() {
			get(b, h.Handler(), "/sessions/long/sound.wav?from=100&to=220")
		}
	})
	b.Run("what if", func(b *testing.B) {
		for b.Loop() {
			begun := time.Now()
			if _, err := h.WhatIf(b.Context(), "long", "detect.motor.overload_ratio = 1.3"); err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(time.Since(begun).Seconds(), "s")
		}
	})
}
