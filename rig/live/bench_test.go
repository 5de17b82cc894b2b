package live

import (
	"io"
	"testing"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/rig"
)

// BenchmarkRecording is what a second of a bench (48 kHz sound, 8 kHz current, a scale) costs the engine
// while a session is recorded and analysed: analysis, encoding, journal, syncs, snapshots.
func BenchmarkRecording(b *testing.B) {
	sc, _ := sim.Named("plain", 1)
	one, err := sim.New(sc)
	if err != nil {
		b.Fatal(err)
	}
	var blocks []rig.Block
	for {
		blk, err := one.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			b.Fatal(err)
		}
		blk.Samples, blk.Readings = append([]float64(nil), blk.Samples...), append([]rig.Reading(nil), blk.Readings...)
		blocks = append(blocks, blk)
	}
	now := time.Unix(0, 0)
	var sources []acquire.Source
	for _, s := range one.Streams() {
		sources = append(sources, acquire.Source{Device: &loop{stream: s}})
	}
	sup, err := acquire.New(func() time.Time { return now }, now, sources)
	if err != nil {
		b.Fatal(err)
	}
	e, err := New(sup, Options{Dir: b.TempDir(), Setup: one.Setup(), Wall: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	atS, lapS, i := 0.0, 0.0, 0
	for b.Loop() { // one second of the bench
		for end := atS + 1; atS < end; i++ {
			if i == len(blocks) {
				i, lapS = 0, atS
			}
			blk := blocks[i]
			blk.StartS += lapS
			blk.Samples = append([]float64(nil), blk.Samples...)
			blk.Readings = append([]rig.Reading(nil), blk.Readings...)
			for k := range blk.Readings {
				blk.Readings[k].AtS += lapS
			}
			if blk.Channel == rig.Microphone {
				atS = blk.StartS + float64(len(blk.Samples))/sc.Sound.RateHz
			}
			now = time.Unix(0, int64(atS*1e9))
			e.take(blk)
			e.look()
		}
	}
	if err := e.close("the benchmark ends"); err != nil {
		b.Fatal(err)
	}
}
