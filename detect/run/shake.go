package run

import (
	"quern/config"
	"quern/rig"
)

const (
	shakeS = 4.0 // s a pan must shake to be shaken by a motor: a bowl set down settles in 1 to 3 s
	stillS = 2.0 // s it must stand still before the motor is said to be off
)

// Shaker finds starts and stops from a scale alone, by the shaking of its pan. That is coarse: a
// second or so at each end.
type Shaker struct {
	pauseS   float64
	shaky    bool
	sinceS   float64 // the pan shakes, or stands still, since
	lastS    float64
	on       bool
	onS      float64
	runs     []Found
	warnings []rig.Warning
}

// NewShaker returns a shaker for a session.
func NewShaker(set config.Setup) *Shaker { return &Shaker{pauseS: set.Procedure.LongestPauseS} }

// Pan takes the next reading.
func (k *Shaker) Pan(p Pan) {
	if p.Shaky != k.shaky {
		k.shaky, k.sinceS = p.Shaky, p.AtS
	}
	k.lastS = p.AtS
	switch {
	case k.shaky && !k.on && p.AtS-k.sinceS >= shakeS:
		if n := len(k.runs); n == 0 || k.sinceS-k.runs[n-1].EndS() > k.pauseS {
			k.runs = append(k.runs, Found{IdleA: rig.Absent("no-current"), Inrush: rig.Absent("no-current"), NoiseA: rig.Absent("no-current")})
		}
		f := &k.runs[len(k.runs)-1]
		f.On = append(f.On, Interval{k.sinceS, k.sinceS})
		f.Events = append(f.Events, event(rig.MotorStart, k.sinceS, 1.5, 0.4, "the pan of the scale began to shake; neither current nor sound was recorded"))
		k.on, k.onS = true, k.sinceS
	case !k.shaky && k.on && p.AtS-k.sinceS >= stillS:
		k.stop(k.sinceS, "the pan of the scale came to rest; neither current nor sound was recorded")
	}
}

func (k *Shaker) stop(atS float64, evidence string) {
	f := &k.runs[len(k.runs)-1]
	f.On[len(f.On)-1].ToS = atS
	f.Events = append(f.Events, event(rig.MotorStop, atS, 1.5, 0.4, evidence))
	f.States = append(f.States, rig.Span{State: rig.Unknown, FromS: rig.Fig(k.onS), ToS: rig.Fig(atS)})
	k.on = false
}

// Finish ends the session and returns its runs.
func (k *Shaker) Finish(endS float64) []Found {
	if k.on {
		k.stop(k.lastS, "the recording ended while the pan of the scale shook")
		k.warnings = append(k.warnings, rig.Warning{Code: "ended-running", Text: "the recording ended while the pan still shook: the stop is the recording's end"})
	}
	return k.runs
}

// Warnings returns what was wrong with the scale's readings.
func (k *Shaker) Warnings() []rig.Warning { return k.warnings }
