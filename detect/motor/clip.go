package motor

import "math"

// WatchClipping counts samples within belowDB of a full scale of 1.
func (t *Tracker) WatchClipping(belowDB float64) {
	t.clipAt = math.Pow(10, -belowDB/20)
	t.plainA = min(mostA, 0.999*t.clipAt*math.Abs(t.scale))
}

// past is the magnitude from which one sample alone counts as clipped: only a float recording holds it.
const past = 1.001

// ClippedSamples returns how many samples stood at full scale, three or more in a row, or beyond it.
func (t *Tracker) ClippedSamples() int { return t.clipped }

// LeftOut returns how many samples were no current (no number, or beyond 1e12 A) and were taken as 0.
func (t *Tracker) LeftOut() int { return t.leftOut }

func (t *Tracker) clip(v float64) {
	if v < t.clipAt && v > -t.clipAt {
		t.atClip, t.toldClip = 0, 0
		return
	}
	t.atClip++
	if t.toldClip > 0 || t.atClip >= 3 || v > past || v < -past {
		t.clipped += t.atClip - t.toldClip
		t.toldClip = t.atClip
	}
}
