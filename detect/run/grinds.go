package run

import "math"

// Load slows a motor down: where its current follows load it may hardly be heard then, and beside a tap not at all. What
// tells that it turns is what it grinds: impacts that go on falling, several a second, and are sharp, as loud high as low.
// A voice is not: its vowels are low, its sibilants high.

const (
	grindN     = 20  // hops in which impacts are counted
	grindLeast = 3   // of them, at least: dishes that are put down strike less often
	grindsN    = 40  // hops for which they go on at least: nobody claps for as long
	grindGapN  = 80  // hops at most from there to where the motor is heard again
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
		for to := grindsUntil(struck, path, k); k < to; k++ {
			path[k] = turns
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

// grindsUntil returns the hop up to which impacts go on from one at which a motor was thought to stop, or that one.
func grindsUntil(struck []int, path []uint8, from int) int {
	n := func(a, b int) int { return struck[min(b, len(path))] - struck[a] }
	to := from
	for j := from; j < len(path) && path[j] == stopped && j <= to; j++ {
		if n(j, j+grindN) >= grindLeast {
			to = j + grindN/2
		}
	}
	if to-from < grindsN {
		return from
	}
	to = min(to+grindN/2, len(path))
	for to > from && struck[to] == struck[to-1] {
		to-- // the last impact
	}
	end := from
	for end < len(path) && path[end] == stopped {
		end++
	}
	if end < len(path) && path[end] == turns && end-to <= grindGapN {
		return end
	}
	return min(to, end)
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
