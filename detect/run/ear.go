package run

import (
	"math"
	"slices"
)

// earS is how far back sound is kept: longer than any decision waits.
const earS = 30.0

// followsDB is by how much the motor's sound must have changed for its standing still to mean anything.
const followsDB = 3.0

// ear keeps the last sound frames and answers what the level was between two instants.
type ear struct {
	frames []Heard // in order of time
	any    bool
	runDB  float64 // lowest A-level of half a second while the motor turned; +Inf: none yet
	mostDB float64 // the highest
	runTop float64 // the lowest level above 4 kHz likewise, of which voices have next to nothing; +Inf: none
	loudDB float64 // a level above which a motor must be running
}

// follows says whether the sound of the running motor has been heard to change by more than a little.
func (e *ear) follows() bool { return e.hasRun() && e.mostDB > e.runDB+followsDB }

// hasRun says whether the motor has been heard to turn for half a second.
func (e *ear) hasRun() bool { return !math.IsInf(e.runDB, 1) }

func (e *ear) push(h Heard) {
	e.any = true
	e.frames = append(e.frames, h)
	if n := len(e.frames); n > 2*int(earS*100) {
		e.frames = append(e.frames[:0], e.frames[n-int(earS*100):]...)
	}
}

// untilS is the end of what was heard.
func (e *ear) untilS() float64 {
	if len(e.frames) == 0 {
		return 0
	}
	return e.frames[len(e.frames)-1].EndS
}

// first returns the index of the first frame that ends after t.
func (e *ear) first(t float64) int {
	lo, hi := 0, len(e.frames)
	for lo < hi {
		m := (lo + hi) / 2
		if e.frames[m].EndS > t {
			hi = m
		} else {
			lo = m + 1
		}
	}
	return lo
}

// levels returns the A- and C-weighted equivalent levels of the frames that lie between two
// instants, dB, and whether there were any and none was dead.
func (e *ear) levels(fromS, toS float64) (laDB, lcDB float64, ok bool) {
	var ea, ec, s float64
	for _, f := range e.frames[e.first(fromS):] {
		if f.StartS >= toS {
			break
		}
		if f.Dead {
			return 0, 0, false
		}
		ea += f.EA
		ec += f.EC
		s += f.EndS - f.StartS
	}
	if s == 0 {
		return 0, 0, false
	}
	return levelDB(ea / s), levelDB(ec / s), true
}

// treble returns the level above 4 kHz of the frames between two instants, dB, and whether it is known.
func (e *ear) treble(fromS, toS float64) (ltDB float64, ok bool) {
	var et, s float64
	for _, f := range e.frames[e.first(fromS):] {
		if f.StartS >= toS {
			break
		}
		if f.Dead {
			return 0, false
		}
		et += f.ET
		s += f.EndS - f.StartS
	}
	return levelDB(et / s), s > 0 && et > 0
}

// quieter says by how much the sound fell from one stretch to another, taking the weighting in which
// it fell most: a stall's hum shows in C, grinding in A.
func (e *ear) quieter(before, after Interval) (byDB float64, ok bool) {
	a0, c0, ok0 := e.levels(before.FromS, before.ToS)
	a1, c1, ok1 := e.levels(after.FromS, after.ToS)
	return max(a0-a1, c0-c1), ok0 && ok1
}

// sameSince returns since when it has been as loud, high and low, as it is just after an instant.
func (e *ear) sameSince(atS float64) float64 {
	a, c, ok := e.levels(atS+0.1, atS+0.6)
	same := func(fromS, toS float64) bool {
		la, lc, heard := e.levels(fromS, toS)
		return heard && math.Abs(la-a) <= sameDB && math.Abs(lc-c) <= sameDB
	}
	for ok && same(atS-0.1, atS) {
		atS -= 0.1
	}
	return atS
}

// fell returns when the sound fell for good below a level between two instants: the end of the last
// 100 ms that was louder.
func (e *ear) fell(fromS, toS, laDB float64) float64 {
	for t := toS; t-0.1 > fromS; t -= 0.1 {
		if la, _, ok := e.levels(t-0.1, t); ok && la > laDB {
			return t
		}
	}
	return fromS
}

// steadyDB returns the median level of the tenths of the half second before an instant, dB(A): a knock or
// a word does not make it loud. What is dead counts as silence.
func (e *ear) steadyDB(atS float64) float64 {
	var las []float64
	for k := 5; k > 0; k-- {
		sum := 0.0
		from := atS - 0.1*float64(k)
		for _, f := range e.frames[e.first(from):] {
			if f.StartS >= from+0.1 {
				break
			}
			sum += f.EA
		}
		las = append(las, levelDB(sum/0.1))
	}
	slices.Sort(las)
	return las[2]
}

// leastDB returns the level of the quietest but one of the tenths of a second between two instants, dB(A): a motor
// that runs is never quiet, a voice is between its words.
func (e *ear) leastDB(fromS, toS float64) float64 {
	var las []float64
	for t := fromS; t+0.1 <= toS+1e-6; t += 0.1 {
		if la, _, ok := e.levels(t, t+0.1); ok {
			las = append(las, la)
		}
	}
	if len(las) == 0 {
		return levelDB(0)
	}
	slices.Sort(las)
	return las[min(1, len(las)-1)]
}

// lullDB returns the level of the quietest tenth of a second between two instants, dB(A), and whether there was one.
func (e *ear) lullDB(fromS, toS float64) (laDB float64, ok bool) {
	for t := fromS; t+0.1 <= toS+1e-6; t += 0.05 {
		if la, _, heard := e.levels(t, t+0.1); heard && (!ok || la < laDB) {
			laDB, ok = la, true
		}
	}
	return laDB, ok
}

// usual returns the A- and C-weighted levels between two instants, dB, as levels does, but for what is louder in less than
// a third of the time: clicks and thumps do not count.
func (e *ear) usual(fromS, toS float64) (laDB, lcDB float64, ok bool) {
	laDB, lcDB, ok = e.levels(fromS, toS)
	var las, lcs []float64
	for t := fromS; t+0.1 <= toS+1e-6; t += 0.1 {
		if la, lc, heard := e.levels(t, t+0.1); heard {
			las, lcs = append(las, la), append(lcs, lc)
		}
	}
	if len(las) < 5 {
		return laDB, lcDB, ok
	}
	slices.Sort(las)
	slices.Sort(lcs)
	i := len(las) * 2 / 3
	return min(laDB, las[i]), min(lcDB, lcs[i]), ok
}

// medianDB returns the median of the A-levels of the frames between two instants, which single impacts do not move.
func (e *ear) medianDB(fromS, toS float64) (laDB float64, ok bool) {
	return e.median(fromS, toS, func(f *Heard) float64 { return f.EA })
}

// rose returns by how much the sound has grown louder from some time before an instant to as long after it, by the
// medians of the levels above 4 kHz, where voices are not heard, or if these are not known of the A-levels, dB.
func (e *ear) rose(atS, overS float64) float64 {
	by := func(of func(f *Heard) float64) float64 {
		a, ok0 := e.median(atS-overS, atS-0.02, of)
		b, ok1 := e.median(atS+0.02, atS+overS, of)
		if !ok0 || !ok1 {
			return math.NaN()
		}
		return b - a
	}
	if d := by(func(f *Heard) float64 { return f.ET }); !math.IsNaN(d) {
		return d
	}
	return by(func(f *Heard) float64 { return f.EA })
}

// leapt says whether nearly all the sound for some time after an instant is louder than nearly all for as long before it.
func (e *ear) leapt(atS, overS float64) bool {
	least, most := math.Inf(1), math.Inf(-1)
	n := int(overS / 0.1)
	for i := range n {
		was, _, ok0 := e.levels(atS-0.1*float64(i+1), atS-0.1*float64(i))
		is, _, ok1 := e.levels(atS+0.1*float64(i), atS+0.1*float64(i+1))
		if !ok0 || !ok1 {
			return false
		}
		if i > 0 {
			least, most = min(least, is), max(most, was)
		}
	}
	return least > most+1
}

// median returns the median level of the frames between two instants by one of their exposures, dB.
func (e *ear) median(fromS, toS float64, of func(f *Heard) float64) (db float64, ok bool) {
	var es []float64
	for i := e.first(fromS); i < len(e.frames); i++ {
		f := &e.frames[i]
		if f.StartS >= toS {
			break
		}
		if f.Dead || math.IsNaN(of(f)) {
			return 0, false
		}
		es = append(es, of(f)/(f.EndS-f.StartS))
	}
	if len(es) == 0 {
		return 0, false
	}
	slices.Sort(es)
	return levelDB(es[len(es)/2]), true
}
