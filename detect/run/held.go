package run

// A machine holds its sound: from one twentieth of a second to the next it changes by a dB or two, and what falls on
// top, impacts or a voice, leaves moments between in which it is heard alone. Dishes, claps and speech ring, die away
// and begin again: their level is hardly ever near its floor. In recordings of appliances, speech and dishes the level
// of the quietest third of a second and a half stood 0.1 to 1.8 dB above the floor for machines, for most others 4 and
// more; a tap is held, too.
const (
	heldN     = 30   // hops that a machine is held for before it is believed
	heldDB    = 2.3  // dB that the level stands above the floor by in a third of them, at most
	evenJogDB = 3.7  // dB between the most and the least of a third of a second of a jog, at most: of dishes and speech, 4.2 and more
	farJogDB  = 26.0 // dB above the room that it stands, at least
	likeDB    = 4.5  // by which octaves may differ from the machine's, root mean square, once a common gain is taken off
	likeN     = 4    // hops, at least, that are compared
)

// held says of each hop from one on whether something is held there that is lifted above the room.
func (s *spectra) held(fl, level []octaveDB, from int) []bool {
	out := make([]bool, len(fl)-from)
	lifted, calm := make([]int, len(fl)+1), make([]int, len(fl)+1)
	marked := 0
	for k := max(0, from-heldN); k < len(fl); k++ {
		lifted[k+1], calm[k+1] = lifted[k], calm[k]
		_, low := s.lift(&fl[k], 0, lows)
		_, high := s.lift(&fl[k], lows, 8)
		if low || high {
			lifted[k+1]++
			if s.scatterDB(&fl[k], &level[k]) < heldDB {
				calm[k+1]++
			}
		}
		i := k + 1 - heldN
		if i < 0 || lifted[k+1]-lifted[i] < heldN || 3*(calm[k+1]-calm[i]) < heldN {
			continue
		}
		for marked = max(marked, i-from, 0); marked <= k-from; marked++ {
			out[marked] = true
		}
	}
	return out
}

// even marks the stretches in which something far above the room is as even for a third of a second as but a machine
// is: where nothing is held for longer, that may have been jogged.
func (s *spectra) even(fl, level []octaveDB, mask []bool) {
	for k := range fl {
		if !s.jog(fl, level, k) {
			continue
		}
		for _, step := range []int{-1, 1} {
			for i := k; i >= 0 && i < len(fl); i += step {
				if _, high := s.lift(&fl[i], lows, 8); !high {
					break
				}
				mask[i] = true
			}
		}
	}
}

// jog says whether the levels about a hop are far above the room, low and high, and even.
func (s *spectra) jog(fl, level []octaveDB, k int) bool {
	if k < floorHops || k+floorHops >= len(level) {
		return false
	}
	floor, levels := &fl[k], level[k-floorHops:k+floorHops+1]
	_, low := s.lift(floor, 0, lows)
	high, _ := s.lift(floor, lows, 8)
	if !low || high < farJogDB {
		return false
	}
	n, sum := 0.0, 0.0
	for b := 2; b < len(floor); b++ {
		least := float64(floor[b])
		if !s.known[b] || !(least > s.room[b]+s.liftDB) {
			continue
		}
		most := least
		for i := range levels {
			most = max(most, float64(levels[i][b]))
		}
		n++
		sum += most - least
	}
	return n > 0 && sum < evenJogDB*n
}

// scatterDB is by how much the level stands above its floor, the mean over the octaves that are lifted: those of
// 250 Hz and above, if any is, for the levels of the narrow ones are chance.
func (s *spectra) scatterDB(floor, level *octaveDB) float64 {
	mean := func(from int) float64 {
		n, sum := 0.0, 0.0
		for b := from; b < len(floor); b++ {
			if v := float64(level[b]); s.known[b] && v > s.room[b]+s.liftDB {
				n++
				sum += v - float64(floor[b])
			}
		}
		return sum / n
	}
	if v := mean(2); v == v {
		return v
	}
	return mean(0)
}

// believe takes back what was taken for the motor, is not held, and has not its spectrum either.
func (s *spectra) believe(fl, level []octaveDB, from, before int, path []uint8) {
	held := s.held(fl, level, from)
	for k := 0; k < len(path); k++ {
		if path[k] == stopped {
			continue
		}
		i, holds := k, k == 0 && (before == turns || before == hums)
		for ; k < len(path) && path[k] != stopped; k++ {
			holds = holds || held[k] || s.jogged && s.jog(fl, level, from+k)
		}
		if !holds && !s.like(level[from+i:from+k]) {
			clear(path[i:k])
		}
	}
}

// like says whether the octaves in which the motor stands out have its spectrum in some hops.
func (s *spectra) like(level []octaveDB) bool {
	if len(level) < likeN {
		return false
	}
	ks := hopsOf(0, len(level))
	n, sum, squares := 0.0, 0.0, 0.0
	for b, use := range s.use {
		if v := floorQuantile(level, ks, b, 0.5) - s.motor[b]; use && v == v {
			n++
			sum += v
			squares += v * v
		}
	}
	mean := sum / n
	return n > 0 && mean > -farDB && squares/n-mean*mean < likeDB*likeDB
}
