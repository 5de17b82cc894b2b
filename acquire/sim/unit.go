package sim

import (
	"fmt"
	"math"

	"quern/config"
)

// Unit is a grinder: its nameplate, and what is behind it. Torques are in rated torques, speeds in
// shares of the full speed (synchronous, or empty for a motor that has no such speed).
type Unit struct {
	config.Unit
	LockedA     float64 // RMS at rated voltage, cold, rotor held (the nameplate may leave it out)
	NoLoadShare float64 // no-load current as a share of rated
	RatedSlip   float64 // induction: slip at rated load
	InertiaS    float64 // time in which the rated torque alone brings the rotor to full speed
	SpeedHz     float64 // turns a second at full speed; for an induction motor it follows the mains
	StartTorque float64 // induction: of the start winding, at standstill
	HeatKPerS   float64 // warming of the copper with the rotor held, K/s
	WarmUp      float64 // by how much the no-load current changes as the machine warms, share
	WarmUpS     float64 // time constant of that, s
	WarmUpDB    float64 // the same for the no-load sound, dB

	// Protector.
	TripS    float64 // time to trip with the rotor held, cold; 0: no protector
	HotShare float64 // how warm the protector is at the start, 0 to 0.95
	CoolS    float64 // time constant of its cooling with the current off (compressed: a real one takes a minute or two)
	Resets   bool    // it closes again by itself

	// Electronics of a permanent-magnet motor.
	LimitShare float64 // input current with the rotor held, as a share of rated
	ShutOffS   float64 // they switch off after so long a stall; 0: never
	Pulsing    bool    // they try again and again, 0.3 s on and 0.2 s off

	// Sound.
	NoLoadDBA float64 // empty, at full speed
	GrindDBA  float64 // of the grinding alone, at rated torque
	StallDBA  float64 // of the hum with the rotor held, at locked current
	Lugs      int     // impacts of the chamber on the air a turn
	Slots     int     // whine a turn
}

// Kinds of motor, as the lab folder names them.
const (
	inductionMotor = "induction"
	magnetMotor    = "permanent-magnet"
	universalMotor = "universal"
)

func (u *Unit) faulty() error {
	bad := func(what string, found any, want string) error {
		return fmt.Errorf("unit %q: %s: found %v, expected %s", u.ID, what, found, want)
	}
	switch {
	case u.Motor != inductionMotor && u.Motor != magnetMotor && u.Motor != universalMotor:
		return bad("motor", u.Motor, "induction, permanent-magnet or universal")
	case !(u.RatedCurrentA > 0 && u.RatedCurrentA <= 200):
		return bad("rated_current_a", u.RatedCurrentA, "more than 0 A, up to 200 A")
	case !(u.NoLoadShare > 0.02 && u.NoLoadShare < 0.95):
		return bad("NoLoadShare", u.NoLoadShare, "0.02 to 0.95")
	case !(u.InertiaS >= 0.05 && u.InertiaS <= 10):
		return bad("InertiaS", u.InertiaS, "0.05 to 10 s")
	case u.Motor != magnetMotor && !(u.LockedA > 2.5*u.RatedCurrentA && u.LockedA < 12*u.RatedCurrentA):
		return bad("LockedA", u.LockedA, "2.5 to 12 times the rated current")
	case u.Motor == inductionMotor && !(u.RatedSlip > 0.01 && u.RatedSlip < 0.12):
		return bad("RatedSlip", u.RatedSlip, "0.01 to 0.12")
	case u.Motor == magnetMotor && !(u.LimitShare > 0.5 && u.LimitShare < 6):
		return bad("LimitShare", u.LimitShare, "0.5 to 6")
	case u.Motor != inductionMotor && !(u.SpeedHz > 5 && u.SpeedHz < 400):
		return bad("SpeedHz", u.SpeedHz, "5 to 400 turns a second")
	case u.HotShare < 0 || u.HotShare > 0.95 || u.TripS < 0 || u.ShutOffS < 0:
		return bad("protector", u.HotShare, "a warmth of 0 to 0.95 and times of 0 s or more")
	case !(u.NoLoadDBA > 20 && u.NoLoadDBA < 110 && u.GrindDBA < 120 && u.StallDBA < 120):
		return bad("levels", u.NoLoadDBA, "20 to 110 dB(A) empty, below 120 dB(A) else")
	}
	return nil
}

// torqueFor returns the torque of a load at which the unit draws share times its rated current, as far
// as it does before its rotor gives way.
func (u *Unit) torqueFor(share float64) float64 {
	switch m := newMachine(u).(type) {
	case *induction:
		most := 0.0
		for slip := 0.01; slip < 0.6; slip += 0.01 {
			most = math.Max(most, m.run(slip))
		}
		slip := u.RatedSlip
		for magnitude(m.current(1, 1-slip)) < share*u.RatedCurrentA && m.run(slip) < 0.85*most {
			slip += 0.0005
		}
		return m.run(slip) - m.drag(1-slip)
	case *magnet:
		return math.Min((share-m.own)/(1-m.own), 0.85*largest) - m.d
	default:
		return share * share / (1 + 0.5*(share-1))
	}
}

// The four units of the demonstration. They are invented.

// UnitA is a middling induction motor.
func UnitA() Unit {
	return Unit{Unit: nameplate("unit-a", "invented unit A", 6, 33, inductionMotor),
		LockedA: 33, NoLoadShare: 0.65, RatedSlip: 0.042, InertiaS: 0.55, StartTorque: 1.7, HeatKPerS: 10, WarmUp: -0.025, WarmUpS: 25, WarmUpDB: -0.5,
		TripS: 6, CoolS: 8, NoLoadDBA: 70, GrindDBA: 79, StallDBA: 58, Lugs: 2, Slots: 34}
}

// UnitB is a quiet induction motor that draws four fifths of its rated current empty.
func UnitB() Unit {
	return Unit{Unit: nameplate("unit-b", "invented unit B", 4.2, 24, inductionMotor),
		LockedA: 24, NoLoadShare: 0.78, RatedSlip: 0.038, InertiaS: 0.7, StartTorque: 1.6, HeatKPerS: 8, WarmUp: -0.03, WarmUpS: 30, WarmUpDB: -0.8,
		TripS: 9, CoolS: 9, NoLoadDBA: 62, GrindDBA: 72, StallDBA: 50, Lugs: 2, Slots: 28}
}

// UnitC is a permanent-magnet motor behind a rectifier.
func UnitC() Unit {
	return Unit{Unit: nameplate("unit-c", "invented unit C", 3.5, 0, magnetMotor),
		NoLoadShare: 0.18, InertiaS: 0.55, SpeedHz: 55, HeatKPerS: 4, WarmUp: -0.04, WarmUpS: 20, WarmUpDB: -0.4,
		LimitShare: 1.9, ShutOffS: 1.2, CoolS: 8, NoLoadDBA: 68, GrindDBA: 78, StallDBA: 40, Lugs: 2, Slots: 12}
}

// UnitD is a universal motor with a gear.
func UnitD() Unit {
	return Unit{Unit: nameplate("unit-d", "invented unit D", 5, 20, universalMotor),
		LockedA: 20, NoLoadShare: 0.42, InertiaS: 0.15, SpeedHz: 150, HeatKPerS: 9, WarmUp: 0.02, WarmUpS: 20, WarmUpDB: 0.3,
		TripS: 5, CoolS: 8, NoLoadDBA: 78, GrindDBA: 84, StallDBA: 66, Lugs: 1, Slots: 22}
}

// nameplate is a unit of the list; lockedA is 0 where it does not say.
func nameplate(id, name string, ratedA, lockedA float64, motor string) config.Unit {
	u := config.DefaultUnit(id)
	u.Name, u.RatedCurrentA, u.LockedRotorA, u.Motor = name, ratedA, lockedA, motor
	return u
}
