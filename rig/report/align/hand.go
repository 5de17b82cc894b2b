package align

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Pair is one instant on both clocks: where the footage shows it, and when it was in the session.
type Pair struct{ CameraS, SessionS float64 }

// What a person can tell who reads an instant off footage.
const (
	readS    = 0.04 // one frame, and when the rig took note of a slate
	leastGap = 60.0 // s between two instants from which a drift can be told
)

// ByPairs lines a camera up by instants that a person read off the footage: one gives the offset, more than
// one, a minute or more apart, the drift too. The error is a [*Refusal].
func ByPairs(pairs []Pair) (Alignment, error) {
	pairs = slices.Clone(pairs)
	slices.SortFunc(pairs, func(a, b Pair) int { return cmp.Compare(a.CameraS, b.CameraS) })
	if len(pairs) == 0 {
		return Alignment{}, &Refusal{TooShort, "found no instant", "name at least one that the footage shows"}
	}
	n := float64(len(pairs))
	var c, lag float64
	for _, p := range pairs {
		if !(math.Abs(p.CameraS) < 1e7) || !(math.Abs(p.SessionS) < 1e7) {
			return Alignment{}, &Refusal{Imprecise, fmt.Sprintf("found the instants %g s and %g s", p.CameraS, p.SessionS), "expected times within a session"}
		}
		c += p.CameraS / n
		lag += (p.SessionS - p.CameraS) / n
	}
	a := Alignment{Method: ByHand, Windows: len(pairs)}
	first, last := pairs[0].CameraS, pairs[len(pairs)-1].CameraS
	drift, driftU := 0.0, usualPPM*1e-6
	if last-first >= leastGap {
		var sxx, sxy float64
		for _, p := range pairs {
			sxx += (p.CameraS - c) * (p.CameraS - c)
			sxy += (p.CameraS - c) * (p.SessionS - p.CameraS - lag)
		}
		// What is known of clocks counts too: two instants a minute apart do not tell more than that.
		v, prior := readS*readS/3, 1/(usualPPM*usualPPM*1e-12)
		drift, driftU = sxy/v/(sxx/v+prior), 1/math.Sqrt(sxx/v+prior)
		a.DriftKnown = driftU < 0.25*usualPPM*1e-6
	}
	if math.Abs(drift) > MostDriftPPM*1e-6 {
		return a, &Refusal{NoMatch, fmt.Sprintf("the instants say that one clock is %.0f millionths off the other, expected at most %.0f", 1e6*drift, MostDriftPPM), "read them again; footage that was played at another speed, or cut, cannot be lined up"}
	}
	for _, p := range pairs {
		off := p.SessionS - p.CameraS - lag - drift*(p.CameraS-c)
		if math.Abs(off) > 2*readS+2*driftU*math.Abs(p.CameraS-c) {
			return a, &Refusal{NoMatch, fmt.Sprintf("the instants do not fit together: that at %.3f s of the camera is off by %.3f s", p.CameraS, off), "read them again; footage that was played at another speed, or cut, cannot be lined up"}
		}
		if off = math.Abs(off); off <= onLineS*20 {
			a.Agreeing++
		}
	}
	a.OffsetS, a.DriftPPM = lag-drift*c, 1e6*drift
	far := max(math.Abs(first-c), math.Abs(last-c))
	a.WithinS = readS/math.Sqrt(n) + 2*driftU*far
	a.Overlap = [2]float64{a.SessionS(first), a.SessionS(last)}
	return a, nil
}

// Typed returns an alignment whose offset, s, and drift, millionths, a person states.
func Typed(offsetS, driftPPM float64) (Alignment, error) {
	if !(math.Abs(offsetS) < 1e7) || !(math.Abs(driftPPM) <= MostDriftPPM) {
		return Alignment{}, fmt.Errorf("found an offset of %g s and a drift of %g millionths, expected a time within a session and at most %g millionths either way", offsetS, driftPPM, MostDriftPPM)
	}
	return Alignment{Method: ByHand, OffsetS: offsetS + 0, DriftPPM: driftPPM + 0}, nil // no negative zero
}
