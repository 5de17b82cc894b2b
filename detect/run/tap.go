package run

import (
	"math"
	"slices"
)

// empty says whether what lacks the low octaves is no tap that the motor is heard above, but the motor, which has none
// above the room's until it is loaded: it is about as loud, and the low octaves stand but little apart; or it is no tap, and
// its loudest octave, which the load need not be heard in, is about as loud.
func (s *spectra) empty(fl, level []octaveDB, motor, bare []int, low []float64) bool {
	as := func(of func(ks []int) float64) bool { return math.Abs(of(motor)-of(bare)) <= twiceDB }
	if top := s.top(fl, bare); s.whines(level, bare) || !s.hisses(fl, bare) {
		return as(func(ks []int) float64 { return floorQuantile(fl, ks, top, 0.5) })
	}
	if s.drones(fl, motor) {
		return false
	}
	lo, hi := s.halves(low)
	return (lo == nil || at(hi, 0.3)-at(lo, 0.7) < apartDB) &&
		as(func(ks []int) float64 { return s.highDB(func(b int) float64 { return floorQuantile(fl, ks, b, 0.5) }) })
}

// drones says whether the low octaves stand as evenly for some seconds of some hops as those of an empty motor: what load
// lifts them by goes up and down.
func (s *spectra) drones(fl []octaveDB, ks []int) bool {
	n := 0
	for i := range ks {
		if n++; i > 0 && ks[i] != ks[i-1]+1 {
			n = 1
		}
		if n < droneN {
			continue
		}
		v := make([]float64, droneN)
		for j := range v {
			v[j], _ = s.lift(&fl[ks[i-j]], 0, lows)
		}
		slices.Sort(v)
		if at(v, 0.5) > s.liftDB && at(v, 0.95)-at(v, 0.05) < droneDB {
			return true
		}
	}
	return false
}

// top is the octave from 1 kHz that is lifted most in some hops.
func (s *spectra) top(fl []octaveDB, ks []int) int {
	top, most := lows, math.Inf(-1)
	for b := lows; b < len(s.known); b++ {
		if v := floorQuantile(fl, ks, b, 0.5) - s.room[b]; s.known[b] && v > most {
			top, most = b, v
		}
	}
	return top
}

// hisses says whether what is heard in some hops may be water: that fills the octaves above 1 kHz, and lifts those above the
// one that it lifts most hardly less. What a motor lifts falls off within two. A level meter does not tell.
func (s *spectra) hisses(fl []octaveDB, ks []int) bool {
	by := func(b int) float64 { return floorQuantile(fl, ks, b, 0.5) - s.room[b] }
	top := s.top(fl, ks)
	if !s.known[1] {
		return true
	}
	for b := top + 1; b < min(top+3, len(s.known)); b++ {
		if s.known[b] && by(b) < by(top)-fallsOffDB {
			return false
		}
	}
	return by(top) > s.liftDB
}

// whines says whether the loudest octave from 1 kHz is steadier from hop to hop than noise can be, of whose level over t
// seconds the random error is 10/ln 10 dB by the root of its width times t (chi-square, small errors); a tone has none.
func (s *spectra) whines(level []octaveDB, ks []int) bool {
	top, most := 0, math.Inf(-1)
	for b := lows; b < len(s.known); b++ {
		if v := floorQuantile(level, ks, b, 0.5); s.known[1] && v > most { // a level meter has no octaves
			top, most = b, v
		}
	}
	var by []float64
	for i := 1; i < len(ks); i++ {
		if ks[i] == ks[i-1]+1 {
			by = append(by, math.Abs(float64(level[ks[i]][top]-level[ks[i-1]][top])))
		}
	}
	if top == 0 || len(by) == 0 {
		return false
	}
	slices.Sort(by)
	octaveHz := math.Sqrt(0.5) * 62.5 * math.Pow(2, float64(top))
	return by[len(by)/2] < 10/math.Ln10/math.Sqrt(octaveHz*hopS)/2 // of noise it is the whole of it
}

// twoLevels says whether what is lifted stands at two levels so far apart, dB, the lower one steady as a tap's or a
// room's, and what is between them. What coasts down goes through all between the two, so three in ten of each half do
// not count.
func (s *spectra) twoLevels(v []float64, byDB float64) (limit float64, ok bool) {
	lo, hi := s.halves(v)
	if lo == nil {
		return 0, false
	}
	return (lo[len(lo)-1] + hi[0]) / 2, at(hi, 0.3)-at(lo, 0.7) >= byDB && at(lo, 0.7)-at(lo, 0.1) < evenDB
}

// halves splits values where that leaves the least spread within the halves, both sorted; nil: there are too few in one.
func (s *spectra) halves(v []float64) (lo, hi []float64) {
	v = slices.Clone(v)
	slices.Sort(v)
	total := 0.0
	for _, x := range v {
		total += x
	}
	best, split, sum := 0.0, 0, 0.0
	for i := 1; i < len(v); i++ {
		sum += v[i-1]
		a, b := sum/float64(i), (total-sum)/float64(len(v)-i)
		if x := float64(i) * float64(len(v)-i) * (b - a) * (b - a); x > best {
			best, split = x, i
		}
	}
	if split < s.stretchN || len(v)-split < s.stretchN {
		return nil, nil
	}
	return v[:split], v[split:]
}

// at is a quantile of sorted values.
func at(v []float64, q float64) float64 { return v[int(q*float64(len(v)-1))] }
