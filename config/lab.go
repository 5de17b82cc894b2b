// Package config is the lab folder: bench, units, procedures and scorecard, read strictly, checked
// and explained in plain sentences.
//
// Every key is declared once, as a struct field with its tags:
//
//	toml     the key's name, carrying its unit
//	default  the value in force when the key is missing; no default tag: the key is required
//	         (optional:"yes": may be missing, and is then absent)
//	range    allowed values: "0.1..10" (ends included), "(0..10]" (left end excluded), "a|b|c" for words,
//	         "id" for codes, "date" for days, "zone" for time zones, "measure" for names of measures; no range tag: any text
//	unit     unit in print ("" for pure numbers and words)
//	secret   "yes": the value is not shown by Explain
//	session  "no": a table that is no matter of sessions: none of them holds it, and no analysis goes by it
//	why      one sentence: what the key does and why the default is what it is
package config

// Lab is a checked lab folder: a Lab that exists is right.
type Lab struct {
	Bench      Bench
	Units      []Unit
	Procedures []Procedure
	Scorecard  Scorecard

	origins map[any]origin // where the values came from, by the addresses of their fields
}

// Setup is what is in force in one session: the bench, one unit, one procedure. It travels inside
// the session.
type Setup struct {
	Bench     Bench     `toml:"bench"`
	Unit      Unit      `toml:"unit"`
	Procedure Procedure `toml:"procedure"`
}

// Lab returns a lab of nothing but what was in force in one session, so that its runs can be judged by the rules of
// then. Its scorecard has one test, of the procedure, and no points come of it: a session does not hold the lab's.
func (s Setup) Lab() *Lab {
	l := &Lab{Bench: s.Bench, Units: []Unit{s.Unit}, Procedures: []Procedure{s.Procedure}, Scorecard: defaults[Scorecard](), origins: map[any]origin{}}
	return l.WithTests()
}

// WithTests returns a lab whose scorecard describes no test with one of each procedure: what is measured is judged by its
// gates, and no points come of it. Any other lab is returned as it is.
func (l *Lab) WithTests() *Lab {
	if len(l.Scorecard.Tests) > 0 {
		return l
	}
	out := *l
	for _, p := range l.Procedures {
		test := defaults[Test]()
		test.ID, test.Title, test.Procedure = p.ID, p.Title, p.ID
		out.Scorecard.Tests = append(out.Scorecard.Tests, test)
	}
	return &out
}

// Bench is bench.toml.
type Bench struct {
	Name       string     `toml:"name" default:"bench" why:"tags every journal line, so that several benches can be told apart"`
	TimeZone   string     `toml:"time_zone" optional:"yes" range:"zone" why:"days and times of day, of runs and checks and in reports, are those of this zone: its IANA name, such as America/Chicago; without it the machine's own, which every session keeps"`
	Supply     Supply     `toml:"supply"`
	Microphone Microphone `toml:"microphone"`
	Clamp      Clamp      `toml:"clamp"`
	Scale      Scale      `toml:"scale"`
	Vessels    []Vessel   `toml:"vessel" optional:"yes" why:"bowls and sieves with their empty mass, so that a net can be told from a gross"`
	Errors     Errors     `toml:"errors"`
	Control    Control    `toml:"control"`
	Extra      []Extra    `toml:"extra" optional:"yes" why:"whatever else matters to a fair test: water temperature, supply voltage, flow"`
	Record     Record     `toml:"record"`
	Pages      Pages      `toml:"pages" session:"no"`
	Detect     Detect     `toml:"detect"`
}

// Supply is the mains at the bench.
type Supply struct {
	VoltageV    float64 `toml:"voltage_v" default:"120" range:"90..260" unit:"V" why:"nominal RMS voltage, printed beside results"`
	FrequencyHz float64 `toml:"frequency_hz" default:"60" range:"45..65" unit:"Hz" why:"nominal; the true frequency is tracked from the current"`
}

// Microphone is the calibration of the sound channel.
type Microphone struct {
	FullScaleDB float64 `toml:"full_scale_db" default:"120" range:"60..200" unit:"dB re 20 uPa" why:"level of a sine whose peak just reaches digital full scale; comes from a calibrator"`
	SelfNoiseDB float64 `toml:"self_noise_db" optional:"yes" range:"(0..100]" unit:"dB(A)" why:"A-weighted noise of microphone and input by themselves, from the data sheet: a background that is hardly above it carries a warning"`

	Device MicrophoneDevice `toml:"device"`
}

// Clamp is the calibration of the current channel.
type Clamp struct {
	FullScaleA float64 `toml:"full_scale_a" default:"100" range:"(0..100000]" unit:"A" why:"instantaneous amperes at digital full scale: a peak, not RMS"`

	Device ClampDevice `toml:"device"`
}

// Scale is what is known of the scale.
type Scale struct {
	DivisionG float64 `toml:"division_g" default:"1" range:"(0..1000]" unit:"g" why:"one step of the indication; a reading is steady within one step (common practice)"`

	Class          string  `toml:"class" default:"III" range:"I|II|III|IIII" why:"accuracy class by OIML R 76, which sets the largest permissible error; III is the usual shop scale"`
	VerificationG  float64 `toml:"verification_g" optional:"yes" range:"(0..1000]" unit:"g" why:"verification interval e of the mark; if it is missing the division stands in"`
	InService      bool    `toml:"in_service" default:"true" why:"the errors permitted in service are twice those of verification (OIML R 76)"`
	RepeatabilityG float64 `toml:"repeatability_g" default:"0.5" range:"0..1000" unit:"g" why:"standard deviation of one load placed ten times; measure it on your own scale"`

	Take TakeWeighing `toml:"take"`

	Device ScaleDevice `toml:"device"`
}

// unitList is units.toml.
type unitList struct {
	Units []Unit `toml:"unit" why:"a bench compares units; each needs id and rated_current_a"`
}

// Unit is one grinder on the list: [[unit]] in units.toml. LockedRotorA is 0 where it is absent: no
// nameplate says 0.
type Unit struct {
	ID            string  `toml:"id" range:"id" why:"blind code by which commands and results name the unit"`
	Name          string  `toml:"name" default:"" secret:"yes" why:"public name; no output shows it before the release date, and no session holds it"`
	Release       string  `toml:"release" default:"" range:"date" why:"first day on which the public name may be shown, such as 2026-12-01; without it the blind code stands everywhere"`
	Samples       int     `toml:"samples" default:"1" range:"1..100" why:"how many were bought; one tells nothing of the spread from unit to unit"`
	MakerSupplied bool    `toml:"supplied_by_maker" default:"false" why:"stands beside every result of the unit"`
	RatedCurrentA float64 `toml:"rated_current_a" range:"(0..200]" unit:"A" why:"nameplate, RMS: the overload ratio counts from it"`
	LockedRotorA  float64 `toml:"locked_rotor_a" optional:"yes" range:"(0..2000]" unit:"A" why:"RMS with the rotor held; if it is missing the unit's own inrush stands in"`
	Motor         string  `toml:"motor" default:"induction" range:"induction|permanent-magnet|universal" why:"how load shows in the current: an induction motor draws most of its current empty, the others follow the load"`
}
