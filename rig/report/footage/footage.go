// Package footage gathers what was measured in a session, for captions and for film that lies over footage. Both say
// the same: who is filmed, under which settings it was analysed, and what each run came to once all is corrected.
package footage

import (
	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
)

// Told is a session, and what a lab says of it.
type Told struct {
	Session  *session.Session
	Dir      string          // its folder
	Campaign *score.Campaign // of this session alone; nil: no lab is asked, and what was corrected by hand does not count
	Today    string          // the lab's day, by which names are released
	Present  bool            // the lab's present settings count, not those stored in the session
}

// Uncounted returns how many corrections the session has that are not counted, for no lab is asked.
func (t *Told) Uncounted() (int, error) {
	if t.Campaign != nil {
		return 0, nil
	}
	facts, err := t.Session.Facts()
	return len(facts.Corrections), err
}

// runs returns those of the session, in their order, as they are scored; none where no lab is asked.
func (t *Told) runs() []*score.Run {
	if t.Campaign == nil {
		return nil
	}
	return t.Campaign.Runs
}

// unit returns what the unit may be called: its public name once that is released, otherwise its code.
func (t *Told) unit() string {
	if runs := t.runs(); len(runs) > 0 {
		if u := t.Campaign.Lab.Unit(runs[0].Unit); u != nil {
			return u.Shown(t.Today)
		}
	}
	return t.Session.Setup().Unit.ID
}

// setup returns the settings under which the runs are analysed: those of another unit or procedure are the lab's, where
// a correction says that the wrong one was chosen.
func (t *Told) setup() (config.Setup, error) {
	set := t.Session.Setup()
	runs := t.runs()
	if len(runs) == 0 {
		return set, nil
	}
	first := runs[0]
	if !t.Present && first.Unit == set.Unit.ID && first.Procedure.ID == set.Procedure.ID {
		return set, nil
	}
	return t.Campaign.Lab.Setup(first.Unit, first.Procedure.ID)
}

// result returns what was found under those settings: as it was scored, as it is kept, or as analyse finds it.
func (t *Told) result(analyse func(config.Setup) (rig.Result, error)) (rig.Result, error) {
	if runs := t.runs(); len(runs) > 0 {
		return runs[0].Record.Result, nil
	}
	set := t.Session.Setup().ForAnalysis()
	if a, err := session.LoadAnalysis(t.Dir, session.AnalysisKey(set)); err == nil {
		return a.Result, nil
	}
	return analyse(set)
}
