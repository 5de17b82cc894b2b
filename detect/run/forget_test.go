package run

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestForgotFrom finds the end of a current in what a meter forgets, and in nothing else that falls.
func TestForgotFrom(t *testing.T) {
	const endS = 2.03
	for _, c := range []struct {
		name   string
		a      func(ageS float64) float64 // what is shown so long after the end
		noiseA float64
		want   bool
	}{
		{"forgets", func(age float64) float64 { return 2 * math.Exp(-age/0.4) }, 0, true},
		{"forgets, and strays", func(age float64) float64 { return 2 * math.Exp(-age/0.25) }, 0.04, true},
		{"forgets, and its last is lost in that", func(age float64) float64 {
			if age > 0.9 {
				return 0.09
			}
			return 2 * math.Exp(-age/0.4)
		}, 0.02, true},
		{"creeps", func(age float64) float64 { return 2 * math.Exp(-age/3) }, 0, false},
		{"falls ever slower", func(age float64) float64 { return 2 / sq(1+4*age) }, 0, false},
		{"is gone at once", func(age float64) float64 { return 0 }, 0, false},
		{"had sunk a little, and is gone at once", func(age float64) float64 {
			if age < 0.35 {
				return 2 * math.Exp(-age)
			}
			return 0
		}, 0, false},
	} {
		f := flow{lim: limits{ratedA: 5}, base: 0.02, spread: c.noiseA * c.noiseA}
		rng := rand.New(rand.NewPCG(7, 8))
		for k := 1; k <= 30; k++ {
			at := 0.1 * float64(k)
			a := 2.0
			if at > endS {
				a = c.a(at - endS)
			}
			f.recent = append(f.recent, Current{StartS: at - 0.1, EndS: at, RMSA: math.Hypot(a, f.base) + c.noiseA*math.Abs(rng.NormFloat64())})
		}
		at, ok := f.forgotFrom()
		if ok != c.want || ok && math.Abs(at-endS) > 0.01+2*c.noiseA {
			t.Errorf("%s: %.3f s, %v", c.name, at, ok)
		}
	}
}

// TestStoodStill: a current that stood at one value of the display, and is gone but for a part of a reading, went at once.
func TestStoodStill(t *testing.T) {
	f := flow{lim: limits{ratedA: 5}, base: 0.01}
	for k := 1; k <= 30; k++ {
		a := 2.0
		switch {
		case k < 12 && k%2 == 0:
			a = 2.01
		case k == 21:
			a = 0.72
		case k > 21:
			a = 0.01
		}
		at := 0.1 * float64(k)
		f.recent = append(f.recent, Current{StartS: at - 0.1, EndS: at, RMSA: math.Hypot(a, 0.001)})
	}
	if at, ok := f.forgotFrom(); ok {
		t.Errorf("it began to go at %.2f s", at)
	}
}
