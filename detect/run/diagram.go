package run

import (
	"fmt"
	"strings"

	"quern/rig"
)

// Transition is one way from a state of the motor to another.
type Transition struct {
	From, To rig.State
	When     string
}

// Transitions is the state diagram: every change of state that a run's States may show. A test holds
// the machine and the picture in states.md to it.
var Transitions = []Transition{
	{rig.Off, rig.Starting, "current begins to flow"},
	{rig.Tripped, rig.Starting, "current flows again"},
	{rig.Off, rig.Stalled, "current flows and the rotor never turns: a failed start"},
	{rig.Tripped, rig.Stalled, "the same after a trip"},
	{rig.Off, rig.NoLoad, "the recording begins with the motor running, or readings are too slow to show the start"},
	{rig.Off, rig.Loaded, "the start lies between two readings, material is in"},
	{rig.Tripped, rig.NoLoad, "the start lies between two readings"},
	{rig.Tripped, rig.Loaded, "the start lies between two readings, material is in"},
	{rig.Starting, rig.NoLoad, "the inrush is over"},
	{rig.Starting, rig.Loaded, "the inrush is over, material is in"},
	{rig.Starting, rig.Overloaded, "the inrush is over, above the overload ratio for the hold"},
	{rig.Starting, rig.Stalled, "the rotor locks in the run-up"},
	{rig.Starting, rig.Off, "current stops in the run-up: a jog"},
	{rig.NoLoad, rig.Loaded, "current, its raggedness or impacts leave the empty chamber's"},
	{rig.Loaded, rig.NoLoad, "all of them come back"},
	{rig.NoLoad, rig.Overloaded, "above the overload ratio for the hold"},
	{rig.Loaded, rig.Overloaded, "above the overload ratio for the hold"},
	{rig.Overloaded, rig.Loaded, "below the leaving ratio"},
	{rig.Overloaded, rig.NoLoad, "below the leaving ratio, nothing left"},
	{rig.NoLoad, rig.Stalled, "at the locked-rotor current for the hold"},
	{rig.Loaded, rig.Stalled, "at the locked-rotor current for the hold"},
	{rig.Overloaded, rig.Stalled, "at the locked-rotor current for the hold"},
	{rig.Stalled, rig.Loaded, "the rotor turns again"},
	{rig.Stalled, rig.NoLoad, "the rotor turns again, nothing left"},
	{rig.Stalled, rig.Overloaded, "the rotor turns again, above the overload ratio"},
	{rig.Stalled, rig.Tripped, "current stops after a long stall: presumed protector"},
	{rig.Overloaded, rig.Tripped, "current stops after a long overload: presumed protector"},
	{rig.Stalled, rig.Off, "current stops after a short stall"},
	{rig.Overloaded, rig.Off, "current stops after a short overload"},
	{rig.NoLoad, rig.Off, "current stops"},
	{rig.Loaded, rig.Off, "current stops"},
}

// Allowed says whether the diagram has a way between two states. To and from unknown there is one
// everywhere: a source may vanish and come back at any time.
func Allowed(from, to rig.State) bool {
	if from == rig.Unknown || to == rig.Unknown {
		return true
	}
	for _, t := range Transitions {
		if t.From == from && t.To == to {
			return true
		}
	}
	return false
}

// Diagram returns the state diagram as a Mermaid text.
func Diagram() string {
	var b strings.Builder
	b.WriteString("stateDiagram-v2\n  [*] --> off\n")
	name := func(s rig.State) string { return strings.ReplaceAll(string(s), "-", "_") }
	for _, t := range Transitions {
		fmt.Fprintf(&b, "  %s --> %s: %s\n", name(t.From), name(t.To), t.When)
	}
	b.WriteString("  note right of unknown: from anywhere, while sources contradict each other or are gone\n")
	return b.String()
}
