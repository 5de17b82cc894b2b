package score

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
	"quern/rig/score/gum"
)

// taken is a measure by its name.
type taken struct {
	name string
	Value
}

// Measure returns a measure of the run by its name, with its uncertainty and where it came from; absent
// with a reason if it could not be taken.
func (r *Run) Measure(name string) Value {
	for i := range r.taken {
		if r.taken[i].name == name {
			return r.taken[i].Value
		}
	}
	return r.take(name)
}

// keep is Measure while scoring, which asks for the same again and again: what it took stays.
func (r *Run) keep(name string) Value {
	v := r.Measure(name)
	if !slices.ContainsFunc(r.taken, func(t taken) bool { return t.name == name }) {
		r.taken = append(r.taken, taken{name, v})
	}
	return v
}

func (r *Run) take(name string) Value {
	v := r.measured(name)
	if k, typed := r.typed[name]; typed {
		v = r.typedOver(name, k, v)
	}
	if !v.OK {
		v.U, v.UCommon = 0, 0
		if v.Why == "" { // a result that was stored keeps no reasons
			v.Why = "not-measured"
		}
	}
	return v
}

// typedOver is what a person said in place of a measure.
func (r *Run) typedOver(name string, k rig.Correction, old Value) Value {
	v := absent("taken-back")
	if n, err := strconv.ParseFloat(k.New, 64); err == nil {
		v = Value{Figure: rig.Fig(n), U: r.handU(name, k), Typed: true}
		if m, _ := rig.FindMeasure(name); m.Part == rig.OfSound {
			v.UCommon, v.Share = r.lab.Bench.Errors.LevelCommonDB, LevelShared
		}
	}
	v.Old = old.Figure
	v.From = []Trace{{What: "correction", Fact: k.Fact, Text: strings.TrimSpace(fmt.Sprintf("%s by %s: %s", k.New, k.Who, k.Why))}}
	return v
}

// handU is the standard uncertainty of a typed value: as stated, or what a hand and a hand-held meter do.
func (r *Run) handU(name string, k rig.Correction) float64 {
	m, _ := rig.FindMeasure(name)
	e := &r.lab.Bench.Errors
	switch {
	case k.U.OK:
		return k.U.V
	case m.Counted():
		return 0
	case m.Unit == "s":
		return math.Sqrt2 * e.ReactionS
	case m.Unit == "dB":
		return e.HandLevelDB
	case m.Unit == "A" || m.Unit == "As":
		return 0.05 * math.Abs(valued(k)) // a hand-held clamp meter, common practice
	case m.Part == rig.OfMass:
		return r.balance.typedU(name, valued(k))
	}
	return 0
}

// typedU is the uncertainty of a mass that was only typed, as if it had been weighed here; of a share,
// that of leftovers of a tenth of the charge.
func (b *balance) typedU(name string, v float64) float64 {
	m := slices.Index(massNames[:], name)
	if m >= 0 {
		return b.weighed(m, candidate{Weighing: &rig.Weighing{}, net: rig.Fig(v)}).U
	}
	grams := b.weighed(coarse, candidate{Weighing: &rig.Weighing{}, net: rig.Fig(b.of.Charge() * 0.1)}).U
	if name == "discharge_g" {
		return grams
	}
	if c := b.of.Charge(); c > 0 {
		return grams / c
	}
	return 0.01 * math.Abs(v)
}

func (r *Run) measured(name string) Value {
	if v, ok := r.balance.measure(name); ok {
		return v
	}
	if rest, ok := strings.CutPrefix(name, rig.ExtraMeasure); ok {
		return r.extra(rest)
	}
	if r.run == nil {
		return absent("not-recorded")
	}
	if v, ok := r.time(name); ok {
		return v
	}
	if v, ok := r.counts(name); ok {
		return v
	}
	if v, ok := r.level(name); ok {
		return v
	}
	if v, ok := r.current(name); ok {
		return v
	}
	return absent("unknown-measure")
}

func (r *Run) extra(name string) Value {
	channel, what, _ := strings.Cut(name, ".")
	if r.run == nil {
		return absent("not-recorded")
	}
	for _, x := range r.run.Extra {
		if string(x.Channel) != channel {
			continue
		}
		f := map[string]rig.Figure{"mean": x.Mean, "min": x.Least, "max": x.Most}[what]
		return Value{Figure: f, From: []Trace{{What: "figure", Text: channel + " " + what}}}
	}
	return absent("no-such-channel")
}

// level returns a sound figure.
func (r *Run) level(name string) (Value, bool) {
	s := &r.run.Sound
	var f rig.Figure
	switch name {
	case "laeq_db":
		f = s.LAeqCorrectedDB
	case "laeq_uncorrected_db":
		f = s.LAeqDB
	case "lafmax_db":
		f = s.LAFmaxDB
	case "lasmax_db":
		f = s.LASmaxDB
	case "la10_db":
		f = s.LA10DB
	case "la90_db":
		f = s.LA90DB
	case "lcpeak_db":
		f = s.LCpeakDB
	case "lae_db":
		f = s.LAEDB
	case "background_db":
		f = s.BackgroundDB
	default:
		return Value{}, false
	}
	e := &r.lab.Bench.Errors
	v := Value{Figure: f, U: e.LevelDB, UCommon: e.LevelCommonDB, Share: LevelShared,
		From: []Trace{{What: "figure", Text: "sound of the recording"}}}
	if name == "laeq_db" && f.OK && s.LAeqDB.OK {
		if k := s.LAeqDB.V - f.V; k > 0.05 {
			v.Note = fmt.Sprintf("%.1f dB taken off for a background of %.1f dB", k, s.BackgroundDB.V)
			v.U = math.Hypot(v.U, 0.3*k) // the correction is known to about a third of itself
		}
	}
	return v, true
}

// current returns a current figure. Its gain is off by the same share for all units.
func (r *Run) current(name string) (Value, bool) {
	m := &r.run.Motor
	common := r.lab.Bench.Errors.CurrentCommon
	v := Value{Share: CurrentShare, From: []Trace{{What: "figure", Text: "current of the recording"}}}
	switch name {
	case "idle_a":
		v.Figure = m.IdleA
	case "mean_a":
		v.Figure = m.MeanA
	case "max_a":
		v.Figure = m.MaxA
	case "inrush_a":
		v.Figure = m.InrushA
	case "drawn_as":
		v.Figure = m.MeanA
		switch on, _ := r.time("motor_on_s"); {
		case v.OK && on.OK:
			v.Figure = rig.Fig(v.V * on.V)
		case v.OK:
			v.Figure = rig.Absent(cmp.Or(on.Why, "no-motor-on-time"))
		}
	case "load_index":
		v.Figure = m.MeanA
		switch rated := r.lab.Unit(r.Unit).RatedCurrentA; {
		case !v.OK:
		case !m.IdleA.OK:
			v.Figure = m.IdleA
		case rated == 0:
			v.Figure = rig.Absent("no-rated-current")
		default:
			v.Figure = rig.Fig((m.MeanA.V - m.IdleA.V) / rated)
		}
	default:
		return Value{}, false
	}
	if v.OK {
		v.UCommon = common * math.Abs(v.V)
	}
	return v, true
}

// stepU is the standard uncertainty of an instant that surely lies within so many seconds.
func (r *Run) stepU(within rig.Figure) float64 {
	return max(r.lab.Bench.Errors.StartS, gum.FromHalfWidth(within.V))
}

// valued is the number a correction gives; 0 if it gives none.
func valued(k rig.Correction) float64 {
	v, err := strconv.ParseFloat(k.New, 64)
	if err != nil {
		return 0
	}
	return v
}
