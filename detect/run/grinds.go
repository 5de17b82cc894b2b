package run

import "math"

// Load slows a motor down: where its current follows load it may hardly be heard then, and beside a tap not at all. What
// tells that it turns is what it grinds: impacts that go on falling, several a second, and are sharp, as loud high as low.
// A voice is not: its vowels are low, its sibilants high.

const (
	grindN     = 20  // hops in which impacts are counted
	grindLeast = 3   // of them, at least: dishes that are put down strike less often
	grindsN    = 40  // hops for which they go on at least: nobody claps for as long
	grindHideN = 50  // hops for which a voice may hide them
	grindGapN  = 240 // hops at most from there to where the motor is heard again
	grindFalls = 1.5 // dB by which what is heard of it between impacts may fall
	sharpDB    = 3.0 // dB above the hop before, in the mean
	sharpFrom  = 3   // octave, that of 500 Hz, from which on it is
	highLess   = 8.0 // dB by which the two highest may be less than the two lowest of these
)

// grinds takes back that the motor stopped where it is heard to grind on.
func (s *spectra) grinds(fl, level []octaveDB, path []uint8) {
	var struck []int // impacts up to a hop
	for k := 1; k < len(path); k++ {
		if path[k] != stopped || path[k-1] != turns {
			continue
		}
		if struck == nil {
			struck = s.strikes(fl, level)
		}
		to := s.grindsUntil(fl, struck, path, k)
		how := uint8(grinding)
		if to < len(path) && path[to] == turns {
			how = turns
		}
		for ; k < to; k++ {
			path[k] = how
		}
	}
}

// strikes counts the impacts before each hop, and before the end.
func (s *spectra) strikes(fl, level []octaveDB) []int {
	n := make([]int, len(level)+1)
	for k := range level {
		n[k+1] = n[k]
		if k > 0 && s.isStrike(&fl[k], &level[k], &level[k-1]) {
			n[k+1]++
		}
	}
	return n
}

// grindsUntil returns the hop up to which impacts go on from one at which a motor was thought to stop, or that one. Then
// it may have been silent, or drowned, for a while: if what is heard of it between them has not fallen.
func (s *spectra) grindsUntil(fl []octaveDB, struck []int, path []uint8, from int) int {
	end := from
	for end < len(path) && path[end] == stopped {
		end++
	}
	to, most := from, from
	for j := from; j <= min(most, end-grindN); j++ {
		if struck[j+grindN]-struck[j] < grindLeast {
			continue
		}
		if j > to && (to-from < grindsN || s.falls(fl, from, to, j)) {
			break
		}
		to = j + grindN
		most = to + grindHideN
	}
	if to-from < grindsN {
		return from
	}
	if gap := end - to; end < len(path) && path[end] == turns && (gap <= grindN || gap <= grindGapN && !s.falls(fl, from, to, end) && !s.leaps(fl, end)) {
		return end
	}
	if s.falls(fl, from, (from+to)/2, to) {
		return from // it coasts, with what strikes meanwhile
	}
	for struck[to] == struck[to-1] {
		to-- // the last impact
	}
	return to
}

// falls says whether what is heard below 1.4 kHz from a hop to a second is louder than from there to a third.
func (s *spectra) falls(fl []octaveDB, from, to, end int) bool {
	was, is := hopsOf(from+floorHops, to-floorHops), hopsOf(to+floorHops, end-floorHops)
	if len(is) == 0 {
		return false
	}
	n, sum := 0.0, 0.0
	for b := range sharpFrom + 2 {
		if s.known[b] {
			n++
			sum += floorQuantile(fl, was, b, 0.5) - floorQuantile(fl, is, b, 0.5)
		}
	}
	return sum > grindFalls*n
}

// leaps says whether the octaves in which the motor stands out rise at once about a hop, as they do when it starts.
func (s *spectra) leaps(fl []octaveDB, at int) bool {
	n, sum := 0.0, 0.0
	for b, use := range s.use {
		if d := float64(fl[min(at+2*floorHops, len(fl)-1)][b] - fl[at-2*floorHops][b]); use && d == d {
			n++
			sum += d
		}
	}
	return sum > standsDB*n
}

// hopsOf returns the hops from one to before another.
func hopsOf(from, to int) (ks []int) {
	for k := from; k < to; k++ {
		ks = append(ks, k)
	}
	return ks
}

// isStrike says whether there is an impact in a hop.
func (s *spectra) isStrike(fl, level, before *octaveDB) bool {
	var more [len(octaveDB{})]float64 // by which the hop is above the floor, as a level
	n, rise := 0, 0.0
	for b := sharpFrom; b < len(level); b++ {
		f, v, was := float64(fl[b]), float64(level[b]), float64(before[b])
		if !s.known[b] || f != f || v != v || was != was {
			continue
		}
		rise += v - was
		more[n] = math.Inf(-1)
		if v > f {
			more[n] = 10 * math.Log10(math.Pow(10, v/10)-math.Pow(10, f/10))
		}
		n++
	}
	if n < 4 || rise < sharpDB*float64(n) {
		return false
	}
	return min(more[n-1], more[n-2]) > max(more[0], more[1])-highLess
}
