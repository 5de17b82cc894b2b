package overlay

import (
	"context"
	"io"
	"testing"

	"quern/rig/report/timecode"
)

// How many frames of 1920x1080 at 25 a second are drawn: while a run goes on, while a pause moves the
// limit, so that all of the ribbon is painted anew, and while nothing happens. Run it on one core:
//
//	go test -bench Raw -cpu 1 ./rig/report/overlay
func BenchmarkRaw(b *testing.B) {
	for _, c := range []struct {
		name string
		from float64
	}{{"run", 30}, {"pause", 65}, {"still", 190}} {
		b.Run(c.name, func(b *testing.B) {
			f := film(b, eventful(), looks[0])
			s := Span{Rate: timecode.Rate{Num: 25, Den: 1}, FromS: c.from, ToS: c.from + 10}
			n := int64(0)
			for b.Loop() {
				if err := WriteRaw(context.Background(), io.Discard, f, s, func(int64) { n++ }); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "frames/s")
		})
	}
}
