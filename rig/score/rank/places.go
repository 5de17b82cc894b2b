package rank

import (
	"cmp"
	"math"
	"slices"
)

// Places returns the place of each score, from 1. Ties share a place and the next is skipped (1, 1, 3).
// A score that is not finite has no place: 0.
//
// Scores are compared unrounded. Neighbours in the order tie when they differ by at most 1e-9 of the
// larger magnitude (1e-12 points about 0), so that the order of a summation neither makes nor breaks a
// tie; nothing that is printed could.
func Places(scores []float64, better Better) []int {
	places := make([]int, len(scores))
	s := sorter{better: better}
	s.places(scores, func(unit, place int) { places[unit] = place })
	return places
}

// sorter orders scores; it keeps its buffers from call to call. It sorts many by radix: a tally does
// it ten thousand times.
type sorter struct {
	better    Better
	buf, swap []scored
	counts    [8][256]int32 // of each byte of the keys
}

type scored struct {
	key  uint64 // ordered as the scores are, the least is the best
	unit int32
}

// key turns a finite score into whole numbers of the same order.
func (b Better) key(score float64) uint64 {
	if b == High {
		score = -score
	}
	bits := math.Float64bits(score + 0) // no negative zero
	if bits>>63 == 1 {
		return ^bits
	}
	return bits | 1<<63
}

// number undoes key, but for the sign that High turned.
func (c scored) number() float64 {
	if c.key>>63 == 1 {
		return math.Float64frombits(c.key &^ (1 << 63))
	}
	return math.Float64frombits(^c.key)
}

// fewScores is up to where sorting by comparison is faster.
const fewScores = 64

// order returns the finite scores, best first, equal ones by position.
func (s *sorter) order(scores []float64) []scored {
	s.buf = s.buf[:0]
	for i, v := range scores {
		if finite(v) {
			s.buf = append(s.buf, scored{s.better.key(v), int32(i)})
		}
	}
	if len(s.buf) <= fewScores {
		slices.SortFunc(s.buf, func(a, b scored) int {
			return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.unit, b.unit))
		})
	} else {
		s.radix()
	}
	return s.buf
}

// radix sorts buf byte by byte, the last first.
func (s *sorter) radix() {
	s.counts = [8][256]int32{}
	for _, c := range s.buf {
		for b := range 8 {
			s.counts[b][byte(c.key>>(8*b))]++
		}
	}
	s.swap = slices.Grow(s.swap[:0], len(s.buf))[:len(s.buf)]
	for b := range 8 {
		s.pass(8*b, &s.counts[b])
	}
}

// pass sorts by the byte at shift, keeping the order of those where it is the same.
func (s *sorter) pass(shift int, counts *[256]int32) {
	if int(counts[byte(s.buf[0].key>>shift)]) == len(s.buf) {
		return // all the same
	}
	at := int32(0)
	for i, n := range counts {
		counts[i] = at
		at += n
	}
	for _, c := range s.buf {
		b := byte(c.key >> shift)
		s.swap[counts[b]] = c
		counts[b]++
	}
	s.buf, s.swap = s.swap, s.buf
}

// places tells each finite score's place.
func (s *sorter) places(scores []float64, tell func(unit, place int)) {
	place, last := 0, 0.0
	for i, c := range s.order(scores) {
		v := c.number()
		if i == 0 || !tied(v, last) {
			place = i + 1
		}
		last = v
		tell(int(c.unit), place)
	}
}
