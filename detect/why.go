package detect

import (
	"fmt"
	"reflect"
	"strings"

	"quern/rig"
)

// reasons says, for the codes of absent figures that no other warning tells of, why they are absent.
var reasons = map[string]string{
	"band-above-sample-rate":  "these bands lie above what the sound's sample rate holds",
	rig.BeganRunning:          "the motor was on before the clamp's noise could be learned",
	"background-not-seen":     "too little quiet came before the first start",
	"inrush-not-seen":         "the first start was not recorded from its beginning, or was over within two cycles",
	"level-meter":             "a level meter's readings do not hold it",
	"microphone-under-range":  "it is less than the rounding of the recording itself makes",
	"microphone-silent":       "the microphone's input did not change, or gave nothing that could be levelled",
	"no-current":              "no record of current lies wholly within the time that the motor was on",
	"no-reading":              "the channel gave no reading while the run went on",
	"no-waveform":             "the current was recorded as RMS readings, which do not hold it: record the waveform",
	"noise-hidden":            "another appliance drew current all the time that the motor was off",
	"not-finite":              "it came out as no number",
	"too-short-for-frequency": "the motor did not run long enough: %.1f s after a start are left out, and %.1f s are needed",
	"too-short-for-harmonics": "the motor did not run steadily long enough for a spectrum",
}

// explain warns of every absent figure whose reason no warning gives yet, so that none is absent in silence.
func (a *Analysis) explain(runs []rig.Run) {
	told := map[string]bool{}
	for _, w := range a.warnings {
		told[w.Code] = true
	}
	for i := range runs {
		var codes []string
		lacks := map[string][]string{}
		each(reflect.ValueOf(&runs[i]).Elem(), "", func(name string, f *rig.Figure) {
			if f.OK {
				return
			}
			if f.Why == "" {
				f.Why = "not-measured"
			}
			if f.Why == "no-current" {
				f.Why = a.noCurrent()
			}
			if told[f.Why] {
				return
			}
			names := lacks[f.Why]
			if names == nil {
				codes = append(codes, f.Why)
			}
			if n := len(names) - 1; n >= 0 && strings.HasPrefix(name, bandsName) && strings.HasPrefix(names[n], bandsName) {
				first, _, _ := strings.Cut(names[n], " to ")
				names[n] = first + " to " + strings.TrimPrefix(name, bandsName)
				return
			}
			lacks[f.Why] = append(names, name)
		})
		for _, c := range codes {
			why := reasons[c]
			if c == "too-short-for-frequency" {
				why = fmt.Sprintf(why, settleS, leastTurnsS)
			}
			if why == "" {
				why = "it could not be measured"
			}
			a.warnOf(i, c, fmt.Sprintf("run %d has no value for %s: %s", i+1, strings.Join(lacks[c], ", "), why))
		}
	}
}

// noCurrent is the code of the warning that says why a run has no figures of the current.
func (a *Analysis) noCurrent() string {
	if a.machine == nil {
		return "no-clamp"
	}
	if a.blind != "" {
		return a.blind
	}
	return "no-current"
}

// bandsName begins the name of a band's level; of several, the first and the last are named.
const bandsName = "third_octaves at "

// each calls do with every figure in v, by its name in the result.
func each(v reflect.Value, name string, do func(name string, f *rig.Figure)) {
	switch f := v.Addr().Interface().(type) {
	case *rig.Figure:
		do(name, f)
		return
	case *rig.Band:
		do(fmt.Sprintf("%s%g Hz", bandsName, f.NominalHz.V), &f.LeqDB)
		return
	case *rig.Extra:
		of := "extra." + string(f.Channel)
		do(of+".mean", &f.Mean)
		do(of+".min", &f.Least)
		do(of+".max", &f.Most)
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			tag, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			each(v.Field(i), tag, do)
		}
	case reflect.Slice:
		for i := range v.Len() {
			each(v.Index(i), name, do)
		}
	}
}
