// Package guide turns a procedure and what is known now into steps: what was done, the one thing to do
// now, and what is dangerous now. It only reads: a person may do anything in any order, and what they did
// counts as it came.
package guide

import (
	"quern/config"
	"quern/rig"
)

// Input is what is known at one instant. Figures that nothing tells are absent.
type Input struct {
	Session   bool       // one is open
	State     rig.State  // of the motor
	Run       int        // runs begun in the session
	OnS       rig.Figure // motor-on time of the run at hand, s
	ClockS    rig.Figure // the same on the procedure's clock, s
	QuietS    rig.Figure // how long nobody has weighed, marked or run anything, s
	ClearS    rig.Figure // since the chamber was clear, s; absent: it is not
	Fed       bool       // load was seen in this run
	StillS    rig.Figure // since the motor stopped, in a run that has begun, s
	Trips     int        // presumed, in this run
	DrainedS  rig.Figure // how long leftovers have drained, s
	LevelDB   rig.Figure // A-weighted, F, dB re 20 uPa
	Scale     bool       // there is one
	Sound     bool       // there is a microphone or a meter
	Expects   bool       // the next weighing is taken by itself when the pan comes to rest
	Role      rig.Role   // and this is what it will be of
	Item      string
	Weighings []Weighed
	Checks    []rig.CheckKind   // done this day
	Said      map[string]Status // what people said of steps: Done or Skipped
	Problem   string            // the one thing that is not ready, with its remedy; "": nothing
	Note      string            // what is to be known where there is no problem
}

// Weighed is a weighing that counts for the run at hand: neither withdrawn nor of another run.
type Weighed struct {
	Role   rig.Role
	Item   string
	NetG   rig.Figure
	AgeS   rig.Figure // since it was taken, s
	Timing string     // of leftovers: "early", "late", or as it should be
}

// Status is how far a step is.
type Status string

// The states of a step. Exactly one step of a guide is Now.
const (
	Done    Status = "done"
	Now     Status = "now"
	Later   Status = "later"
	Skipped Status = "skipped"
)

// Step is one step of the procedure.
type Step struct {
	ID         string     `json:"id"`
	Title      string     `json:"title"`
	Detail     string     `json:"detail,omitempty"`
	State      Status     `json:"state"`
	Role       rig.Role   `json:"role,omitempty"` // of a weighing
	Item       string     `json:"item,omitempty"`
	TargetG    rig.Figure `json:"target_g,omitzero"`
	ToleranceG rig.Figure `json:"tolerance_g,omitzero"`
	MeasuredG  rig.Figure `json:"measured_g,omitzero"`
	Remark     string     `json:"remark,omitempty"` // what is not as it should be, or only presumed
}

// Act is what a button does.
type Act string

// The acts that a guide offers. Done and Skip are said of a step; the rest the daemon does.
const (
	None     Act = ""
	Weigh    Act = "weigh"
	Await    Act = "expect"
	Drain    Act = "drain"
	End      Act = "end"
	Check    Act = "check"
	Mark     Act = "mark"
	SayDone  Act = "done"
	SaySkips Act = "skip"
)

// Offer is an act that fits now.
type Offer struct {
	Act   Act      `json:"act"`
	Label string   `json:"label"`
	Step  string   `json:"step,omitempty"`
	Role  rig.Role `json:"role,omitempty"`
	Item  string   `json:"item,omitempty"`

	Kind rig.CheckKind `json:"kind,omitempty"` // of a check
	Unit string        `json:"unit,omitempty"` // in which its value is typed
	Text string        `json:"text,omitempty"` // of a mark
}

// Count is a time that runs towards an end.
type Count struct {
	What string  `json:"what"`
	AtS  float64 `json:"at_s"`
	OfS  float64 `json:"of_s"`
}

// Danger is what can hurt now, and what to do about it.
type Danger struct {
	ID   string `json:"id"`
	Text string `json:"text"`
}

// Guide is a procedure at one instant.
type Guide struct {
	Steps   []Step   `json:"steps"`
	Say     string   `json:"say"`            // the one thing to do now, in a few words
	How     string   `json:"how,omitempty"`  // one sentence more
	Then    string   `json:"then,omitempty"` // title of the step after it
	Offer   Offer    `json:"offer"`
	Also    []Offer  `json:"also,omitempty"`
	Count   *Count   `json:"count,omitempty"`
	Dangers []Danger `json:"dangers,omitempty"`
	Problem string   `json:"problem,omitempty"`
	Note    string   `json:"note,omitempty"`
}

// phase is where in the work a run is.
type phase int

const (
	before phase = iota
	running
	paused // the motor stands, and nothing says that the run is over
	after
)

func (in *Input) phase(p *config.Procedure) phase {
	switch {
	case !in.Session || in.Run == 0 && !in.on():
		return before
	case in.on():
		return running
	case in.over(p):
		return after
	case in.State == rig.Unknown:
		return running
	}
	return paused
}

// on says whether the motor runs for all we know.
func (in *Input) on() bool {
	switch in.State {
	case rig.Off, rig.Tripped, rig.Unknown, "":
		return false
	}
	return true
}

// over says whether a run whose motor stands is over.
func (in *Input) over(p *config.Procedure) bool {
	if in.Said["run"] != "" || in.Said["stop"] != "" || in.ClearS.OK || in.limit(p) || in.Trips > p.Resets {
		return true
	}
	for _, w := range in.Weighings {
		if w.Role != rig.Charge && w.Role != rig.Empty {
			return true
		}
	}
	return false
}

// limit says whether the procedure's time is up.
func (in *Input) limit(p *config.Procedure) bool { return in.ClockS.OK && in.ClockS.V >= p.TimeLimitS }

// weighed returns the last weighing of a role and an item.
func (in *Input) weighed(role rig.Role, item string) (Weighed, bool) {
	for i := len(in.Weighings) - 1; i >= 0; i-- {
		if w := in.Weighings[i]; w.Role == role && w.Item == item {
			return w, true
		}
	}
	return Weighed{}, false
}

// Steps returns a procedure at one instant.
func Steps(p config.Procedure, in Input) Guide {
	b := builder{p: &p, in: &in, at: in.phase(&p)}
	b.checks()
	b.charge()
	b.opening()
	b.grinding()
	b.leftovers()
	b.add(Step{ID: "done", Title: "Done"}, after, "")
	g := Guide{Steps: b.steps, Problem: in.Problem, Note: in.Note}
	now := b.choose()
	for i := range g.Steps {
		if s := &g.Steps[i]; s.State == Later && i > now && g.Then == "" {
			g.Then = s.Title
		}
	}
	b.say(&g, &g.Steps[now])
	g.Dangers = b.dangers(g.Steps[now].ID)
	return g
}
