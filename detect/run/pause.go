package run

import (
	"math"
	"slices"
)

// A motor that is switched off for a moment coasts: all it is heard by, low and high, grows evenly less, by so many dB a
// second, and once it is switched on again it is back at once, as loud as before. That is a tooth of a saw. Load comes at once
// and goes slowly, too, but comes back to another level, and not in all octaves; what rings begins at once and dies away.

const (
	toothLeast = 10  // hops that a motor coasts for, at least: in fewer, chance makes teeth, too
	toothMost  = 30  // and at most: after more it is heard to be off
	toothStep  = 2   // hops by which these lengths differ
	levelN     = 8   // hops before and after in which the level is known
	backN      = 2   // hops in which it is back
	eachDB     = 1.5 // dB that it grows less by, in all octaves that it stands out in but one
	onceDB     = 1.8 // dB that it is back by at once
	toothFar   = 3.0 // dB that it may come back to another level by, their mean
	toothSure  = 4.0 // by how much better a tooth fits than a straight line, in squares of the usual step, a hop and octave
	stepMost   = 9.0 // of which one hop tells no more
	stepLeast  = 0.7 // dB of that step, at least: a hum hardly steps
	toothBands = 4   // octaves in which the motor must stand out

	// A deep one shows in the floors, whatever falls on top and whatever its course.
	pauseN  = 30  // hops before the lowest in which it was louder
	smoothN = 3   // hops between up and down, at least
	againN  = 6   // hops in which it is back
	pauseDB = 4.0 // dB by which each octave but one grows less, and half as much again by which they do on the whole
)

// pauses finds where a motor coasted for a moment and was switched on again.
func (s *spectra) pauses(fl, level []octaveDB, path []uint8) {
	var wide, deep []int // octaves in which the motor stands out enough
	for b, use := range s.use {
		if use && s.half[b] >= toothFar {
			wide = append(wide, b)
		}
		if use && s.half[b] >= pauseDB {
			deep = append(deep, b)
		}
	}
	if len(wide) < toothBands {
		return
	}
	steps := s.steps(level, path)
	stop := func(from int) {
		for i := from; i <= from+2*floorHops; i++ {
			path[i] = stopped
		}
	}
	for k := toothLeast + levelN; k+backN+levelN < len(path); k++ {
		switch {
		case path[k] != turns || path[k-1] != turns:
		case len(deep) >= toothBands && k >= pauseN && s.coasts(fl, k):
			stop(k)
			k += 2 * floorHops
		case s.tooth(level, wide, &steps, k):
			stop(k - floorHops)
			k += 2 * floorHops
		}
	}
}

// steps returns the usual step from hop to hop of each octave while the motor turns, dB.
func (s *spectra) steps(level []octaveDB, path []uint8) (by [8]float64) {
	for b := range by {
		var d []float64
		for k := 1; k < len(path); k++ {
			if v := math.Abs(float64(level[k][b] - level[k-1][b])); path[k] == turns && path[k-1] == turns && v == v {
				d = append(d, v)
			}
		}
		if len(d) > 0 {
			by[b] = nth(d, len(d)/2)
		}
		by[b] = max(by[b], stepLeast)
	}
	return by
}

// risen is by how much it is louder at once after a hop, dB, the mean over some octaves.
func risen(level []octaveDB, bands []int, k int) float64 {
	by := 0.0
	for _, b := range bands {
		by += float64(level[k+backN][b]+level[k+backN+1][b]-level[k-1][b]-level[k][b]) / 2
	}
	return by / float64(len(bands))
}

// tooth says whether one ends at a hop, of whatever length fits best.
func (s *spectra) tooth(level []octaveDB, bands []int, steps *[8]float64, k int) bool {
	best, sure := 0.0, false
	if !(risen(level, bands, k) > onceDB) {
		return false // as nearly always: no need to look more closely
	}
	for n := toothLeast; n <= min(toothMost, k-levelN); n += toothStep {
		gain, back := 0.0, 0.0
		deep := 0
		for _, b := range bands {
			was, is := medianOf(level[k-n-levelN:k-n], b), medianOf(level[k+backN:k+backN+levelN], b)
			low := max(float64(level[k-1][b]+level[k][b])/2, s.base[b]+toothFar) // nearer to the tap's than that it says nothing
			if min(was, is)-low > eachDB {
				deep++
			}
			back += math.Abs(is - was)
			for i := 1; i <= n; i++ {
				v, share := float64(level[k-n+i][b]), float64(i)/float64(n)
				gain += min(sq((v-was-(is-was)*share)/steps[b]), stepMost) - min(sq((v-was-(low-was)*share)/steps[b]), stepMost)
			}
		}
		all := float64(len(bands))
		if gain > best && deep >= len(bands)-1 && back <= toothFar*all {
			best, sure = gain, gain >= toothSure*all*float64(n)
		}
	}
	return sure
}

// medianOf is the median level of an octave in some hops; NaN: it is not known in one of them.
func medianOf(level []octaveDB, b int) float64 {
	v := make([]float64, 0, levelN)
	for i := range level {
		v = append(v, float64(level[i][b]))
	}
	slices.Sort(v)
	if v[0] != v[0] { // which sorts first
		return v[0]
	}
	return v[len(v)/2]
}

// coasts says whether all octaves but one are lowest about a hop, after a gradual fall and before a sudden rise.
func (s *spectra) coasts(fl []octaveDB, k int) bool {
	var ref [8]float64
	all, less, sum := 0.0, 0.0, 0.0
	for b, use := range s.use {
		v := float64(fl[k][b])
		if !use || v != v || s.half[b] < pauseDB {
			continue
		}
		before, after := v, v
		for _, f := range fl[k-pauseN : k] {
			before = max(before, float64(f[b]))
		}
		for _, f := range fl[k : k+againN] {
			after = max(after, float64(f[b]))
		}
		ref[b] = min(before, after)
		all++
		d := ref[b] - v
		sum += min(d, 2*farDB)
		if d >= pauseDB && v < s.motor[b] {
			less++
		}
	}
	if less < all-1 || sum < 1.5*pauseDB*all {
		return false
	}
	// On the way down it is neither up nor down for a while.
	between := 0
	for i := k - 1; i > k-pauseN; i-- {
		d := 0.0
		for b, use := range s.use {
			if use && s.half[b] >= pauseDB {
				d += min(max(ref[b]-float64(fl[i][b]), 0), 2*farDB)
			}
		}
		if d < 0.2*sum {
			break
		}
		if d < 0.8*sum {
			between++
		}
	}
	return between >= smoothN
}
