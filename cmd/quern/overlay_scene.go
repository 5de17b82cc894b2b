package main

import (
	"fmt"

	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/report/overlay"
	"quern/rig/score"
	"quern/rig/session"
)

// sceneOf analyses a session for its overlay.
func sceneOf(k *campaign, ses *session.Session, dir string) (overlay.Scene, error) {
	set := ses.Setup()
	sc := overlay.Scene{Unit: set.Unit.ID}
	if k.lab != "" {
		camp, err := k.read(k.lab, []string{dir})
		if err != nil {
			return sc, err
		}
		if len(camp.Runs) > 0 {
			if set, err = runsInto(k, &sc, camp, set); err != nil {
				return sc, err
			}
		}
	} else if facts, err := ses.Facts(); err != nil {
		return sc, err
	} else if n := len(facts.Corrections); n > 0 {
		fmt.Fprintf(k.e.err, "quern: the session has %s, counted only with --lab\n", rig.Count(n, "correction"))
	}
	end := 0.0
	res, err := replayed(k.e, ses, set, detect.Trace{
		Level:   func(at, la, lf float64) { sc.Level.Add(at, lf) },
		Current: func(at, a float64) { sc.Current.Add(at, a); end = max(end, at) },
		Mass:    func(at, _ float64) { end = max(end, at) },
	})
	if err != nil {
		return sc, err
	}
	sc.Result, sc.Procedure, sc.Clock, sc.LimitS = res, set.Procedure.ID, set.Procedure.Clock, set.Procedure.TimeLimitS
	sc.EndS = max(end, sc.Level.EndS(), sc.Current.EndS())
	return sc, nil
}

// runsInto takes what the lab says of a session's runs, and returns the settings under which they were analysed.
func runsInto(k *campaign, sc *overlay.Scene, camp *score.Campaign, set config.Setup) (config.Setup, error) {
	first := camp.Runs[0]
	if u := camp.Lab.Unit(first.Unit); u != nil {
		sc.Unit = u.Shown(k.today())
	}
	for _, r := range camp.Runs {
		for len(sc.Final) < r.N {
			sc.Final = append(sc.Final, overlay.Final{})
		}
		sc.Final[r.N-1] = overlay.FinalScored(r)
	}
	if k.settings != "lab" && first.Unit == set.Unit.ID && first.Procedure.ID == set.Procedure.ID {
		return set, nil
	}
	return camp.Lab.Setup(first.Unit, first.Procedure.ID)
}
