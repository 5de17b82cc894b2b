package run

import (
	"math"
	"testing"

	"quern/rig"
)

// TestHowSure: where the course of the chamber is plain, its ends are known to some tenths; where another one is about as
// likely, an end says how far off it may be, and is less sure. The instant told is the likelier one.
func TestHowSure(t *testing.T) {
	strike := func(fromS, overDB float64) func(at float64, b *block) {
		return func(at float64, b *block) {
			if within(at, fromS, 1) {
				loud(b, float32(overDB), float32(overDB))
			}
		}
	}
	for _, c := range []struct {
		name      string
		change    func(at float64, b *block)
		kind      rig.Kind
		lateS     float64 // this may have been the end, or the beginning
		most      float64 // s within at most
		leastSure float64
		mostSure  float64
	}{
		{"nothing else", func(float64, *block) {}, rig.LoadEnd, 10, 0.8, 0.85, 0.9},
		{"nothing else", func(float64, *block) {}, rig.LoadStart, 5, 0.5, 0.7, 0.9},
		{"a click long after", strike(50, 9), rig.LoadEnd, 10, 0.8, 0.85, 0.9}, // a piece does not hide as long
		{"a click, or the last of it", strike(13, 8), rig.LoadEnd, 13.1, 4, 0.4, 0.85},
		{"a click, or the first of it", func(at float64, b *block) {
			if within(at, 3.5, 2) {
				loud(b, 7, 7)
			}
		}, rig.LoadStart, 3.5, 3, 0.4, 0.85},
	} {
		l := chamberOf(60, func(at float64, b *block) {
			blind(at, b)
			if at > 4.95 && at < 10 {
				b.meanA += 0.3
				loud(b, 10+float32(math.Mod(at*7, 3)), 12+float32(math.Mod(at*7, 3)))
			}
			c.change(at, b)
		})
		tp, ok := l.learn()
		if !ok {
			t.Fatalf("%s: no empty chamber found", c.name)
		}
		f := Found{On: []Interval{{0, 60}}}
		l.tell(&f, &tp, l.mask(&tp))
		n := 0
		for _, e := range f.Events {
			if e.Kind != c.kind {
				continue
			}
			n++
			d := math.Abs(e.AtS.V - c.lateS)
			if d > e.WithinS.V || e.WithinS.V > c.most || e.Sure.V < c.leastSure || e.Sure.V > c.mostSure {
				t.Errorf("%s: %s at %.2f s, within %.2f s, sure %.2f", c.name, e.Kind, e.AtS.V, e.WithinS.V, e.Sure.V)
			}
		}
		if n != 1 {
			t.Errorf("%s: %d times %s", c.name, n, c.kind)
		}
	}
}

// TestLikelyAgrees: the likeliest block for the first and for the last load is that of the likeliest course.
func TestLikelyAgrees(t *testing.T) {
	for seed := range 40 {
		from, to := 3+float64(seed%7), 12+float64(seed%5)
		l := chamberOf(25, func(at float64, b *block) {
			if at > from-0.05 && at < to && (seed+int(at*10)*7)%5 != 0 {
				b.meanA, b.sdA, b.sdRad = b.meanA+0.4, 0.02, 0.01
				loud(b, 8, 8)
			}
			if within(at, 17+float64(seed%3), 1) {
				loud(b, float32(seed), float32(seed))
			}
		})
		tp, ok := l.learn()
		if !ok {
			t.Fatal("no empty chamber found")
		}
		first, last := endsOf(l.mask(&tp))
		k := l.likely()
		at := func(v []float64) int {
			best := 0
			for i := range v {
				if v[i] > v[best] {
					best = i
				}
			}
			return best
		}
		if a, b := at(k.first), at(k.last); !(math.Abs(float64(a-first)) <= trimN) || !(math.Abs(float64(b-last)) <= trimN) || !(math.Abs(k.first[a]-k.last[b]) <= 1e-6) {
			t.Errorf("seed %d: load from block %d to %d, likeliest %d (%.3f nats) and %d (%.3f)", seed, first, last, a, k.first[a], b, k.last[b])
		}
	}
}
