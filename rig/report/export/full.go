package export

import (
	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// full is a session with all that its analysis found; what scoring is given leaves spectra and states out.
type full struct {
	rec      *rig.Record
	result   rig.Result
	setup    config.Setup
	settings string // as settings.toml has them
}

// setupOf returns the settings under which a session was analysed. A session by hand has those that it was given.
func (in *input) setupOf(rec *rig.Record, ses *session.Session) config.Setup {
	set := ses.Setup()
	if now, err := in.Campaign.Lab.Setup(rec.Unit, rec.Procedure); err == nil && session.SettingsSum(now.ForAnalysis()) == rec.Settings {
		return now.ForAnalysis()
	}
	for _, r := range in.Campaign.Runs { // a corrected unit or procedure is the lab's
		if r.Record.Session != rec.Session {
			continue
		}
		if now, err := in.Campaign.Lab.Setup(r.Unit, r.Procedure.ID); err == nil {
			mixed := set
			mixed.Unit, mixed.Procedure = now.Unit, now.Procedure
			for _, s := range []config.Setup{now, mixed} {
				if session.SettingsSum(s.ForAnalysis()) == rec.Settings {
					return s.ForAnalysis()
				}
			}
		}
	}
	return set.ForAnalysis()
}

// eachFull calls f for each session. An analysis that was not kept is made again.
func (in *input) eachFull(f func(full) error) error {
	return in.records(func(rec *rig.Record) error {
		x := full{rec: rec, result: rec.Result}
		dir := in.Dirs[rec.Session]
		ses, err := session.Open(dir)
		if err != nil {
			return err
		}
		x.setup = in.setupOf(rec, ses)
		x.settings = string(x.setup.TOML())
		if len(ses.Manifest().Streams) > 0 {
			if a, err := session.LoadAnalysis(dir, session.AnalysisKey(x.setup)); err == nil {
				x.result = a.Result
			} else if x.result, err = replay.Analyse(ses, x.setup, detect.Trace{}, nil); err != nil {
				return err
			}
		}
		return f(x)
	})
}

// open opens the series of a session; nil: nothing was recorded in it.
func (in *input) open(rec *rig.Record) (*series.Session, error) {
	if rec.Origin == rig.ByHand {
		return nil, nil
	}
	return series.OpenRecordings(in.Dirs[rec.Session])
}
