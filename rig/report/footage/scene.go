package footage

import (
	"quern/detect"
	"quern/rig"
	"quern/rig/report/overlay"
	"quern/rig/session/replay"
)

// Scene analyses the session for its overlay. What is read goes through through, as in [replay.Analyse].
func (t *Told) Scene(through func(rig.Source) rig.Source) (overlay.Scene, error) {
	sc := overlay.Scene{Unit: t.unit()}
	for _, r := range t.runs() {
		for len(sc.Final) < r.N {
			sc.Final = append(sc.Final, overlay.Final{})
		}
		sc.Final[r.N-1] = overlay.FinalScored(r)
	}
	set, err := t.setup()
	if err != nil {
		return sc, err
	}
	end := 0.0
	res, err := replay.Analyse(t.Session, set, detect.Trace{
		Level:   func(at, la, lf float64) { sc.Level.Add(at, lf) },
		Current: func(at, a float64) { sc.Current.Add(at, a); end = max(end, at) },
		Mass:    func(at, _ float64) { end = max(end, at) },
	}, through)
	if err != nil {
		return sc, err
	}
	sc.Result, sc.Procedure, sc.Clock, sc.LimitS = res, set.Procedure.ID, set.Procedure.Clock, set.Procedure.TimeLimitS
	sc.EndS = max(end, sc.Level.EndS(), sc.Current.EndS())
	return sc, nil
}
