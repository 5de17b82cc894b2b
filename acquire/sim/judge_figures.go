package sim

import (
	"math"

	"quern/rig"
)

// load tells when material first loaded the running motor, and when the chamber was clear.
func (j *judge) load(r *TruthRun) {
	first, last := -1, -1
	var end int
	for _, s := range j.tale.stretches {
		if seconds(s.from) < r.StartS || seconds(s.to) > r.EndS {
			continue
		}
		end = s.to
		for k := s.from; k < s.to; k++ {
			p := &j.tale.points[k]
			if p.load <= 0 {
				continue
			}
			if first < 0 && p.flags&flagUp != 0 && p.load > loadLeast {
				first = k
			}
			last = k
		}
	}
	if first < 0 {
		return
	}
	j.groundInRunUp(r, last)
	r.tell(rig.LoadStart, seconds(first))
	if end > 0 && j.tale.points[end-1].flags&flagLoaded == 0 {
		at := seconds(last + 1)
		r.tell(rig.LoadEnd, at)
		if r.EndS-at < clearDwellS+0.5 {
			j.doubt(at-5, r.EndS, rig.LoadEnd, "the motor was stopped soon after the chamber was clear")
		}
	} else if last >= 0 && r.EndS-seconds(last) > clearDwellS-0.5 {
		j.doubt(seconds(last)-1, r.EndS, rig.LoadEnd, "a piece hid in silence when the motor was stopped")
	}
}

// hiddenS after a start the inrush and what follows it hide a load that does not go on.
const hiddenS = 1.0

// groundInRunUp doubts the end of a load of which the last was ground away while the motor ran up again: nobody can
// tell that from its having been taken out while the motor stood.
func (j *judge) groundInRunUp(r *TruthRun, last int) {
	for i, s := range j.tale.stretches {
		if i > 0 && last >= s.from && last < s.to && seconds(s.from) > r.StartS && seconds(last-s.from) < hiddenS {
			j.doubt(seconds(j.tale.stretches[i-1].to)-1, seconds(last)+1, rig.LoadEnd, "the last of the load was ground away in the run-up after a pause")
		}
	}
}

// motor works out the exact figures of the current.
func (j *judge) motor(r *TruthRun) {
	var idle, turns, on float64
	n := 0
	inrush := 0.0
	for _, s := range j.tale.stretches {
		if seconds(s.from) < r.StartS || seconds(s.to) > r.EndS {
			continue
		}
		turns += j.tale.points[s.to-1].turns - j.tale.points[s.from].turns
		on += seconds(s.to - 1 - s.from)
		if seconds(s.from) == r.StartS {
			stop := s.to
			if s.upAt > 0 {
				stop = min(s.upAt+int(j.cycle), s.to)
			}
			// The first cycle is left out: its d.c. part is the switch's chance, not the motor's (common practice).
			for k := s.from + int(1.5*j.cycle) + 1; k < stop-int(j.cycle/2); k++ {
				inrush = math.Max(inrush, j.swing(k))
			}
		}
		if s.upAt == 0 {
			continue
		}
		calm := 0
		for k := s.upAt; k < s.to-int(j.cycle); k++ {
			if j.tale.points[k].flags&flagLoaded != 0 {
				calm = 0
			} else if calm++; calm > int(0.3/stepS) {
				idle += j.rms[k]
				n++
			}
		}
	}
	if n > int(0.5/stepS) {
		r.Motor.IdleA = rig.Fig(idle / float64(n))
	} else {
		r.Motor.IdleA = rig.Absent("never-empty")
	}
	if inrush > 0 {
		r.Motor.InrushA = rig.Fig(inrush)
	}
	if on > 0.2 {
		r.Motor.FrequencyHz = rig.Fig(turns / on)
	}
}
