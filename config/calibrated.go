package config

import (
	"fmt"

	"quern/rig"
)

// Calibrated refuses streams in fractions of full scale, as WAV files hold them, where bench.toml itself does not
// say what full scale is worth: a default there gives levels and currents that look measured and are not. The error
// is a *rig.FileError.
func (l *Lab) Calibrated(streams []rig.Stream) error {
	for _, s := range streams {
		if s.Unit != rig.FullScale {
			continue
		}
		switch s.Channel {
		case rig.Microphone:
			if o := l.origins[&l.Bench.Microphone.FullScaleDB]; !o.given {
				return o.uncalibrated("the level of a sine whose peak just reaches full scale",
					"write full_scale_db = and that level under [microphone]: it comes from a calibrator")
			}
		case rig.Clamp:
			if o := l.origins[&l.Bench.Clamp.FullScaleA]; !o.given {
				return o.uncalibrated("the instantaneous amperes at full scale",
					"write full_scale_a = and those amperes under [clamp]: they come from the clamp and the recorder")
			}
		}
	}
	return nil
}

func (o origin) uncalibrated(want, do string) error {
	return &rig.FileError{File: o.file, Line: max(o.home.line, 1), Byte: -1, Found: fmt.Sprintf("no %s", o.key), Want: want, Do: do}
}
