package config

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"
	"time"
)

// ForAnalysis returns the settings with everything at its default that no analysis looks at. Two setups
// with the same one give the same events and figures of the same recording, whatever gates, recipes and
// scorecards say.
func (s Setup) ForAnalysis() Setup {
	out := Setup{Bench: DefaultBench(), Unit: DefaultUnit(s.Unit.ID), Procedure: DefaultProcedure(s.Procedure.ID)}
	b := &out.Bench
	b.Name, b.Supply, b.Detect = s.Bench.Name, s.Bench.Supply, s.Bench.Detect
	b.Microphone.FullScaleDB = s.Bench.Microphone.FullScaleDB
	b.Microphone.SelfNoiseDB = s.Bench.Microphone.SelfNoiseDB
	b.Clamp.FullScaleA = s.Bench.Clamp.FullScaleA
	b.Scale.DivisionG = s.Bench.Scale.DivisionG
	b.Extra = s.Bench.Extra
	u := &out.Unit
	u.RatedCurrentA, u.LockedRotorA, u.Motor = s.Unit.RatedCurrentA, s.Unit.LockedRotorA, s.Unit.Motor
	p := &out.Procedure
	p.TimeLimitS, p.Clock, p.ChargeG, p.LongestPauseS = s.Procedure.TimeLimitS, s.Procedure.Clock, s.Procedure.ChargeG, s.Procedure.LongestPauseS
	return out
}

// Shown returns what the unit may be called on a day such as 2026-12-01: its blind code before the
// release, its public name with the code from then on.
func (u *Unit) Shown(day string) string {
	if !u.Released(day) {
		return u.ID
	}
	return u.Name + " (" + u.ID + ")"
}

// Released tells whether the public name may be shown on a day.
func (u *Unit) Released(day string) bool {
	_, err := time.Parse(time.DateOnly, day)
	return err == nil && u.Name != "" && u.Release != "" && day >= u.Release
}

// RulesSum is the SHA-256 of the scorecard and all procedures in force, defaults included: two labs with
// the same one score alike.
func (l *Lab) RulesSum() string {
	var b strings.Builder
	writeTable(&b, reflect.ValueOf(l.Scorecard), "scorecard")
	for i := range l.Procedures {
		writeTable(&b, reflect.ValueOf(l.Procedures[i]), "procedure-"+l.Procedures[i].ID)
	}
	writeTable(&b, reflect.ValueOf(l.Bench.Errors), "errors")
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:])
}
