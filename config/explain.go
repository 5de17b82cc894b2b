package config

import (
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"
	"text/tabwriter"

	"quern/rig"
)

// Explain says in plain sentences what the bench will do, then lists every setting in force with its
// value, unit, where the lab sets it, and why it is there. The error is w's.
func Explain(w io.Writer, l *Lab) error {
	p := &printer{w: w}
	p.bench(l)
	p.line("")
	p.devices(&l.Bench)
	p.line("")
	p.line("Units")
	for i := range l.Units {
		p.unit(&l.Bench, &l.Units[i])
	}
	for i := range l.Procedures {
		p.procedure(&l.Procedures[i])
	}
	p.line("")
	p.scorecard(l)
	p.line("")
	p.analysis(&l.Bench.Detect)
	p.line("")
	p.line("Safety")
	p.text("The grinder is watched, never switched. Before freeing a jam: pull the plug and keep it in hand; a motor whose protector opened may start by itself. Mains and drains: local codes, licensed people.")
	p.line("")
	p.line("Every setting in force (* set by this lab)")
	p.settings(l, &l.Bench, "bench.toml")
	for i := range l.Units {
		p.settings(l, &l.Units[i], "units.toml, "+l.Units[i].ID)
	}
	for i := range l.Procedures {
		p.settings(l, &l.Procedures[i], l.origins[&l.Procedures[i].ID].file)
	}
	p.settings(l, &l.Scorecard, "scorecard.toml")
	return p.err
}

// printer writes lines until the first error.
type printer struct {
	w     io.Writer
	err   error
	brief bool // settings without their reasons
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintln(p.w, strings.TrimRight(fmt.Sprintf(format, args...), " "))
	}
}

// text writes a paragraph, indented and filled to a page's width. No line ends at a ~, which prints
// as a space.
func (p *printer) text(format string, args ...any) {
	const width = 100 // columns
	at := " "
	for _, word := range strings.Fields(fmt.Sprintf(format, args...)) {
		word = strings.ReplaceAll(word, "~", " ")
		if len(at)+1+len(word) > width {
			p.line("%s", at)
			at = "   "
		}
		at += " " + word
	}
	p.line("%s", at)
}

func (p *printer) bench(l *Lab) {
	b := &l.Bench
	p.line("Bench %q", b.Name)
	p.days(l)
	p.text("Supply: %g V, %g Hz nominal; the true frequency is tracked from the current.", b.Supply.VoltageV, b.Supply.FrequencyHz)
	p.text("Microphone: a sine of %g dB just reaches full scale, so anything with a peak above %.4g dB is clipped and said to be.", b.Microphone.FullScaleDB, b.Microphone.FullScaleDB+20*math.Log10(math.Sqrt2))
	if n := b.Microphone.SelfNoiseDB; n > 0 {
		p.text("Its own noise is %g dB(A): a background hardly above that carries a warning.", n)
	}
	p.text("Clamp: %g A at full scale, an instantaneous peak, so a sine of %.3g A RMS just fits.", b.Clamp.FullScaleA, b.Clamp.FullScaleA/math.Sqrt2)
	p.text("Scale: steps of %g g, class %s; a reading is steady within one step.", b.Scale.DivisionG, b.Scale.Class)
	for _, v := range b.Vessels {
		wet := ""
		if v.WetG > 0 {
			wet = fmt.Sprintf(", %g~g wet and drained", v.WetG)
		}
		p.text("Vessel %s: %g~g dry%s.", v.ID, v.DryG, wet)
	}
	if c := b.Control; c.Unit != "" {
		p.text("Control: %s under %s at the start of each day; limits from its first %s. A day outside them is flagged.", c.Unit, c.Procedure, rig.Count(c.Baseline, "run"))
	}
}

// days says in which zone the days of runs are told, and who said so.
func (p *printer) days(l *Lab) {
	zone := l.Bench.TimeZone
	const whose = "the day of a run, and with it the checks that count for it, the dates in reports and the day of release,"
	switch {
	case zone == "":
		p.text("Days are those of UTC: %s may be another than yours. Set time_zone.", whose)
	case l.origins[&l.Bench.TimeZone].given:
		p.text("Days are those of %s: %s. Each session keeps it; one that was recorded without stays in UTC.", zone, strings.TrimSuffix(whose, ","))
	default:
		p.text("Days are those of %s, this machine's own zone: %s. Each session keeps the zone of the machine that recorded it or brought it in. Where that may be another's, or this one is set wrong, write time_zone into bench.toml.", zone, strings.TrimSuffix(whose, ","))
	}
}

func (p *printer) unit(b *Bench, u *Unit) {
	m := &b.Detect.Motor
	overloadA := m.OverloadRatio * u.RatedCurrentA
	stall := fmt.Sprintf("stall from %g~%% of the inrush that the unit itself shows, for its locked-rotor current is not given,", percent(m.StallRatio))
	locked := ""
	if u.LockedRotorA > 0 {
		locked = fmt.Sprintf(", locked rotor %g A (%.1f x rated)", u.LockedRotorA, u.LockedRotorA/u.RatedCurrentA)
		stall = fmt.Sprintf("stall from %.4g A", m.StallRatio*u.LockedRotorA)
	}
	p.text("%s: %s motor, %g A rated%s. Overload counts from %.4g A for %g s; %s for %g s.",
		u.ID, u.Motor, u.RatedCurrentA, locked, overloadA, m.OverloadHoldS, stall, m.StallHoldS)
	if u.LockedRotorA == 0 {
		return
	}
	if peak := u.LockedRotorA * math.Sqrt2; peak > b.Clamp.FullScaleA {
		p.text("Note on %s: its locked-rotor peak of %.0f A is more than the clamp's %g A: inrush and stall will be cut off.", u.ID, peak, b.Clamp.FullScaleA)
	}
	if stallA := m.StallRatio * u.LockedRotorA; stallA < overloadA {
		p.text("Note on %s: stall begins at %.4g A, below overload at %.4g A: heavy grinding may be taken for a stall.", u.ID, stallA, overloadA)
	}
}

func (p *printer) analysis(d *Detect) {
	m, s, h := &d.Motor, &d.Sound, &d.Heard
	p.line("How a recording is read")
	p.text("On and off: the motor is on while its current exceeds what the clamp shows at rest by the largest of %g times the clamp's noise, %g~%% of the rated current and %g~%% of the no-load current learned in the run. Less than %g s of current is no start; %g s without it is a stop.",
		m.OnNoiseRatio, percent(m.OnRatedRatio), percent(m.OffIdleShare), m.OnHoldS, m.OffHoldS)
	p.text("Stall: from %g~%% of the locked-rotor current for %g s, until the current is below %g~%%. A start that still draws that much after %g s has failed.",
		percent(m.StallRatio), m.StallHoldS, percent(m.StallLeaveRatio), m.InrushLimitS)
	p.text("Overload: from %g x rated for %g s, until the current is below %g x. A stall is not also an overload.", m.OverloadRatio, m.OverloadHoldS, m.OverloadLeave)
	p.text("Trip: current that stops out of a stall or an overload that has lasted %g s is presumed to be the protector's work; after a shorter one it is an ordinary stop.", m.TripAfterS)
	p.text("Load: the motor is loaded while its current is outside the no-load band: %g standard deviations of the no-load current, and at least %g~%% of it for an induction motor, %g~%% for others. The chamber is clear when the load and impacts more than %g dB above the median have been gone for %g s and do not come back.",
		d.Load.BandSigmas, percent(d.Load.BandInduction), percent(d.Load.BandOther), d.Load.ImpactOverDB, d.Load.DwellS)
	p.text("Microphone: %d samples in a row within %g dB of full scale are a clip; %g s without any change is a dead input. The background takes at least %g s of quiet before the first start, without what is more than %g dB louder than the quietest tenth of it, and without the second before and after that.",
		s.ClipSamples, s.ClipBelowFSDB, s.SilentS, s.BackgroundMinS, s.BackgroundOverDB)
	p.text("Without a clamp: sound about %g dB above the quiet that holds for %g s, in its low octaves too if a tap may be running, is a motor. A recording that opens above %g dB(A) and is quiet later began with the motor running.", h.OverBackgroundDB, h.HoldS, h.RunningAboveDB)
}

// percent is a ratio in per cent, without the tail that binary fractions leave.
func percent(ratio float64) float64 { return math.Round(ratio*1e6) / 1e4 }

// settings lists the fields of the struct that of points to, and of those within it.
func (p *printer) settings(l *Lab, of any, title string) {
	p.line("")
	p.line("%s", title)
	columns := tabwriter.NewWriter(p.w, 0, 1, 2, ' ', 0)
	rows := &printer{w: columns, err: p.err}
	rows.fields(l, reflect.ValueOf(of).Elem(), "")
	if p.err = rows.err; p.err == nil {
		p.err = columns.Flush()
	}
}

func (p *printer) fields(l *Lab, v reflect.Value, path string) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		name := strings.TrimPrefix(path+"."+f.Tag.Get("toml"), ".")
		if f.Type.Kind() == reflect.Struct {
			p.fields(l, v.Field(i), name)
			continue
		}
		if f.Type.Kind() == reflect.Slice {
			for j := range v.Field(i).Len() {
				of := *p
				of.brief = p.brief || j > 0 // the reasons stand beside the first
				of.fields(l, v.Field(i).Index(j), fmt.Sprintf("%s.%d", name, j+1))
				p.err = of.err
			}
			if v.Field(i).Len() == 0 && !p.brief { // none: what one would have
				one := reflect.New(f.Type.Elem()).Elem()
				(&reader{origins: map[any]origin{}}).fill(one, nil, name)
				p.fields(l, one, name)
			}
			continue
		}
		mark, from := " ", "default"
		if o := l.origins[v.Field(i).Addr().Interface()]; o.given {
			mark, from = "*", fmt.Sprintf("%s:%d", o.file, o.at.line)
		}
		value := literal(v.Field(i))
		switch {
		case from == "default" && f.Tag.Get("range") == zoneRange && !absent(f.Tag, v.Field(i)):
			from = "this machine's"
		case absent(f.Tag, v.Field(i)):
			value, from = "absent", "not given"
		case f.Tag.Get("secret") != "" && !v.Field(i).IsZero():
			value = "given, not shown"
		case f.Tag.Get("unit") != "":
			value += " " + f.Tag.Get("unit")
		}
		why := f.Tag.Get("why")
		if p.brief {
			why = ""
		}
		p.line("%s %s\t%s\t%s\t%s", mark, name, value, from, why)
	}
}
