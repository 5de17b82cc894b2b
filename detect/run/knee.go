package run

import "math"

const (
	kneeBeforeS = 3.0  // s before a fall was noticed in which it began
	kneeFallDB  = 10.0 // dB of the fall that are looked at
	kneeOverDB  = 2.0  // dB over the level: not the motor
	endsDBPerS  = 1.0  // a fall at the recording's end
	endsLeastDB = 2.5  // and by so much
	kneeUpDB    = 3.0  // dB within which the run-up is over
	kneeLeast   = 6    // beats that make a knee
)

// flat says whether the rumble stays where it is: a turntable that coasts loses some dB a second.
func (l *Listener) flat() bool {
	last := l.beats[len(l.beats)-flatN:]
	if upTo(last, beat.rumble, 0.3) < max(l.floor+overFloorDB, leastRumbleDB-risesDB) {
		return false
	}
	rate, ok := slope(last)
	return ok && math.Abs(rate) < flatDBPerS && upTo(last, beat.rumble, 1)-upTo(last, beat.rumble, 0) < steadyDB
}

// slope returns how fast the rumble rises, dB/s, if it can be told in every beat.
func slope(beats []beat) (dbPerS float64, ok bool) {
	var k, sx, sy, sxx, sxy float64
	for i := range beats {
		if !beats[i].certain() {
			return 0, false
		}
		x := float64(i) * beatS
		k, sx, sy, sxx, sxy = k+1, sx+x, sy+beats[i].r, sxx+x*x, sxy+x*beats[i].r
	}
	return (k*sxy - sx*sy) / (k*sxx - sx*sx), true
}

// ending says whether the motor coasted when the recording ended, and the beat in which that shows.
func (l *Listener) ending() (from int, ok bool) {
	n := len(l.beats)
	if n < 2*beginN {
		return 0, false
	}
	last := l.beats[n-2*beginN:]
	rate, ok := slope(last)
	return n - beginN, ok && rate < -endsDBPerS && medianOf(last[beginN:], beat.rumble) < l.level()-endsLeastDB && !l.grinds(last)
}

// knee returns when the fall that was noticed at a beat began: where a level and a straight fall in dB that follows
// it meet, by least squares. Beats in which something else is heard are left out.
// Those of the run-up and after beat to, where it may have risen again, too.
func (l *Listener) knee(from, to int) float64 {
	level := l.level()
	var ts, rs []float64
	for i := range l.beats[:min(to+1, len(l.beats))] {
		b := &l.beats[i]
		mid := (b.fromS + b.toS) / 2
		if b.fromS < l.onS || mid < l.beats[from].fromS-kneeBeforeS {
			continue
		}
		r := b.r
		if b.hi < level-kneeFallDB {
			r = b.hi
		} else if !b.certain() || r > level+kneeOverDB {
			continue
		}
		if len(ts) == 0 && r < level-kneeUpDB {
			continue
		}
		ts, rs = append(ts, mid), append(rs, max(r, level-2*kneeFallDB))
		if i > from && r < level-kneeFallDB {
			break
		}
	}
	at, best := l.beats[from].fromS, math.Inf(1)
	if len(ts) < kneeLeast {
		return at
	}
	// r = c - s·max(t-t0, 0) for every t0 in steps of a fifth of a beat.
	for t0 := ts[0]; t0 < ts[len(ts)-1]-beatS/5; t0 += beatS / 5 {
		var k, sx, sy, sxx, sxy, syy float64
		for i, t := range ts {
			x := max(t-t0, 0)
			k, sx, sy, sxx, sxy, syy = k+1, sx+x, sy+rs[i], sxx+x*x, sxy+x*rs[i], syy+rs[i]*rs[i]
		}
		slope := (k*sxy - sx*sy) / (k*sxx - sx*sx)
		c := (sy - slope*sx) / k
		if sse := syy - c*sy - slope*sxy; slope < 0 && sse < best {
			best, at = sse, t0
		}
	}
	return max(at, l.onS)
}
