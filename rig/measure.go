package rig

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Part is what a measure is taken with.
type Part string

const (
	OfCurrent Part = "clamp" // or sound alone, less surely
	OfSound   Part = "microphone"
	OfMass    Part = "weighing"
	OfExtra   Part = "extra channel"
	OfHand    Part = "hand"
)

// Measure is one of the fixed set of quantities that gates and points may speak of.
type Measure struct {
	Name   string // ends in its unit, or is a count or a share
	Unit   string // "" for counts and shares
	Part   Part
	Weighs []Role // what must have been weighed for it
	What   string // its definition, for people
}

// Beginnings of the names of measures that a lab adds.
const (
	ExtraMeasure = "extra." // extra.CHANNEL.mean, .min or .max over the run, in the channel's unit
	HandMeasure  = "hand."  // hand.NAME, one value a unit, entered by a person
)

// Measures lists the fixed set, in the order of tables.
var Measures = []Measure{
	{"run_time_s", "s", OfCurrent, nil, "time of the run on the procedure's clock"},
	{"motor_on_s", "s", OfCurrent, nil, "time the motor was on, pauses left out"},
	{"elapsed_s", "s", OfCurrent, nil, "first start to last stop, pauses and all"},
	{"clear_s", "s", OfCurrent, nil, "first start to the chamber's being clear, on the procedure's clock"},
	{"pauses", "", OfCurrent, nil, "stops within the run that a restart followed"},
	{"pause_s", "s", OfCurrent, nil, "time in those pauses"},
	{"stalls", "", OfCurrent, nil, "times the rotor locked"},
	{"stall_s", "s", OfCurrent, nil, "time it was locked"},
	{"overloads", "", OfCurrent, nil, "times the overload ratio was passed for the hold; stalls do not count"},
	{"overload_s", "s", OfCurrent, nil, "time overloaded"},
	{"trips", "", OfCurrent, nil, "presumed trips of the protector"},
	{"input_g", "g", OfMass, []Role{Charge}, "net mass of the charge: the sum of its items"},
	{"left_g", "g", OfMass, []Role{Chamber}, "net mass left in the chamber"},
	{"coarse_g", "g", OfMass, []Role{Coarse}, "net mass on the coarse sieve"},
	{"fine_g", "g", OfMass, []Role{Fine}, "net mass on the fine sieve"},
	{"passed_g", "g", OfMass, []Role{Passed}, "net mass that went through both sieves and was collected"},
	{"left_share", "", OfMass, []Role{Charge, Chamber}, "left in the chamber / input"},
	{"discharge_g", "g", OfMass, []Role{Charge, Chamber}, "what left the chamber: coarse + fine + passed where that was collected, otherwise input - left"},
	{"coarse_share", "", OfMass, []Role{Charge, Chamber, Coarse}, "on the coarse sieve / discharge"},
	{"fine_share", "", OfMass, []Role{Charge, Chamber, Fine}, "on the fine sieve / discharge"},
	{"sizeable_share", "", OfMass, []Role{Charge, Chamber, Coarse, Fine}, "on both sieves / discharge"},
	{"coarse_of_input", "", OfMass, []Role{Charge, Coarse}, "on the coarse sieve / input"},
	{"fine_of_input", "", OfMass, []Role{Charge, Fine}, "on the fine sieve / input"},
	{"recovered_share", "", OfMass, []Role{Charge, Chamber}, "everything weighed afterwards / input; food takes up water, so more than 1 is possible"},
	{"laeq_db", "dB", OfSound, nil, "A-weighted equivalent level over the motor-on time, corrected for the background (ISO 3744)"},
	{"laeq_uncorrected_db", "dB", OfSound, nil, "the same as measured"},
	{"lafmax_db", "dB", OfSound, nil, "largest A-weighted level, time weighting F"},
	{"lasmax_db", "dB", OfSound, nil, "largest A-weighted level, time weighting S"},
	{"la10_db", "dB", OfSound, nil, "level exceeded in 10 % of the motor-on time"},
	{"la90_db", "dB", OfSound, nil, "level exceeded in 90 % of it"},
	{"lcpeak_db", "dB", OfSound, nil, "C-weighted peak"},
	{"lae_db", "dB", OfSound, nil, "A-weighted exposure level: all the noise of the job in one second"},
	{"background_db", "dB", OfSound, nil, "A-weighted level of the room before the first start"},
	{"idle_a", "A", OfCurrent, nil, "no-load current, RMS"},
	{"mean_a", "A", OfCurrent, nil, "mean of the RMS over the motor-on time"},
	{"max_a", "A", OfCurrent, nil, "largest RMS over one cycle while the motor was on, the first cycle included"},
	{"inrush_a", "A", OfCurrent, nil, "largest RMS over one cycle of the first start"},
	{"drawn_as", "As", OfCurrent, nil, "ampere-seconds: mean current x motor-on time. Not energy: without the voltage's phase that cannot be told"},
	{"load_index", "", OfCurrent, nil, "mean rise of the current above no load / rated current"},
}

// FindMeasure returns the measure of a name, those that a lab adds too; false: there is none.
func FindMeasure(name string) (Measure, bool) {
	if i := slices.IndexFunc(Measures, func(m Measure) bool { return m.Name == name }); i >= 0 {
		return Measures[i], true
	}
	if hand, ok := strings.CutPrefix(name, HandMeasure); ok && IsID(hand) {
		return Measure{Name: name, Part: OfHand, What: "entered by hand"}, true
	}
	if extra, ok := strings.CutPrefix(name, ExtraMeasure); ok {
		channel, what, _ := strings.Cut(extra, ".")
		if IsID(channel) && slices.Contains([]string{"mean", "min", "max"}, what) {
			return Measure{Name: name, Part: OfExtra, What: what + " of the extra channel " + channel + " over the run"}, true
		}
	}
	return Measure{}, false
}

// Counted tells whether the measure is a whole number of things, which has no uncertainty.
func (m Measure) Counted() bool {
	switch m.Name {
	case "pauses", "stalls", "overloads", "trips":
		return true
	}
	return false
}

// Share tells whether the measure is a part of a mass, which people read in per cent.
func (m Measure) Share() bool {
	return strings.HasSuffix(m.Name, "_share") || strings.HasSuffix(m.Name, "_of_input")
}

// Fits tells what is wrong with a value that a person gives for the measure: nothing but a level and an extra channel
// can be below nothing, and a share is no percentage.
func (m Measure) Fits(v float64) error {
	const mostShare = 2 // food takes up water, but never twice its mass
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return fmt.Errorf("found %g, expected a number", v)
	case math.Abs(v) > MostNumber:
		return fmt.Errorf("found %g for %s, expected at most %.0f", v, m.Name, MostNumber)
	case m.Part == OfExtra || m.Part == OfHand || m.Unit == "dB" || m.Name == "load_index":
		return nil
	case m.Share() && (v < 0 || v > mostShare):
		return fmt.Errorf("found %g for the share %s, expected 0 to %d, such as 0.05 for 5 %%", v, m.Name, mostShare)
	case v < 0:
		return fmt.Errorf("found %g for %s, expected 0 or more", v, m.Name)
	}
	return nil
}
