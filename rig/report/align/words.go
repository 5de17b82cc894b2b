package align

import (
	"cmp"
	"fmt"
	"math"
	"strconv"

	"quern/rig"
	"quern/rig/report"
)

// Words tells an alignment in two sentences, a line each.
func (a Alignment) Words() string {
	drift := fmt.Sprintf("its clock is %.1f millionths slow", a.DriftPPM)
	switch {
	case !a.DriftKnown:
		drift = "its clock's drift is not known"
	case math.Abs(a.DriftPPM) < 0.05:
		drift = "its clock keeps step"
	case a.DriftPPM < 0:
		drift = fmt.Sprintf("its clock is %.1f millionths fast", -a.DriftPPM)
	}
	where := fmt.Sprintf("at %s of session %s (%.4f s)", report.TimeWords(a.OffsetS), a.Session, a.OffsetS)
	if a.OffsetS < 0 {
		where = fmt.Sprintf("%.4f s before session %s", -a.OffsetS, a.Session)
	}
	text := fmt.Sprintf("%s begins %s; %s\n", cmp.Or(a.Camera, "the footage"), where, drift)
	if a.Method == ByHand {
		return text + fmt.Sprintf("by %s read off by hand, within %.0f ms there\n", rig.Count(a.Windows, "instant"), 1000*a.WithinS)
	}
	return text + fmt.Sprintf("both hear %s to %s of the session; within %.1f ms there; %d of %s agree, confidence %s\n",
		report.TimeWords(a.Overlap[0]), report.TimeWords(a.Overlap[1]), 1000*a.WithinS, a.Agreeing, rig.Count(a.Windows, "window"), strconv.FormatFloat(*a.Confidence, 'f', 4, 64))
}
