package run

import (
	"math"
	"slices"

	"quern/config"
)

const (
	octaveShare = 0.6  // of what the whole stands out by, dB, a single octave does
	standsDB    = 5.0  // an octave in which the motor stands out by less says nothing
	farDB       = 12.0 // above which more says no more
	lowWeight   = 0.3  // of the low octaves in what is quiet
	apartDB     = 6.0  // that a motor which only hisses stands above the tap, at least
	farApartDB  = 15.0 // by which the low octaves of an empty motor stand above those of a tap or a restless room, at least
	farLess     = 0.3  // of what this motor lifts the low octaves by: what lifts them by less is a tap
	twiceDB     = 3.0  // of twice the power: what a motor gives above a tap is as much as the tap, at least
	evenDB      = 5.0  // within which the tap stays
	settlingN   = 10   // hops at the recording's beginning that may be its own setting in
	belowDB     = 5.0  // that a motor's floor may lie below its level
	fallsOffDB  = 9.0  // by which a motor lifts an octave less than the one below it or the next; water lifts them alike
	tapN        = 20   // hops in a row that a tap runs for, at least
	droneN      = 60   // hops in a row for which the low octaves of an empty motor stand
	droneDB     = 2.0  // within this
)

// spectra is what a recording's floors are like when nothing runs, when the tap runs, and when the motor does.
type spectra struct {
	liftDB   float64 // a floor this far above the room's is lifted
	stretchN int     // hops in a row, at least, that something is learned from
	humLess  float64 // dB by which the hum of a stall may be less than that octave of the running motor

	known             [8]bool
	room, base, motor [8]float64 // base: of the room, or of the tap where that is louder
	use               [8]bool    // octaves in which the motor stands out
	humming           bool       // the low ones are among them
	jogged            bool       // nothing was held for long
	at, half          [8]float64 // the middle between base and motor, or nearer the base, and how far from it
}

// hears says whether there is a motor at all.
func (s *spectra) hears() bool { return slices.Contains(s.use[:], true) }

// learn finds them: the quietest is the room; what is lifted is the motor, unless it lacks the low octaves that others
// which are lifted have: then it is the tap. Of a loud tap they are lifted, too, but far less than under a motor.
func learn(fl, level []octaveDB, set config.DetectHeard) spectra {
	s := spectra{liftDB: octaveShare * set.OverBackgroundDB, stretchN: max(2, int(math.Round(set.HoldS/hopS))-2*floorHops)}
	if !s.quietest(fl) {
		return s
	}
	mask := s.held(fl, level, 0)
	if s.jogged = !slices.Contains(mask, true); s.jogged {
		s.even(fl, level, mask)
	}
	lifted := s.stretches(mask)
	low, high := make([]float64, len(lifted)), make([]float64, len(lifted))
	for i, k := range lifted {
		low[i], _ = s.lift(&fl[k], 0, lows)
		high[i], _ = s.lift(&fl[k], lows, 8)
	}
	some := func(say func(i int) bool) []int {
		clear(mask)
		for i, k := range lifted {
			mask[k] = say(i)
		}
		return s.stretches(mask)
	}
	motor := some(func(i int) bool { return low[i] > s.liftDB })
	if turning := some(func(i int) bool { return low[i] > s.liftDB && high[i] > s.liftDB }); longest(turning) >= tapN {
		motor = turning // and not stalled, when it only hums
	}
	least := s.liftDB / 2
	if longest(motor) >= tapN {
		least = max(least, farLess*s.usualLift(fl, motor))
	}
	tap := some(func(i int) bool { return low[i] < least })
	if limit, ok := s.twoLevels(low, farApartDB); ok {
		hum := s.humAt() // which every motor has, also stalled
		hums := func(i int, byDB float64) bool { return float64(fl[lifted[i]][hum]) > s.room[hum]+byDB }
		upper := some(func(i int) bool { return low[i] > limit && hums(i, s.liftDB+apartDB) })
		lower := some(func(i int) bool { return low[i] <= limit && !hums(i, s.liftDB) })
		if longest(upper) >= tapN && longest(lower) >= tapN {
			motor, tap = upper, lower
		}
	}
	if len(tap) > 0 && s.empty(fl, level, motor, tap, low) {
		motor, tap = nil, nil
	}
	// Impacts that fall close together lift the low octaves for a moment, too.
	if n := longest(motor); n >= tapN && 10*len(motor) >= len(lifted) || n >= 3*tapN {
		s.humming = true
		s.set(fl, motor, tap)
		return s
	}
	if limit, ok := s.twoLevels(high, apartDB); ok {
		upper := some(func(i int) bool { return high[i] > limit })
		if tap := some(func(i int) bool { return high[i] <= limit }); longest(tap) >= tapN && !s.empty(fl, level, upper, tap, low) {
			s.set(fl, upper, tap)
			return s
		}
	}
	if s.set(fl, lifted, nil); s.loudDB() < set.RunningAboveDB-belowDB && (s.jogged || s.hisses(fl, lifted)) {
		s.use = [8]bool{} // a tap alone
	}
	return s
}

// usualLift is by how much the low octaves are lifted in half of some hops.
func (s *spectra) usualLift(fl []octaveDB, ks []int) float64 {
	v := make([]float64, len(ks))
	for i, k := range ks {
		v[i], _ = s.lift(&fl[k], 0, lows)
	}
	return nth(v, len(v)/2)
}

// loudDB is about the A-level of the motor.
func (s *spectra) loudDB() float64 { return s.highDB(func(b int) float64 { return s.motor[b] }) }

// highDB is the level of all octaves from 1 kHz together.
func (s *spectra) highDB(of func(b int) float64) float64 {
	ms := 0.0
	for b := lows; b < len(s.known); b++ {
		if v := of(b); s.known[b] && v == v {
			ms += math.Pow(10, v/10)
		}
	}
	return 10 * math.Log10(ms)
}

// lift returns by how much the octaves from one to before another are lifted, dB, and whether half of them are, or one by
// as much as the whole has to stand out: a whine is in one.
func (s *spectra) lift(fl *octaveDB, from, to int) (meanDB float64, half bool) {
	n, sum, over, most := 0, 0.0, 0, 0.0
	for b := from; b < to; b++ {
		if v := float64(fl[b]); s.known[b] && v == v {
			n++
			sum += max(v-s.room[b], 0)
			if v > s.room[b]+s.liftDB {
				over++
			}
			most = max(most, v-s.room[b])
		}
	}
	return sum / float64(max(n, 1)), n > 0 && (2*over >= n || most > s.liftDB/octaveShare)
}

// set sets what follows from which hops are the motor's and which the tap's.
func (s *spectra) set(fl []octaveDB, motor, tap []int) {
	if len(motor) < s.stretchN {
		return
	}
	s.base = s.room
	q := 0.2
	if s.jogged { // which is heard in full for moments only
		q = 0.6
	}
	for b := range s.room {
		if !s.known[b] {
			continue
		}
		s.motor[b] = floorQuantile(fl, motor, b, q)
		if len(tap) > 0 {
			if v := floorQuantile(fl, tap, b, 0.8); v > s.room[b] {
				s.base[b] = v
			}
		}
		d := s.motor[b] - s.base[b]
		s.use[b] = d >= standsDB
		s.half[b] = min(d/2, farDB)
		s.at[b] = s.base[b] + s.half[b]
	}
}

// quietest learns the room from the quietest floors, and which octaves are known.
func (s *spectra) quietest(fl []octaveDB) bool {
	from := 0
	if len(fl) > 4*settlingN {
		from = settlingN
	}
	var ks []int
	mean := make([]float64, len(fl))
	var count [8]int
	for k := from; k < len(fl); k++ {
		n := 0.0
		for b, v := range fl[k] {
			if v == v {
				count[b]++
				w := 1.0
				if b < lows { // a hum may be the room's own
					w = lowWeight
				}
				mean[k] += w * float64(v)
				n += w
			}
		}
		if n > 0 {
			mean[k] /= n
			ks = append(ks, k)
		}
	}
	if len(ks) == 0 {
		return false
	}
	quiet := least(ks, mean, max(settlingN, len(ks)/30))
	for b := range s.known {
		s.room[b] = floorQuantile(fl, quiet, b, 0.5)
		s.known[b] = 10*count[b] > len(ks) && s.room[b] == s.room[b]
	}
	return true
}

// least returns those n of ks, or all, of which the mean is least; of equal ones the first.
func least(ks []int, mean []float64, n int) []int {
	if n >= len(ks) {
		return ks
	}
	values := make([]float64, len(ks))
	for i, k := range ks {
		values[i] = mean[k]
	}
	bound, ties := nth(values, n-1), n
	for _, v := range values {
		if v < bound {
			ties--
		}
	}
	out := make([]int, 0, n)
	for _, k := range ks {
		switch {
		case mean[k] < bound:
			out = append(out, k)
		case mean[k] == bound && ties > 0:
			ties--
			out = append(out, k)
		}
	}
	return out
}

// longest is the length of the longest row of hops.
func longest(ks []int) int {
	most, n := 0, 0
	for i, k := range ks {
		if i > 0 && k == ks[i-1]+1 {
			n++
		} else {
			n = 1
		}
		most = max(most, n)
	}
	return most
}

// stretches returns the hops of a mask that stand in a row of at least stretchN.
func (s *spectra) stretches(mask []bool) []int {
	var out []int
	for k := 0; k < len(mask); k++ {
		from := k
		for k < len(mask) && mask[k] {
			k++
		}
		if k-from >= s.stretchN {
			for i := from; i < k; i++ {
				out = append(out, i)
			}
		}
	}
	return out
}
