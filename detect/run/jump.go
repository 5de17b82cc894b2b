package run

import "math"

// What turns changes its current over several cycles, for its speed has to change first; and load current stands at
// right angles to an induction motor's magnetising current. A step that is over within a cycle, between two calm
// stretches, and that goes along with the current or against it, is the supply's, which sagged or is back. It is no
// load, and makes none of what stands beside it.

const (
	jumpBeside = 4   // records on each side that must be calm, half a cycle apart
	jumpHolds  = 3   // records that may hold some of the step: each is a cycle long
	swingHolds = 8   // the same where the rotor swings before it turns as it will: its current passes that in its first cycle
	jumpCalm   = 0.2 // deviation of each of them from their mean, as a share of the step
	jumpAside  = 0.4 // share of the step that may stand at right angles to the current
	jumpBack   = 0.3 // share by which a step back may be another size
	sagMost    = 0.3 // of the current that a sag or swell takes or adds: 10 % of the voltage (EN 50160) saturated twice over
)

// jumps keeps the last records, of which so many may hold the step.
type jumps struct {
	past [2*jumpBeside + swingHolds]Current
	n    int
}

// jump is a step of the current: where it lies, and by how much.
type jump struct {
	at   Interval
	bigA float64
}

func (j *jump) midS() float64 { return (j.at.FromS + j.at.ToS) / 2 }

// push takes the next record and returns the step that the current made, if it did.
func (s *jumps) push(c Current) (j jump, ok bool) {
	if !c.Wave || !c.Locked {
		s.n = 0
		return j, false
	}
	if c.StartS > s.past[len(s.past)-1].EndS {
		s.n = 0
	}
	copy(s.past[:], s.past[1:])
	s.past[len(s.past)-1] = c
	s.n++
	return s.over(jumpHolds)
}

// swung returns the step that the current made some records ago and has swung about since. What is more than it once the
// first cycle is over came at once, where a load has to slow the rotor down first.
func (s *jumps) swung() (j jump, ok bool) {
	if j, ok = s.over(swingHolds); !ok {
		return j, false
	}
	was := sideOf(s.past[:jumpBeside]).mean
	for i := range jumpHolds {
		if (s.past[jumpBeside+i].RMSA-was)/j.bigA >= 1 {
			return j, true
		}
	}
	return j, false
}

// over returns the step that so many records hold, between the last ones and those before it.
func (s *jumps) over(holds int) (j jump, ok bool) {
	past := s.past[len(s.past)-2*jumpBeside-holds:]
	if s.n < len(past) {
		return j, false
	}
	after := jumpBeside + holds
	was, is := sideOf(past[:jumpBeside]), sideOf(past[after:])
	step := is.mean - was.mean
	for i := range past {
		m := was.mean
		if i >= jumpBeside {
			m = is.mean
		}
		if (i < jumpBeside || i >= after) && math.Abs(past[i].RMSA-m) > jumpCalm*math.Abs(step) {
			return j, false
		}
	}
	// How far the current turned against the mains, which turn as the current does on either side.
	before, later, x := line{}, line{}, 0.0
	for i := range jumpBeside {
		before.add(past[i].midS(), past[i].Turns)
		later.add(past[after+i].midS(), past[after+i].Turns)
	}
	x = later.x0 + later.sx/later.n - before.x0 - before.sx/before.n
	turned := later.y0 - before.y0 + later.sy/later.n - before.sy/before.n - x*(before.slope()+later.slope())/2
	aside := is.mean * math.Sin(2*math.Pi*turned)
	return jump{Interval{past[jumpBeside].StartS, past[after-1].EndS}, step}, math.Abs(aside) < jumpAside*math.Abs(step)
}

// jumped marks the blocks that a step of the current lies in. Where it takes back the one before it, the supply had
// sagged or swollen between them: the blocks there draw what they would have drawn without. More current at once may as
// well be load, unless nothing is heard of it.
func (l *loads) jumped(j jump) {
	was := l.jump
	l.jump = j
	back := math.Abs(was.bigA+j.bigA) <= jumpBack*math.Abs(was.bigA)
	if back && was.bigA > 0 {
		back = l.unheard(was)
	}
	if !back && j.bigA > 0 {
		return
	}
	l.steps(j.at)
	if !back {
		return
	}
	l.jump = jump{}
	for i := len(l.blocks) - 1; i >= 0 && l.blocks[i].toS > was.at.FromS; i-- {
		b := &l.blocks[i]
		b.stepped = b.stepped || b.fromS < was.at.ToS
		share := (min(b.toS, j.midS()) - max(b.fromS, was.midS())) / (b.toS - b.fromS)
		b.meanA -= float32(was.bigA * max(share, 0))
	}
}

// steps marks the blocks about a step, which makes what stands in them no more ragged.
func (l *loads) steps(at Interval) {
	l.open.stepped = l.open.stepped || l.open.fromS < at.ToS
	for i := len(l.blocks) - 1; i >= 0 && l.blocks[i].toS > at.FromS; i-- {
		l.blocks[i].stepped = l.blocks[i].stepped || l.blocks[i].fromS < at.ToS
	}
}

// unheard says whether the sound was recorded and stayed as it was at a step.
func (l *loads) unheard(j jump) bool {
	before, after := meanOver{}, meanOver{}
	for i := len(l.blocks) - 1; i >= 0 && l.blocks[i].toS > j.at.FromS-1; i-- {
		b := &l.blocks[i]
		switch la := float64(b.laDB); {
		case la != la:
			return false
		case b.toS <= j.at.FromS:
			before.add(la, 1)
		case b.fromS >= j.at.ToS && b.fromS < j.at.ToS+1:
			after.add(la, 1)
		}
	}
	return before.s > 0 && after.s > 0 && math.Abs(after.mean()-before.mean()) < sameDB
}
