package run

import (
	"math"
	"testing"
)

// TestFollowerLoadedEvenly: soft food lifts a current that follows the load by a third for seconds, hardly unevenly, and is
// heard now and then. Where nothing is heard, that was the supply or another appliance.
func TestFollowerLoadedEvenly(t *testing.T) {
	for _, c := range []struct {
		heard bool
		wantS float64
	}{{true, 5}, {false, 0}} {
		k := 0
		l := chamberOf(20, func(at float64, b *block) {
			b.sdRad = 0
			if at > 4.95 && at < 10 {
				b.meanA *= 1.3
				if k++; c.heard && k%5 < 2 {
					loud(b, 2, 3)
				}
			}
		})
		l.induction = false
		l.set.BandOther = 0.1
		s := maskedS(t, l)
		if !(math.Abs(s-c.wantS) <= 0.4) {
			t.Errorf("heard %v: load for %.1f s, want %g", c.heard, s, c.wantS)
		}
	}
}

// maskedS learns the empty chamber of a run and returns for how long it was loaded, s.
func maskedS(t *testing.T, l *loads) (s float64) {
	t.Helper()
	tp, ok := l.learn()
	if !ok {
		t.Fatal("no empty chamber found")
	}
	for _, load := range l.mask(&tp) {
		if load {
			s += blockS
		}
	}
	return s
}
