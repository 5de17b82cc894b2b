package detect

import (
	"quern/config"
	"quern/detect/sound"
	"quern/rig"
)

// quiet gathers the sound before a start in stretches of 100 ms, so that a clap, a word or the tap can be left out of the
// background. Constant memory: 0.1 dB steps, and the last few stretches.
type quiet struct {
	fromS float64
	ea, s float64
	deadS float64

	byLevel           // every stretch by its own level
	apart   byLevel   // by the loudest within nearS, but for those of which what comes after is not known yet
	last    []stretch // the newest
	next    int       // the first of them that is not in apart yet
}

// byLevel holds how many stretches there were of each level, and the sum of their mean squares, Pa².
type byLevel struct {
	count  []int32
	energy []float64
}

// stretch is 100 ms of sound, or one reading of a level meter.
type stretch struct {
	atS  float64
	step int
	ms   float64 // Pa²
}

const (
	quietStepDB = 0.1
	quietLowDB  = -30.0
	quietSteps  = 1900

	// nearS is how far what is left out reaches beyond what stands out, s: a tap is opened, and a word or a clap's echo
	// dies away, in less (common practice).
	nearS = 1.0

	// lateS is by how much, at most, a start may be told later than it was and the background still be free of it, s: rows
	// of readings of up to two seconds.
	lateS = 1.0
)

func newByLevel() byLevel { return byLevel{make([]int32, quietSteps), make([]float64, quietSteps)} }

func (s *byLevel) add(step int, ms float64) {
	s.count[step]++
	s.energy[step] += ms
}

// upTo returns how many stretches there were up to a level, and the sum of their mean squares.
func (s *byLevel) upTo(top int) (sum float64, n int) {
	for i, c := range s.count[:min(top+1, quietSteps)] {
		sum += s.energy[i]
		n += int(c)
	}
	return sum, n
}

func newQuiet(fromS float64) quiet {
	return quiet{fromS: fromS, byLevel: newByLevel(), apart: newByLevel()}
}

func (q *quiet) add(f *sound.Frame) {
	if f.StartS < q.fromS {
		return
	}
	if f.Still {
		q.deadS += f.EndS - f.StartS
		return
	}
	q.ea += f.EA
	q.s += f.EndS - f.StartS
	if q.s < 0.0999 {
		return
	}
	ms := q.ea / q.s
	q.ea, q.s = 0, 0
	i := min(max(int((sound.LevelDB(ms)-quietLowDB)/quietStepDB), 0), quietSteps-1)
	q.byLevel.add(i, ms)
	q.last = append(q.last, stretch{f.EndS, i, ms})
	for ; q.last[q.next].atS < f.EndS-nearS-lateS; q.next++ {
		q.apart.add(q.loudest(q.next), q.last[q.next].ms)
	}
	for q.last[0].atS < q.last[q.next].atS-nearS {
		q.last = q.last[1:]
		q.next--
	}
}

// loudest returns the level of the loudest stretch within nearS of one of the last.
func (q *quiet) loudest(k int) int {
	most := 0
	for _, s := range q.last {
		if d := s.atS - q.last[k].atS; d >= -nearS && d <= nearS {
			most = max(most, s.step)
		}
	}
	return most
}

// until takes back what was gathered after an instant, of which the last lateS can be: there the motor may have run.
func (q *quiet) until(atS float64) {
	n := len(q.last)
	for n > q.next && q.last[n-1].atS > atS+0.05 { // more than half of it is later
		n--
		q.count[q.last[n].step]--
		q.energy[q.last[n].step] -= q.last[n].ms
	}
	q.last = q.last[:n]
}

// laeqDB is the background: the energy mean of the quiet without its disturbances and what is near them, and for how many
// seconds there were any.
func (q *quiet) laeqDB(set config.DetectSound) (level rig.Figure, disturbedS float64) {
	_, n := q.upTo(quietSteps)
	if float64(n)*0.1 < set.BackgroundMinS {
		if q.deadS > 0 {
			return rig.Absent("microphone-silent"), 0
		}
		return rig.Absent("background-not-seen"), 0
	}
	tenth, seen := 0, 0
	for i, c := range q.count {
		if seen += int(c); seen*10 >= n {
			tenth = i
			break
		}
	}
	top := tenth + int(set.BackgroundOverDB/quietStepDB)
	sum, used := q.apart.upTo(top)
	for k := q.next; k < len(q.last); k++ {
		if q.loudest(k) <= top {
			sum += q.last[k].ms
			used++
		}
	}
	if float64(used)*0.1 < set.BackgroundMinS { // never still for long
		sum, used = q.upTo(top)
	}
	if sum <= 0 {
		return rig.Absent("microphone-silent"), 0
	}
	return rig.Fig(sound.LevelDB(sum / float64(used))), float64(n-used) * 0.1
}
