package rig

import "slices"

// Kind is a kind of event, in trade terms.
type Kind string

const (
	MotorStart    Kind = "motor_start"    // current begins to flow after the motor was off
	LoadStart     Kind = "load_start"     // the motor first leaves its no-load band because material went in
	StallStart    Kind = "stall_start"    // the rotor locks
	StallEnd      Kind = "stall_end"      // it turns again, or the current stops
	OverloadStart Kind = "overload_start" // current passes the overload ratio and stays there for the hold
	OverloadEnd   Kind = "overload_end"   // it falls back, or stops
	Trip          Kind = "trip"           // current stops straight out of a long stall or overload: presumed protector
	MotorStop     Kind = "motor_stop"     // current stops for any other reason
	LoadEnd       Kind = "load_end"       // the chamber is clear, and stays clear to the motor's last stop
)

// Kinds lists all kinds in the order in which simultaneous events are told.
var Kinds = []Kind{MotorStart, StallStart, StallEnd, OverloadStart, OverloadEnd, LoadStart, LoadEnd, Trip, MotorStop}

// State is what the motor does at an instant.
type State string

const (
	Off        State = "off"
	Starting   State = "starting"
	NoLoad     State = "no-load"
	Loaded     State = "loaded"
	Overloaded State = "overloaded"
	Stalled    State = "stalled"
	Tripped    State = "tripped"
	Unknown    State = "unknown" // sources contradict each other, or are gone
)

// Event is one instant, how sure it is, and on what evidence.
type Event struct {
	Kind     Kind   `json:"kind"`
	AtS      Figure `json:"at_s"`
	WithinS  Figure `json:"within_s"` // half-width of the interval the instant surely lies in
	Sure     Figure `json:"sure"`     // 0 to 1
	Evidence string `json:"evidence"` // for people: "current fell from 31 A to 0 within half a cycle ..."
}

// Span is a stretch of time in one state.
type Span struct {
	State State  `json:"state"`
	FromS Figure `json:"from_s"`
	ToS   Figure `json:"to_s"`
}

// Warning says what was wrong with the input, or why a value is absent.
type Warning struct {
	Code string `json:"code"`
	Text string `json:"text"`
	Run  int    `json:"run,omitempty"` // the run it is of, from 1; 0: of none alone
}

// Codes of warnings that a run was not recorded whole: the first of a session from its start, the last to its stop.
const (
	BeganRunning = "began-running"
	EndedRunning = "ended-running"
)

// Band is the equivalent level of one third-octave band over the motor-on time.
type Band struct {
	NominalHz Figure `json:"nominal_hz"`
	LeqDB     Figure `json:"leq_db"`
}

// Sound holds the sound figures of a run. All cover the time in which the motor was on.
type Sound struct {
	LAeqDB          Figure `json:"laeq_db"`
	LAFmaxDB        Figure `json:"lafmax_db"`
	LASmaxDB        Figure `json:"lasmax_db"`
	LCpeakDB        Figure `json:"lcpeak_db"`
	LCeqDB          Figure `json:"lceq_db"`
	LAEDB           Figure `json:"lae_db"`
	LA10DB          Figure `json:"la10_db"`
	LA50DB          Figure `json:"la50_db"`
	LA90DB          Figure `json:"la90_db"`
	BackgroundDB    Figure `json:"background_laeq_db"`
	LAeqCorrectedDB Figure `json:"laeq_corrected_db"`
	ThirdOctaves    []Band `json:"third_octaves"`
}

// Motor holds the current figures of a run, all RMS unless named otherwise.
type Motor struct {
	IdleA       Figure   `json:"idle_a"`   // no-load current learned in this run
	MeanA       Figure   `json:"mean_a"`   // mean of the cycle RMS over the motor-on time
	MaxA        Figure   `json:"max_a"`    // largest RMS over one cycle while the motor was on, the first cycle included
	InrushA     Figure   `json:"inrush_a"` // largest RMS over one cycle of the first start; of a waveform from the second cycle on, without d.c.
	PeakA       Figure   `json:"peak_a"`   // largest instantaneous current
	FrequencyHz Figure   `json:"frequency_hz"`
	CrestFactor Figure   `json:"crest_factor"` // peak over RMS, median of the running cycles
	THDPercent  Figure   `json:"thd_percent"`  // harmonics 2 to 25 over the fundamental, while running
	HarmonicsA  []Figure `json:"harmonics_a"`  // orders 1 to 25
	NoiseA      Figure   `json:"noise_a"`      // RMS of the clamp's own noise and hum while the motor was off
}

// Run is one use of the unit under one procedure, from its first start to its last stop.
type Run struct {
	StartS   Figure  `json:"start_s"`
	EndS     Figure  `json:"end_s"`
	ElapsedS Figure  `json:"elapsed_s"`
	MotorOnS Figure  `json:"motor_on_s"`
	RunTimeS Figure  `json:"run_time_s"` // the one of the two that the procedure's clock names
	Events   []Event `json:"events"`
	States   []Span  `json:"states"`
	Sound    Sound   `json:"sound"`
	Motor    Motor   `json:"motor"`
	Extra    []Extra `json:"extra,omitempty"`
}

// Extra is what an extra channel came to over a run, from its first start to its last stop.
type Extra struct {
	Channel Channel `json:"channel"`
	Unit    Unit    `json:"unit"`
	Mean    Figure  `json:"mean"`
	Least   Figure  `json:"min"`
	Most    Figure  `json:"max"`
}

// Result is what one session came to.
type Result struct {
	Session   string    `json:"session"`
	Unit      string    `json:"unit"`
	Procedure string    `json:"procedure"`
	Runs      []Run     `json:"runs"`
	Warnings  []Warning `json:"warnings"`
}

// Warned tells whether there is a warning of that code.
func (r *Result) Warned(code string) bool {
	return slices.ContainsFunc(r.Warnings, func(w Warning) bool { return w.Code == code })
}
