package footage

import (
	"context"
	"errors"
	"path/filepath"

	"quern/config"
	"quern/rig"
	"quern/rig/report/captions"
	"quern/rig/report/series"
	"quern/rig/report/veil"
)

// Captions fills in what was measured. analyse is asked where no analysis is kept.
func (t *Told) Captions(ctx context.Context, shot *captions.Shot, analyse func(config.Setup) (rig.Result, error)) error {
	var err error
	if shot.Result, err = t.result(analyse); err != nil {
		return err
	}
	shot.Unit = t.unit()
	if t.Campaign != nil {
		shot.Veil = veil.New(t.Campaign.Lab, t.Today, "", false).Text
	}
	if runs := t.runs(); len(runs) > 0 {
		shot.Final = func(run int, measure string) rig.Figure {
			for _, r := range runs {
				if r.N == run {
					return r.Measure(measure).Figure
				}
			}
			return rig.Absent("not-scored")
		}
	}
	return t.curves(ctx, shot)
}

// curves fills in the series that captions tell of.
func (t *Told) curves(ctx context.Context, shot *captions.Shot) error {
	sr, err := series.Open(t.Dir, filepath.Join(filepath.Dir(t.Dir), series.CacheName))
	if err != nil {
		return err
	}
	defer sr.Close()
	if err := sr.Wait(ctx); err != nil {
		return err
	}
	shot.EndS = sr.Seconds()
	for name, to := range map[string]*captions.Curve{series.Level: &shot.Level, series.RMS: &shot.Current, series.Mass: &shot.Mass} {
		v, err := sr.Envelope(ctx, name, 0, shot.EndS, captions.CurvePoints(shot.EndS))
		switch {
		case errors.Is(err, series.ErrAbsent):
		case err != nil:
			return err
		default:
			*to = captions.Curve{FromS: v.FromS, StepS: v.StepS, V: v.Mean}
		}
	}
	return nil
}
