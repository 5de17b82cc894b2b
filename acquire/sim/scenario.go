// Package sim is the simulated bench: mains, a motor whose rotor can lock, material that is ground
// away, an operator, a clamp, a microphone in a room and a scale. It is seeded (the same scenario gives
// the same samples) and knows exactly what happened.
//
// It is honest as far as the detection of runs needs it: the load current of an induction motor stands
// at right angles to its no-load current, a rotor has inertia and coasts, copper heats, a protector is
// a thermal model, and what is heard follows from speed, torque and impacts. Units, materials and
// levels are invented; orders of magnitude are common practice. Truth follows the definitions of the
// events from the noiseless state of the machine, never from what the channels show.
package sim

import (
	"fmt"

	"quern/config"
)

// Scenario describes a whole session. The zero value of a field means what its comment says; there are
// no hidden defaults beyond those.
type Scenario struct {
	Name      string
	Seed      uint64
	Unit      Unit
	Procedure config.Procedure
	Supply    Supply
	Sound     Microphone
	Current   Clamp
	Mass      Scale
	Acts      []Act      // the operator's program, one after the other
	Mishaps   []Mishap   // what else happens, by the clock, in any order
	TailS     float64    // recording after the last act, s
	MaxS      float64    // longest session, s: the operator switches off and goes home TailS before it; at most 600
	TapDBA    float64    // A-weighted level of the running tap, dB
	Clearing  [2]float64 // shortest and longest silence of a stubborn piece, s

	// LevelTruth has the true levels computed too; it takes several times as long as all the rest.
	LevelTruth bool
}

// Supply is the mains.
type Supply struct {
	VoltageV    float64 // nominal, RMS
	FrequencyHz float64 // nominal
	OffsetHz    float64 // true mean less nominal
	WanderHz    float64 // amplitude of the slow wander of the frequency
	WanderV     float64 // amplitude of the slow wander of the voltage, as a share
	SourceOhm   float64 // impedance, taken as resistive
}

// Microphone is the sound channel; a RateHz of 0 leaves it out.
type Microphone struct {
	RateHz      float64
	Bits        int     // 16 or 24
	FullScaleDB float64 // level of a sine whose peak just reaches full scale
	RoomDBA     float64 // background of the room, dB(A)
	FloorDBA    float64 // noise of microphone and converter, dB(A)
}

// Clamp is the current channel. A RateHz of 0 leaves it out.
type Clamp struct {
	RateHz     float64 // samples a second; with Readings: RMS values a second
	Readings   bool
	Bits       int     // 16 or 24
	FullScaleA float64 // instantaneous
	NoiseA     float64 // RMS, white
	PickupA    float64 // RMS of the mains' stray field in the clamp
	OffsetA    float64 // d.c. offset at the start; it drifts by a tenth within the session
	GainError  float64 // share by which the clamp reads too much
}

// Scale is the scale beside the bench; a RateHz of 0 leaves it out.
type Scale struct {
	RateHz    float64
	DivisionG float64
	VibrateG  float64 // amplitude, in grams, that a running motor shakes into the indication
}

// Do is what an act does.
type Do int

// What an operator does. The machine's own doings (protector, electronics) are not acts.
const (
	SwitchOn Do = iota
	SwitchOff
	TapOn
	TapOff
	Feed    // Portion goes into the chamber
	Jam     // a piece wedges and holds the rotor: HoldS after it locked it lets go; 0: not by itself
	Wad     // a tough mass loads the rotor with Torque for HoldS of turning
	Unjam   // the chamber is freed of what wedges, by hand
	Empty   // everything is taken out of the chamber
	BowlOn  // a bowl of Grams is put on the scale
	BowlOff // and taken away; Feed empties it
	Nothing // only waits
)

// Wait is what an act waits for before its DelayS begins.
type Wait int

// What an act may wait for, since the act before it.
const (
	Previous Wait = iota // nothing
	Running              // the run-up is over
	Clear                // the chamber is empty
	Locked               // the rotor stands with the current on; given up when the machine switches itself off
	Stopped              // no current flows
	Heavily              // a wad loads the motor; given up likewise
)

// Act is one act of the operator: it is done not before AtS, and not before the condition After has held
// for DelayS since the act before. A jam and a wad are written here too, to stand in order.
type Act struct {
	Do     Do
	AtS    float64
	After  Wait
	DelayS float64
	HoldS  float64
	Torque float64 // of a Wad, in rated torques; of a Jam, in largest torques of the motor (0: 4)
	Grams  float64
	Portion
}

// Portion is a charge of material.
type Portion struct {
	SoftG    float64 // soft mass, g
	Pieces   int     // hard pieces
	Stubborn int     // pieces that hide in silence and come back with a bang
	Hardness float64 // impact torque in rated torques; 0: 0.6
	Loud     float64 // how far an impact stands above the running level, dB; 0: 18
}

// What happens to be a mishap.
const (
	Clap      = "clap"       // a clap of Amount dB (peak of its envelope)
	Knock     = "knock"      // a knock on the bench of Amount dB; shakes the scale
	Voice     = "voice"      // talk at Amount dB(A) for LastsS
	Fridge    = "fridge"     // a compressor draws Amount amperes on the same conductor, hums, starts with an inrush
	Kettle    = "kettle"     // a heater draws Amount amperes on the same conductor
	Lamps     = "lamps"      // LED lamps draw narrow pulses of Amount amperes RMS with high-frequency rubbish
	Dip       = "dip"        // the voltage falls by the share Amount
	DeadClamp = "dead-clamp" // the clamp gives nothing but its converter's last bit
)

// Mishap is something that happens beside the test.
type Mishap struct {
	Kind   string
	AtS    float64
	LastsS float64
	Amount float64
}

// faulty says what is wrong with a scenario.
func (sc *Scenario) faulty() error {
	bad := func(what string, found any, want string) error {
		return fmt.Errorf("scenario %q: %s: found %v, expected %s", sc.Name, what, found, want)
	}
	within := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	s, m, c, w := sc.Supply, sc.Sound, sc.Current, sc.Mass
	switch {
	case !within(sc.MaxS, 1, 600):
		return bad("MaxS", sc.MaxS, "1 to 600 s")
	case !within(sc.TailS, 0, sc.MaxS/2):
		return bad("TailS", sc.TailS, "0 s to half of MaxS")
	case !within(s.FrequencyHz, 45, 65) || !within(s.VoltageV, 90, 260):
		return bad("supply", fmt.Sprint(s.VoltageV, " V ", s.FrequencyHz, " Hz"), "90 to 260 V, 45 to 65 Hz")
	case !within(s.OffsetHz, -1, 1) || !within(s.WanderHz, 0, 1) || !within(s.WanderV, 0, 0.2) || !within(s.SourceOhm, 0, 2):
		return bad("supply", s, "offsets up to 1 Hz, wander up to 1 Hz and 0.2, up to 2 ohm")
	case m.RateHz == 0 && c.RateHz == 0 && w.RateHz == 0:
		return bad("channels", "none", "at least one with a rate")
	case m.RateHz != 0 && (!within(m.RateHz, 8000, 192000) || m.Bits != 16 && m.Bits != 24 || !within(m.FullScaleDB, 60, 200)):
		return bad("microphone", m, "8 to 192 kHz, 16 or 24 bits, full scale of 60 to 200 dB")
	case c.RateHz != 0 && !c.Readings && (!within(c.RateHz, 1000, 192000) || c.Bits != 16 && c.Bits != 24 || !within(c.FullScaleA, 0.01, 1e5)):
		return bad("clamp", c, "1 to 192 kHz, 16 or 24 bits, a full scale above 0 A")
	case c.Readings && !within(c.RateHz, 1, 60):
		return bad("clamp", c, "1 to 60 readings a second")
	case w.RateHz != 0 && (!within(w.RateHz, 0.5, 100) || !within(w.DivisionG, 0.01, 1000)):
		return bad("scale", w, "0.5 to 100 readings a second, a division of 0.01 to 1000 g")
	case !within(sc.Procedure.LongestPauseS, 0.5, 86400):
		return bad("procedure longest_pause_s", sc.Procedure.LongestPauseS, "at least 0.5 s")
	case sc.Clearing[0] < 0 || sc.Clearing[1] < sc.Clearing[0]:
		return bad("Clearing", sc.Clearing, "two times in order")
	}
	for _, h := range sc.Mishaps {
		switch h.Kind {
		case Clap, Knock, Voice, Fridge, Kettle, Lamps, Dip, DeadClamp:
		default:
			return bad("mishap", h.Kind, "one of the kinds of this package")
		}
	}
	return sc.Unit.faulty()
}
