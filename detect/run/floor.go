package run

import "math"

// A machine lifts the lower envelope of the sound in many octaves at once and holds it. Voices have gaps, claps and
// impacts die away: they leave the envelope where it was. So starts and stops are looked for in the floor of each octave.
const (
	hopS      = 0.05 // s of sound taken together
	floorHops = 3    // hops to each side over which the floor is the least
	lows      = 4    // bands below 700 Hz, where water has nothing: 63 to 500 Hz
	noDB      = -20  // dB, the level of silence
)

// C-weighting lets through what A-weighting takes away below some 500 Hz, so what a C-weighted exposure has more than an
// A-weighted one is rumble: a motor hums and rumbles; water hisses, and impacts crack.
const (
	hissShare = 0.75 // C-weighted over A-weighted exposure of what hisses and cracks above 1 kHz, at most about
	silentDB  = 25.0 // dB, least rumble that is reckoned with: less is left over from a difference
)

// humShare is the A-weighted share of a hum's exposure, less or more: 19 dB less at 100 Hz, 9 at 240 (IEC 61672-1).
const humShare = 0.04

// octaveDB are levels in the octaves of Octaves, dB; NaN: not known. Without octaves the first stands for what the
// C-weighted level has more than the A-weighted, the fifth for the A-weighted level, the seventh for that above 4 kHz.
type octaveDB [8]float32

// floors keeps the course of the octaves' levels and floors in hops.
type floors struct {
	first int // number of the first hop kept
	level []octaveDB
	floor []octaveDB // of all but the last few
	dead  []bool     // the input did not change
	sum   Heard      // of the hop being filled
	s     float64
	next  int
}

func (f *floors) push(h Heard) {
	if h.EndS-h.StartS > hopS { // a level meter's
		for mid := (float64(f.next) + 0.5) * hopS; mid < h.EndS; mid += hopS {
			if h.Missing || mid < h.StartS {
				f.add(octaveDB{}, true, false)
			} else {
				f.add(octavesOf(&h, h.EndS-h.StartS), false, h.Dead)
			}
		}
		return
	}
	for mid := (h.StartS + h.EndS) / 2; mid > float64(f.next+1)*hopS; {
		f.close()
	}
	if h.Missing {
		return
	}
	f.sum.EA += h.EA
	f.sum.EC += h.EC
	f.sum.ET += h.ET
	for b, e := range h.Octave {
		f.sum.Octave[b] += e
	}
	f.sum.Dead = f.sum.Dead || h.Dead
	f.s += h.EndS - h.StartS
}

// close ends the hop at hand.
func (f *floors) close() {
	f.add(octavesOf(&f.sum, f.s), f.s < hopS/2, f.sum.Dead)
	f.sum, f.s = Heard{}, 0
}

func octavesOf(h *Heard, s float64) octaveDB {
	var db octaveDB
	for b := range db {
		db[b] = float32(math.NaN())
	}
	if s == 0 {
		return db
	}
	known := false
	for b, e := range h.Octave {
		if e > 0 {
			db[b], known = float32(levelDB(float64(e)/s)), true
		}
	}
	if known {
		return db
	}
	rumble := max(h.EC-hissShare*h.EA, h.EA/100) // what is 20 dB less is drowned
	if h.EC != h.EA {                            // a level meter tells but one of them
		db[0] = float32(max(levelDB(rumble/s), silentDB))
	}
	db[4] = float32(max(levelDB(max(h.EA-humShare*rumble, h.EA/100)/s), noDB))
	if !math.IsNaN(h.ET) && h.ET > 0 {
		db[6] = float32(max(levelDB(h.ET/s), noDB))
	}
	return db
}

func (f *floors) add(db octaveDB, missing, dead bool) {
	f.next++
	for b := range db {
		if missing || dead {
			db[b] = float32(math.NaN())
		}
	}
	f.level = append(f.level, db)
	f.dead = append(f.dead, dead)
	if n := len(f.level) - floorHops; n > 0 {
		f.floor = append(f.floor, f.at(n-1))
	}
}

// at returns the floor about a hop. A band of 63 or 125 Hz is so narrow that its level in one hop is chance: there the
// means of three and two hops are taken.
func (f *floors) at(k int) octaveDB {
	var out octaveDB
	for b := range out {
		width := max(1, 3-b)
		least := math.Inf(1)
		for i := max(0, k-floorHops); i+width <= min(len(f.level), k+floorHops+1); i++ {
			v := 0.0
			for _, l := range f.level[i : i+width] {
				v += float64(l[b])
			}
			if v /= float64(width); v < least { // what is not known is not less
				least = v
			}
		}
		if math.IsInf(least, 1) {
			least = math.NaN()
		}
		out[b] = float32(least)
	}
	return out
}

// all returns a copy of the floors of all hops, those at the end from what there is.
func (f *floors) all() []octaveDB {
	out := append(make([]octaveDB, 0, len(f.level)), f.floor...)
	for k := len(out); k < len(f.level); k++ {
		out = append(out, f.at(k))
	}
	return out
}

// forget drops all hops before one.
func (f *floors) forget(n int) {
	f.first += n
	f.level = append(f.level[:0], f.level[n:]...)
	f.floor = append(f.floor[:0], f.floor[n:]...)
	f.dead = append(f.dead[:0], f.dead[n:]...)
}

// floorQuantile is a quantile of the floors of an octave in some hops; NaN: not known.
func floorQuantile(fl []octaveDB, ks []int, b int, q float64) float64 {
	v := make([]float64, 0, len(ks))
	for _, k := range ks {
		if x := float64(fl[k][b]); x == x {
			v = append(v, x)
		}
	}
	if len(v) == 0 {
		return math.NaN()
	}
	return nth(v, int(q*float64(len(v)-1)))
}

// nth returns what v has at an index once it is sorted (Hoare's selection), and leaves it in disorder: over an hour of
// hops, sorting takes far longer.
func nth(v []float64, index int) float64 {
	for lo, hi := 0, len(v)-1; lo < hi; {
		middle := v[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < middle {
				i++
			}
			for v[j] > middle {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case index <= j:
			hi = j
		case index >= i:
			lo = i
		default:
			lo = hi
		}
	}
	return v[index]
}
