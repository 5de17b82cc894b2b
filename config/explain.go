package config

import (
	"fmt"
	"io"
	"reflect"
	"strings"
)

// Explain says in plain sentences what the bench will do, then lists every setting in force with its
// value, unit, whether the lab set it, and why it is there.
func Explain(w io.Writer, l *Lab) error {
	p := &printer{w: w}
	b := l.Bench
	d := b.Detect
	p.line("Bench %q", b.Name)
	p.line("  Supply: %g V, %g Hz nominal; the true frequency is tracked from the current.", b.Supply.VoltageV, b.Supply.FrequencyHz)
	p.line("  Microphone: a sine of %g dB just reaches digital full scale.", b.Microphone.FullScaleDB)
	p.line("  Clamp: %g A at digital full scale, a peak: a sine of %.3g A RMS just fits.", b.Clamp.FullScaleA, b.Clamp.FullScaleA/1.41421356)
	p.line("  Scale: steps of %g g.", b.Scale.DivisionG)
	p.line("")
	p.line("Units")
	for _, u := range l.Units {
		locked := "locked-rotor current not on the nameplate: the unit's own inrush stands in"
		ref := 0.0
		if u.LockedRotorA > 0 {
			locked, ref = fmt.Sprintf("%g A with the rotor locked (%.1f x rated)", u.LockedRotorA, u.LockedRotorA/u.RatedCurrentA), u.LockedRotorA
		}
		p.line("  %s: %s motor, %g A rated, %s.", u.ID, u.Motor, u.RatedCurrentA, locked)
		stall := fmt.Sprintf("A stall counts from %g %% of the locked-rotor current", 100*d.Motor.StallRatio)
		if ref > 0 {
			stall = fmt.Sprintf("A stall counts from %.1f A", d.Motor.StallRatio*ref)
		}
		p.line("    %s for %g s; an overload from %.2f A for %g s; either that lasts %g s and ends with no current is a presumed trip.",
			stall, d.Motor.StallHoldS, d.Motor.OverloadRatio*u.RatedCurrentA, d.Motor.OverloadHoldS, d.Motor.TripAfterS)
	}
	p.line("")
	p.line("Procedures")
	for _, pr := range l.Procedures {
		clock := "the time the motor is on; pauses do not count"
		if pr.Clock == "elapsed" {
			clock = "the time from the first start to the last stop, pauses included"
		}
		charge := ""
		if pr.ChargeG > 0 {
			charge = fmt.Sprintf(" Charge: %g g.", pr.ChargeG)
		}
		p.line("  %s: %g s at most, on the clock %q: %s. A stop longer than %g s ends the run.%s", pr.ID, pr.TimeLimitS, pr.Clock, clock, pr.LongestPauseS, charge)
	}
	p.line("")
	p.line("The grinder is watched, never switched. Before freeing a jam: pull the plug and keep it in hand;")
	p.line("a motor whose protector opened may start by itself. Mains and drains: local codes, licensed people.")
	p.line("")
	p.line("Every setting in force (* set by this lab)")
	p.settings(l.given, reflect.ValueOf(&l.Bench).Elem(), "bench.toml")
	for i := range l.Units {
		p.settings(l.given, reflect.ValueOf(&l.Units[i]).Elem(), "units.toml, "+l.Units[i].ID)
	}
	for i := range l.Procedures {
		p.settings(l.given, reflect.ValueOf(&l.Procedures[i]).Elem(), l.files[&l.Procedures[i]])
	}
	p.settings(l.given, reflect.ValueOf(&l.Scorecard).Elem(), "scorecard.toml")
	return p.err
}

type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, strings.TrimRight(format, " ")+"\n", args...)
	}
}

// settings lists the fields of a struct and of those within it.
func (p *printer) settings(given map[any]place, v reflect.Value, file string) {
	p.line("")
	p.line("%s", file)
	p.fields(given, v, "")
}

func (p *printer) fields(given map[any]place, v reflect.Value, path string) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Type.Kind() == reflect.Struct {
			p.fields(given, v.Field(i), strings.TrimPrefix(path+"."+f.Tag.Get("toml"), "."))
			continue
		}
		name := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		mark, from := " ", "default"
		if at, ok := given[v.Field(i).Addr().Interface()]; ok {
			mark, from = "*", fmt.Sprintf("line %d", at.line)
		}
		value := literal(v.Field(i))
		switch {
		case f.Tag.Get("optional") != "" && v.Field(i).IsZero():
			value, from = "absent", "not given"
		case f.Tag.Get("unit") != "":
			value += " " + f.Tag.Get("unit")
		}
		p.line("%s %-38s %-22s %-10s %s", mark, name, value, from, f.Tag.Get("why"))
	}
}
