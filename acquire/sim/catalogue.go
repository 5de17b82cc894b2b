package sim

import (
	"fmt"
	"time"

	"quern/config"
	"quern/rig"
)

// CatalogueOptions say how large an invented season of tests is. The zero value is six units under all
// procedures of the lab, in full sessions.
type CatalogueOptions struct {
	Units      int       // 4 to 200; 0: 6. One more if the lab names a control unit
	Procedures []string  // ids; none: all of the lab
	Repeats    int       // of each; 0: as the procedure says
	Light      bool      // short sessions at low rates, which are quickly simulated and analysed
	Start      time.Time // first morning; zero: 2 March 2026, UTC
}

// Season is an invented season of tests: units that do not exist, their runs in the order in which they
// were done, and what people put on record of them. It is large enough to learn the whole job on, and to
// rank. The same seed, lab and options give the same season. Times are compressed: a run of the season
// grinds in half a minute what a sink would in two, and a protector is reset after seconds.
type Season struct {
	Units  []config.Unit // as they stand in UnitsTOML
	Traits []Traits      // of the same units: what nobody on the bench knows
	Runs   []CatalogueRun
	Hand   []rig.HandValue // what the scorecard asks for: build, installation, price
	Told   Told

	lab        *config.Lab
	o          CatalogueOptions
	procedures []*config.Procedure
	machines   []Unit
	control    string // id; "": the lab names none
}

// Told is what has been put into a season for somebody to find: ids of units and procedures.
type Told struct {
	Failing, FailingIn   string    // leaves more behind than the gate allows
	Close, CloseIn       string    // leaves nearly as much as it allows
	Untested, UntestedIn string    // has no run of a procedure; "" if there is one procedure only
	Tied                 [2]string // differ by less than their runs scatter
	Tripping             string    // trips on bones more often than not
	RigVoid, Repeat      string    // names of runs: void by the rig's fault, and its repeat
	OperatorVoid         string    // void by the operator's, not yet repeated if there are other runs
	Withdrawn            string    // a weighing of this run was withdrawn
}

// CatalogueRun is one session of a season.
type CatalogueRun struct {
	Name        string // date, time, unit, procedure and number: sorts by time
	Number      int    // of this unit under this procedure, from 1
	Control     bool   // the bench's own unit, first thing in the morning
	Scenario    Scenario
	Started     time.Time
	Weighings   []rig.Weighing   // facts are numbered through all four, in the order of the work
	Checks      []rig.Check      // of the morning, with the day's first run
	Remarks     []rig.Remark     //
	Corrections []rig.Correction // made after the session was closed

	unit, procedure int // indices; the control unit is the last
}

// Facts returns all that was put on record.
func (r *CatalogueRun) Facts() rig.Facts {
	return rig.Facts{Weighings: r.Weighings, Checks: r.Checks, Corrections: r.Corrections, Remarks: r.Remarks}
}

// Catalogue invents a season of tests under the procedures of a lab: its bench, vessels and scorecard are
// used, its units are not. The error says which option does not go.
func Catalogue(seed uint64, lab *config.Lab, o CatalogueOptions) (*Season, error) {
	if o.Units == 0 {
		o.Units = 6
	}
	if o.Start.IsZero() {
		o.Start = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	}
	bad := func(what string, found any, want string) error {
		return fmt.Errorf("season: %s: found %v, expected %s", what, found, want)
	}
	switch {
	case o.Units < 4 || o.Units > 200:
		return nil, bad("units", o.Units, "4 to 200")
	case o.Repeats < 0 || o.Repeats > 50:
		return nil, bad("repeats", o.Repeats, "1 to 50, or 0 for what the procedure says")
	case o.Start.Year() < 1970 || o.Start.Year() > 2200:
		return nil, bad("start", o.Start.Format(time.DateOnly), "a day from 1970 to 2200")
	}
	s := &Season{lab: lab, o: o}
	if len(o.Procedures) == 0 {
		for i := range lab.Procedures {
			s.procedures = append(s.procedures, &lab.Procedures[i])
		}
	}
	for i, id := range o.Procedures {
		p := lab.Procedure(id)
		if p == nil {
			return nil, bad("procedure", id, "one of the lab's procedures")
		}
		for _, other := range o.Procedures[:i] {
			if other == id {
				return nil, bad("procedure", id+" twice", "each once")
			}
		}
		s.procedures = append(s.procedures, p)
	}
	if len(s.procedures) == 0 {
		return nil, bad("procedures", "none", "at least one in the lab")
	}
	if c := lab.Bench.Control; c.Unit != "" {
		s.control = c.Unit
	}
	s.invent(seed)
	s.schedule(seed)
	for i := range s.Runs {
		s.play(seed, &s.Runs[i])
	}
	s.mistakes()
	s.judgeByHand(seed)
	return s, nil
}

// repeats is how often each unit does a procedure.
func (s *Season) repeats(p *config.Procedure) int {
	if s.o.Repeats > 0 {
		return s.o.Repeats
	}
	return p.Repeats
}
