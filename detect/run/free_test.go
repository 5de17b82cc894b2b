package run

import (
	"math"
	"testing"
)

// TestRunsFree takes a load off a motor whose current follows it: the second in which it runs up again is no load. A load that
// goes in steps or ever faster is, and one that comes again.
func TestRunsFree(t *testing.T) {
	const goneS = 10.0
	for _, c := range []struct {
		name  string
		after func(ageS float64) float64 // what is left of the load's current
		endS  float64
	}{
		{"runs up", func(age float64) float64 { return math.Exp(-age / 0.35) }, goneS},
		{"runs up slowly", func(age float64) float64 { return math.Exp(-age / 1.2) }, goneS},
		{"runs up from far", func(age float64) float64 { return 2.5 * math.Exp(-age/0.5) }, goneS},
		{"goes in steps", func(age float64) float64 { return math.Floor(4-4*age) / 4 }, goneS + 0.8},
		{"falls ever faster", func(age float64) float64 { return 1 - age*age }, goneS + 0.9},
		{"comes again", func(age float64) float64 {
			if age > 0.6 && age < 1.2 {
				return 0.8
			}
			return math.Exp(-age / 0.35)
		}, goneS + 1.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := chamberOf(24, func(at float64, b *block) {
				b.sdRad = 0
				left := 0.0
				switch {
				case at > 4.95 && at < goneS-0.01:
					left = 1
					b.sdA = 0.05
					loud(b, 5, 8)
				case at > goneS-0.01:
					left = max(c.after(at-goneS), 0)
					loud(b, float32(-3*left), float32(-5*left)) // slower, it is quieter
				}
				b.meanA *= float32(1 + 0.4*left)
			})
			l.induction = false
			l.set.BandOther = 0.1
			tp, ok := l.learn()
			if !ok {
				t.Fatal("no empty chamber found")
			}
			_, last := endsOf(l.mask(&tp))
			if got := l.blocks[max(last, 0)].toS; !(math.Abs(got-c.endS) <= 0.35) {
				t.Errorf("clear at %.1f s, want %g", got, c.endS)
			}
		})
	}
}

// TestFreeFalls: a current that lies where it is, or creeps, does not run up again.
func TestFreeFalls(t *testing.T) {
	tp := template{amp0: 4, amp1: 4, stepA: 0.01}
	for _, c := range []struct {
		name  string
		above func(k float64) float64 // half-widths of the no-load band
		at    int
		want  bool
	}{
		{"decays", func(k float64) float64 { return 2 * math.Exp(-k/5) }, 2, true},
		{"has nearly decayed", func(k float64) float64 { return 2 * math.Exp(-k/5) }, 12, true},
		{"falls on the whole, and rises in between", func(k float64) float64 {
			return []float64{3, 2.5, 1.8, 2.2, 1.4, 1.6, 1, 1.2, 0.7, 0.75, 0.6, 0.5, 0.3}[int(min(k, 12))]
		}, 2, false},
		{"has decayed, and rises", func(k float64) float64 { return max(2*math.Exp(-k/5), 0.1*(k-10)) }, 16, false},
		{"creeps", func(k float64) float64 { return 0.49 - 0.01*k }, 2, false},
		{"is there already", func(k float64) float64 { return 0.3 * math.Exp(-k/5) }, 2, false},
	} {
		l := chamberOf(3, func(at float64, b *block) { b.meanA, b.young = float32(4+0.4*c.above(at/blockS)), false })
		l.induction, l.set.BandOther = false, 0.1
		if got := l.runsFree(c.at, &tp); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
