package sim

import (
	"fmt"
	"testing"
)

func BenchmarkSession(b *testing.B) {
	for _, levels := range []bool{false, true} {
		b.Run(fmt.Sprintf("levels=%v", levels), func(b *testing.B) {
			var s float64
			for b.Loop() {
				sc, _ := Named("stall-and-trip", 1)
				sc.LevelTruth = levels
				x, err := New(sc)
				if err != nil {
					b.Fatal(err)
				}
				for {
					if _, err := x.Next(); err != nil {
						break
					}
				}
				x.Truth()
				s += x.Seconds()
			}
			b.ReportMetric(b.Elapsed().Seconds()*60/s, "s/min")
		})
	}
}

func BenchmarkDraw(b *testing.B) {
	seed := uint64(0)
	for b.Loop() {
		seed++
		Draw(seed, Usual)
	}
}
