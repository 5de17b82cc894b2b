package sim

import (
	"fmt"
	"math/rand/v2"
	"time"

	"quern/config"
)

// Random sources of a season: all apart from those of a bench.
const (
	partSeason uint64 = 1<<20 + iota
	partOrder
	partRun
	partHand
)

// schedule puts the runs into a randomised order, block by block, and on days. A block holds every unit
// under every procedure once; two in a row lie on different days or some hours apart. A unit rests as its
// procedure says: whoever else can is taken before.
func (s *Season) schedule(seed uint64) {
	r := rand.New(rand.NewPCG(seed, partOrder<<32))
	var queue []CatalogueRun
	most := 0
	for _, p := range s.procedures {
		most = max(most, s.repeats(p))
	}
	for n := 1; n <= most; n++ {
		var block []CatalogueRun
		for u := range s.o.Units {
			for k, p := range s.procedures {
				if n <= s.repeats(p) && !(s.Told.Untested == s.machines[u].ID && s.Told.UntestedIn == p.ID) {
					block = append(block, CatalogueRun{Number: n, unit: u, procedure: k})
				}
			}
		}
		r.Shuffle(len(block), func(i, j int) { block[i], block[j] = block[j], block[i] })
		queue = append(queue, block...)
	}
	repeat := s.victim(queue)
	if repeat >= 0 {
		again := queue[repeat]
		again.Number = s.repeats(s.procedures[again.procedure]) + 1
		queue = append(queue, again)
	}
	s.place(r, queue)
	if repeat >= 0 {
		s.tell()
	}
}

// runsADay is what one person does with weighing and cleaning (common practice: 8 to 15).
const runsADay = 12

// place gives every run its day and time.
func (s *Season) place(r *rand.Rand, queue []CatalogueRun) {
	start := s.o.Start.UTC()
	day := time.Date(start.Year(), start.Month(), start.Day(), 9, 0, 0, 0, time.UTC)
	rested := make([]time.Time, len(s.machines))
	for len(queue) > 0 {
		at := day
		if c := s.controlProcedure(); c != nil {
			s.put(CatalogueRun{Control: true, unit: len(s.machines) - 1, procedure: -1, Number: s.count(len(s.machines)-1) + 1}, at)
			at = at.Add(minutes(c.RunMinutes))
		}
		for range min(runsADay, len(queue)) {
			k := s.next(queue, rested, at)
			x := queue[k]
			queue = append(queue[:k:k], queue[k+1:]...)
			if rested[x.unit].After(at) {
				at = rested[x.unit]
			}
			p := s.procedures[x.procedure]
			s.put(x, at.Add(time.Duration(r.IntN(240))*time.Second))
			at = at.Add(minutes(p.RunMinutes))
			rested[x.unit] = at.Add(time.Duration(p.CooldownS * float64(time.Second)))
			at = at.Add(4 * time.Minute)
			if at.Hour() >= 19 || at.Day() != day.Day() {
				break // the rest tomorrow
			}
		}
		day = day.AddDate(0, 0, 1+r.IntN(3))
		for day.Weekday() == time.Saturday || day.Weekday() == time.Sunday {
			day = day.AddDate(0, 0, 1)
		}
	}
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

// next is the first of the queue whose unit has rested; of the next twenty, if nobody has, the one that
// will first. It does not reach far ahead, so that repeats stay apart.
func (s *Season) next(queue []CatalogueRun, rested []time.Time, at time.Time) int {
	best := 0
	for k := range queue[:min(len(queue), 20)] {
		if !rested[queue[k].unit].After(at) {
			return k
		}
		if rested[queue[k].unit].Before(rested[queue[best].unit]) {
			best = k
		}
	}
	return best
}

func (s *Season) count(unit int) int {
	n := 0
	for i := range s.Runs {
		if s.Runs[i].unit == unit {
			n++
		}
	}
	return n
}

func (s *Season) controlProcedure() *config.Procedure {
	if s.control == "" {
		return nil
	}
	return s.lab.Procedure(s.lab.Bench.Control.Procedure)
}

// of is the procedure of a run.
func (s *Season) of(x *CatalogueRun) *config.Procedure {
	if x.Control {
		return s.controlProcedure()
	}
	return s.procedures[x.procedure]
}

func (s *Season) put(x CatalogueRun, at time.Time) {
	x.Started = at
	x.Name = fmt.Sprintf("%s-%s-%s-%d", at.Format("2006-01-02-1504"), s.machines[x.unit].ID, s.of(&x).ID, x.Number)
	s.Runs = append(s.Runs, x)
}

// victim chooses the run that the rig spoils: the first of a unit that is nothing special; -1: none.
func (s *Season) victim(queue []CatalogueRun) int {
	special := map[string]bool{s.Told.Failing: true, s.Told.Untested: true, s.Told.Tied[0]: true, s.Told.Tied[1]: true}
	for k := range queue {
		if id := s.machines[queue[k].unit].ID; !special[id] && (id != s.Told.Close || s.o.Units < 6) {
			return k
		}
	}
	return -1
}

// tell finds the runs of the mistakes again, by their names.
func (s *Season) tell() {
	last := &s.Runs[len(s.Runs)-1]
	for i := range s.Runs {
		x := &s.Runs[i]
		if x.Number > 1 && !x.Control && x.Number > s.repeats(s.of(x)) {
			last = x
		}
	}
	s.Told.Repeat = last.Name
	for i := range s.Runs {
		x := &s.Runs[i]
		if x.Control {
			continue
		}
		same := x.unit == last.unit && x.procedure == last.procedure
		switch {
		case same && x.Number == 1:
			s.Told.RigVoid = x.Name
		case same:
		case s.Told.OperatorVoid == "" && x.Number == 2 && s.plainUnit(x.unit):
			s.Told.OperatorVoid = x.Name
		case s.Told.Withdrawn == "" && s.plainUnit(x.unit):
			s.Told.Withdrawn = x.Name
		}
	}
}

// plainUnit tells that a unit is none of those that somebody is to find, nor the other voided one.
func (s *Season) plainUnit(u int) bool {
	id := s.machines[u].ID
	t := &s.Told
	return id != t.Failing && id != t.Untested && id != t.Tied[0] && id != t.Tied[1] && (id != t.Close || s.o.Units < 7)
}
