// Package replay analyses recorded sessions again.
package replay

import (
	"time"

	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/session"
)

// Analyse analyses a session under given settings. The warnings of reading it stand before those of the analysis. What
// is read goes through through, unless that is nil: it may watch it, or end it with an error.
func Analyse(s *session.Session, set config.Setup, trace detect.Trace, through func(rig.Source) rig.Source) (rig.Result, error) {
	recorded, err := s.Source()
	if err != nil {
		return rig.Result{}, err
	}
	defer recorded.Close()
	src := rig.Source(recorded)
	if through != nil {
		src = through(src)
	}
	res, err := detect.Analyse(src, set, s.Manifest().Session, trace)
	if err != nil {
		return rig.Result{}, err
	}
	res.Warnings = append(append([]rig.Warning{}, s.Warnings()...), res.Warnings...) // never nil, as those of a live one
	return res, nil
}

// Keep analyses the session in a folder and stores what came of it there, in place of an analysis under the same
// settings. now tells when it was made; through is as in [Analyse].
func Keep(dir string, set config.Setup, tool string, now func() time.Time, through func(rig.Source) rig.Source) (rig.Result, error) {
	s, err := session.Open(dir)
	if err != nil {
		return rig.Result{}, err
	}
	res, err := Analyse(s, set, detect.Trace{}, through)
	if err != nil {
		return rig.Result{}, err
	}
	return res, session.StoreAnalysis(dir, s.Analysed(set, tool, now(), res))
}
