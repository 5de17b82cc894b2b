package run

import "math"

// What may be heard of a motor.
const (
	stopped = iota
	turns
	hums // stalled: its hum is left
	motions
	grinding // turns, and is heard by that only, up to a stop
)

const changeCost = 5.0 // of a change between them, in hops that speak for it wholly

// speaks says how much a hop's floor speaks for each, -1 to 1 or so.
func (s *spectra) speaks(fl *octaveDB) (much [motions]float64) {
	sum, rest, hum := 0.0, 0.0, -1.0
	n, m := 0.0, 0.0 // octaves count as far as the motor stands out in them: what hardly does is the room's chance, too
	for b, use := range s.use {
		v := float64(fl[b])
		at := s.humming && b == s.humAt() && s.known[b]
		if at && v == v { // also where the running motor hums no louder than the room
			hum = min(1, max(-1, (v-max(s.base[b]+humDB, s.motor[b]-s.humLess))/humDB))
		}
		if !use || v != v {
			continue
		}
		x := min(1, max(-1, (v-s.at[b])/s.half[b]))
		sum += s.half[b] * x
		n += s.half[b]
		if !at && b >= lows {
			rest += s.half[b] * x
			m += s.half[b]
		}
	}
	if n == 0 {
		return much
	}
	x := sum / n
	much[stopped], much[turns], much[hums] = -x-max(0, hum)/2, x, -1
	if m > 0 {
		much[hums] = max(-1, min(hum, (-rest/m-0.5)*2.5)) // all else has gone
	}
	return much
}

// humAt is the octave that the hum at twice the mains lies in.
func (s *spectra) humAt() int {
	if s.known[1] {
		return 1
	}
	return 0
}

// path returns the most likely motion at each hop from one on, given that before it; motions: not known.
func (s *spectra) path(fl, level []octaveDB, dead []bool, from, before int) []uint8 {
	n := len(fl) - from
	if before == grinding {
		before = turns
	}
	var score [motions]float64
	for m := range score {
		if before < motions && m != before {
			score[m] = math.Inf(-1)
		}
	}
	score[hums] = math.Inf(-1)
	if before == hums {
		score[hums] = 0
	}
	back := make([][motions]uint8, n)
	for k := range n {
		e := s.speaks(&fl[from+k])
		if dead[from+k] {
			e = [motions]float64{1, -1, -1}
		}
		var next [motions]float64
		for m := range next {
			next[m] = math.Inf(-1)
			for was, v := range score {
				if was != m {
					v -= changeCost
					if m == hums && was == stopped { // jammed from standstill, without having turned
						v -= changeCost
					}
				}
				if v > next[m] {
					next[m], back[k][m] = v, uint8(was)
				}
			}
			next[m] += e[m]
		}
		score = next
	}
	best := 0
	for m, v := range score {
		if v > score[best] {
			best = m
		}
	}
	out := make([]uint8, n)
	for k := n - 1; k >= 0; k-- {
		out[k] = uint8(best)
		best = int(back[k][best])
	}
	s.unjam(fl[from:], out)
	s.pauses(fl[from:], level[from:], out)
	s.diesAway(fl[from:], out)
	s.grinds(fl[from:], level[from:], out)
	s.believe(fl, level, from, before, out)
	return out
}

// unjam takes back what was taken for the hum of a stalled motor and is the end of its coasting: a hum is steady.
func (s *spectra) unjam(fl []octaveDB, path []uint8) {
	for k := 0; k < len(path); k++ {
		if path[k] != hums {
			continue
		}
		from := k
		for k < len(path) && path[k] == hums {
			k++
		}
		if k < len(path) && path[k] == turns {
			continue
		}
		n := k - from
		begin, end := from+min(n/3, 2*floorHops), k-min(n/4, floorHops) // between its coming to a stand and its falling silent
		third := (end - begin) / 3
		if n < leastHumN || s.low(fl[begin:begin+third])-s.low(fl[end-third:end]) > 2*float64(third)*hopS*steadyDB {
			for i := from; i < k; i++ {
				path[i] = stopped
			}
		}
	}
}

// diesAway takes back that a motor turns where it has long been far below any level of the running motor, and nearer to the
// room's, and had grown less for some time before: a heavy turntable coasts for many seconds, and may be switched on again
// before it stands. A rotor that locks falls silent at once.
func (s *spectra) diesAway(fl []octaveDB, path []uint8) {
	less, faint := 0, 0 // hops in a row
	for k := range path {
		by := s.loud(&fl[k], false)
		switch {
		case path[k] != turns || !(by < -lessDB):
			less, faint = 0, 0
			continue
		case by >= -stoodDB || s.speaks(&fl[k])[turns] > nearBase:
			less, faint = less+1, 0
			continue
		}
		faint++
		switch {
		case less < diesN || faint < diesN:
		case faint > diesN:
			path[k] = stopped
		default:
			for i := k + 1 - diesN; i <= k; i++ {
				path[i] = stopped
			}
		}
	}
}

// low is the mean over the low octaves of their median floors, dB.
func (s *spectra) low(fl []octaveDB) float64 {
	ks := hopsOf(0, len(fl))
	n, sum := 0.0, 0.0
	for b := range lows {
		if s.use[b] {
			n++
			sum += floorQuantile(fl, ks, b, 0.5)
		}
	}
	return sum / n
}

const (
	humDB = 3.0 // dB above all else that is surely a hum, or half of what is

	// A locked rotor draws several times the current: its hum is hardly less than the running motor's. A drive limits that.
	lockedLess  = 6.0
	limitedLess = 24.0

	diesN    = 20  // hops for which it must be that faint, and before that fainter than the motor
	lessDB   = 3.0 // dB, by as much
	nearBase = 0.3 // how much it may speak for a motor that turns then

	leastHumN = 10  // hops that a stall is heard for, at least
	steadyDB  = 2.0 // dB by which what is heard of it may grow less in a second
)
