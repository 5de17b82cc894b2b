package run

import (
	"math"
	"slices"
)

const (
	riseN       = 10   // hops before a rise in which its beginning is known
	leastRiseDB = 4.0  // dB of a rise that show its beginning, if a third of it is less
	coastsS     = 6.0  // s that a turntable may coast: a stop may lie so far before its being heard
	stoodDB     = 15.0 // dB below the running motor, from which it surely runs no more
	kneeS       = 1.0  // s before a fall in which its level is known
	kneeDB      = 4.0  // dB beyond which what does not fit does not fit the less
	fallCost    = 0.15 // dB a hop by which a fall that takes longer than the floor's own width must fit the better
	fallsDB     = 5.0  // dB that the motor's sound has fallen by at the recording's end if it is stopping
)

// rose returns when the floor that is lifted at a hop began to rise.
func (l *Listener) rose(fl []octaveDB, hop int) float64 {
	// A third of the way from what it was to what it is.
	var limit [8]float64
	for b := range limit {
		low, high := float64(fl[hop][b]), float64(fl[hop][b])
		for _, f := range fl[max(0, hop-riseN):hop] {
			low = min(low, float64(f[b]))
		}
		for _, f := range fl[hop:min(len(fl), hop+2*floorHops)] {
			high = max(high, float64(f[b]))
		}
		limit[b] = low + max((high-low)/3, leastRiseDB)
	}
	over := func(db *octaveDB) bool {
		n, yes := 0, 0
		for b, use := range l.spectra.use {
			if v := float64(db[b]); use && v == v {
				n++
				if v > limit[b] {
					yes++
				}
			}
		}
		return n > 0 && 3*yes >= 2*n
	}
	k := hop
	for k > 0 && hop-k < 3*floorHops && over(&l.floors.level[k-1]) {
		k--
	}
	at := float64(l.floors.first+k) * hopS
	// Within the hop, and the one before it: the first 10 ms in which most octaves stand out.
	for i := range l.frames {
		f := &l.frames[i]
		if f.StartS < at-hopS-1e-6 {
			continue
		}
		db := octavesOf(f, f.EndS-f.StartS)
		if f.StartS >= at+hopS || !f.Missing && over(&db) {
			return min(f.StartS, at+hopS)
		}
	}
	return at
}

// fell returns when the motor that is not heard any more at a hop began to be heard less.
func (l *Listener) fell(fl []octaveDB, hop int, before uint8) float64 {
	s, hum := &l.spectra, before == hums
	began := l.sameN - l.floors.first
	began = max(began, 0)
	end := hop
	for end < min(hop+4*floorHops, len(fl)-3) && s.loud(&fl[end], hum) > s.loud(&fl[end+2], hum)+1 {
		end++
	}
	at, _ := s.knee(fl, began, min(end+1, len(fl)), hum)
	if before == grinding {
		at = hop
	}
	return float64(l.floors.first+at) * hopS
}

// knee returns the hop at which what is heard of a motor, which is not heard at the end of a stretch any more or less,
// began to fall: where the level of the second before each hop, and then a fall straight down in dB to the level at the
// end, fit best. So a load that goes, or a tap, some seconds before is a step between levels and not the fall's
// beginning. And by how much it fell. Once it is far below any level of the running motor, what follows may last: a heavy
// turntable rumbles on.
func (s *spectra) knee(fl []octaveDB, began, end int, hum bool) (hop int, byDB float64) {
	from := max(began, end-int((coastsS+kneeS)/hopS))
	for !hum && end > from+3 && s.loud(&fl[end-2], hum) < -stoodDB {
		end--
	}
	n := end - from
	if n < 3 {
		return end, 0
	}
	d := make([]float64, n)
	for k := range d {
		d[k] = s.loud(&fl[from+k], hum)
	}
	last := d[max(0, n-2):]
	low := last[0]
	for _, v := range last {
		low = min(low, v)
	}
	best, before := math.Inf(1), 0.0 // what does not fit before the knee
	hop = end
	for k := 1; k < n; k++ {
		w := slices.Clone(d[max(0, k-int(kneeS/hopS)):k])
		slices.Sort(w)
		level := w[len(w)/2]
		cost := before + fallCost*float64(max(0, n-k-2*floorHops))
		for i, v := range d[k:] {
			if e := math.Abs(v - level - (low-level)*float64(i+1)/float64(n-k)); e == e {
				cost += min(e, kneeDB)
			}
		}
		if cost < best {
			best, hop, byDB = cost, from+k, level-low
		}
		if e := math.Abs(d[k] - level); e == e {
			before += min(e, kneeDB)
		}
	}
	return min(hop+floorHops, len(fl)), byDB // the floor falls before the sound does
}

// loud says by how much a floor stands above the motor's, dB, in the lower quarter of the octaves: what else is heard
// stands above it in some. hum: in that of its hum.
func (s *spectra) loud(db *octaveDB, hum bool) float64 {
	var v []float64
	for b, use := range s.use {
		if x := float64(db[b]); use && x == x && (!hum || b == s.humAt()) {
			v = append(v, max(x, s.base[b])-s.motor[b])
		}
	}
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return v[(len(v)-1)/4]
}
