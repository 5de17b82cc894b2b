package mass

import "math"

const (
	longestWaitS = 5.0 // s within which a stable indication stays within 1 e: OIML R 76-1:2006 4.4.2 and A.4.12, from memory
	leastG       = 5.0 // g, default of Settings.MinStepG
)

// Settings is how weighings are taken from a scale. A field that is 0 takes its default.
type Settings struct {
	// DivisionG is one step of the indication, g; default 1, the usual shop scale. At rest is within
	// one of them.
	DivisionG float64
	// VerificationG is e, g; default DivisionG. By it the seconds after a weighing are judged.
	VerificationG float64
	// RestS is how long the pan is at rest before a weighing, s; default 1: range within a division
	// over a second is the bench's own test (common practice). It is waited longer, up to 5 s, where
	// the pan came to rest slowly or shows two values by turns: see Now.NeedS. A scale that averages
	// over more than a second needs a longer one, or a push that is over shows as a load.
	RestS float64
	// Readings is how many are needed in that time; default 5: three of a slow scale may agree by
	// chance while the bench shakes.
	Readings int
	// MinStepG is the least change that is a load placed or removed, g; default 5 g or 5 divisions,
	// whichever is more. Two divisions never are one: a knock may shift as much.
	MinStepG float64
	// DripGPerMin is the fastest that mass comes or goes by itself, g/min; default 60, twice what
	// freshly drained leftovers lose at most (0.5 g/s). Changes slower than that are no new load.
	DripGPerMin float64
	// SlopeLimitGPerMin is how fast a wet load may still lose when it is taken by itself, g/min;
	// default 6: 20 s sooner or later then make 2 g, the usual uncertainty of the water retained.
	SlopeLimitGPerMin float64
	// GapS is how long a reading stands, s; default 2, after which a source counts as silent. After a
	// longer gap the wait begins anew.
	GapS float64
	// MaxG is the scale's capacity, g; default none. More is an overload and not taken.
	MaxG float64
}

// filled returns the settings with their defaults.
func (s Settings) filled() Settings {
	def := func(v *float64, to float64) {
		if !(*v > 0) || math.IsInf(*v, 0) {
			*v = to
		}
	}
	def(&s.DivisionG, 1)
	def(&s.VerificationG, s.DivisionG)
	def(&s.RestS, 1)
	def(&s.MinStepG, max(leastG, 5*s.DivisionG))
	def(&s.DripGPerMin, 60)
	def(&s.SlopeLimitGPerMin, 6)
	def(&s.GapS, 2)
	def(&s.MaxG, math.MaxFloat64)
	if s.Readings <= 0 {
		s.Readings = 5
	}
	return s
}

// dripG is how much the indication may change in a time without a load having been placed or removed:
// what drips, and one division of rounding.
func (s *Settings) dripG(inS float64) float64 {
	return s.DripGPerMin/60*min(max(inS, restS), pastS) + s.DivisionG*1.001
}

// proofS is how long a slope must be watched until the limit is more than a division's rounding, s.
func (s *Settings) proofS() float64 {
	return min(max(60*s.DivisionG/s.SlopeLimitGPerMin, s.RestS), pastS*0.95)
}
