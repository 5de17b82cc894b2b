package rig

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Role is what a weighing was of. Between the charge and the sink everything is in exactly one of
// chamber, coarse, fine and passed.
type Role string

const (
	Charge  Role = "charge"  // what went in, or one item of it
	Chamber Role = "chamber" // what stayed in the chamber
	Coarse  Role = "coarse"  // what the coarse sieve kept
	Fine    Role = "fine"    // what the fine sieve kept
	Passed  Role = "passed"  // what went through both and was collected
	Empty   Role = "empty"   // a vessel by itself: the tare of what comes after
)

// Roles lists all roles in the order of the work.
var Roles = []Role{Empty, Charge, Chamber, Coarse, Fine, Passed}

// Weighing is a mass with the evidence for it. Weighings are kept all: of those of one run, role and
// item the last that is not withdrawn counts.
type Weighing struct {
	Fact         int     // its number in the session, from 1; corrections name it
	AtS          float64 // s from the session's start; may lie long after its end
	Run          int     // from 1; 0: of the session's only run
	Role         Role
	Item         string // of the charge: which ingredient; "" for all of it
	Vessel       string // in what, by the register; ""
	GrossG       Figure
	TareG        Figure
	NetG         Figure
	Shown        string // unit on the device's display: "g", "oz", ...; the figures here are grams
	Stable       Mark   // the device's own word
	SpreadG      Figure // range of the indications in the last second: our own evidence
	SlopeGPerMin Figure // how fast the indication moved: what still drips
	DrainedS     Figure // how long it had drained
	Typed        bool   // by a person from a display, not read by us
	Auto         bool   // taken by itself when the pan came to rest
	Shaken       bool   // the motor ran while it was taken
	Who          string
	Note         string
}

// CheckKind is what was checked.
type CheckKind string

const (
	CheckSound  CheckKind = "sound"  // a calibrator on the microphone, dB
	CheckScale  CheckKind = "scale"  // a check weight, g
	CheckClamp  CheckKind = "clamp"  // a known load, A
	CheckSupply CheckKind = "supply" // voltage at the socket, V
	CheckWater  CheckKind = "water"  // flow by weighing, L/min
)

// CheckKinds lists all kinds.
var CheckKinds = []CheckKind{CheckSound, CheckScale, CheckClamp, CheckSupply, CheckWater}

// Check is an instrument or a condition compared with what it should be.
type Check struct {
	Fact    int
	AtS     float64
	Kind    CheckKind
	Nominal Figure // what it should have been, in the kind's unit
	Found   Figure
	Who     string
	Note    string
}

// Correction is what a person says against what was recorded or computed. It is appended; what it
// corrects stays. Of several on one target the last counts.
//
//	target              new
//	unit, procedure     the id that should have been chosen
//	kind                "scored", "conditioning", "control", "unplanned"
//	void                "rig" or "operator": the run does not count and is repeated; "no": it counts after all
//	failed              a reason: the unit could not do it (refused to start, leaked, smoked); "no": taken back
//	weighing.3          "withdrawn", or a net mass in grams; 3 is the weighing's Fact
//	check.3             "withdrawn": it does not count; "counts": it does after all; 3 is the check's Fact
//	measure.run_time_s  a value in the measure's unit, or "absent"
type Correction struct {
	Fact   int
	At     time.Time // when it was made
	Run    int       // from 1; 0: all runs of the session
	Target string
	Old    string // what stood there, as it was shown; "": nothing
	New    string
	U      Figure // standard uncertainty of a typed measure, in its unit
	Who    string
	Why    string
}

// CheckCounts tells whether a check stands: of the corrections on it the last counts.
func (f *Facts) CheckCounts(fact int) bool {
	target := fmt.Sprintf("check.%d", fact)
	for _, k := range slices.Backward(f.Corrections) {
		if k.Target == target {
			return k.New != "withdrawn"
		}
	}
	return true
}

// Remark is what a person had to say at an instant.
type Remark struct {
	Fact int
	AtS  float64
	Run  int
	Text string
	Who  string
}

// Facts is what people put on record in a session, in the order in which they did.
type Facts struct {
	Weighings   []Weighing
	Checks      []Check
	Corrections []Correction
	Remarks     []Remark
}

// SlateText begins the remark of a slate, before what stands on it.
const SlateText = "slate at "

// SlatesS returns the instants of the slates, s from the session's start.
func (f Facts) SlatesS() []float64 {
	var out []float64
	for _, r := range f.Remarks {
		if strings.HasPrefix(r.Text, SlateText) {
			out = append(out, r.AtS)
		}
	}
	return out
}

// Origin is how a session came to be.
type Origin string

const (
	Recorded Origin = "recorded" // by the daemon
	Imported Origin = "imported" // from recordings made elsewhere
	ByHand   Origin = "by-hand"  // from figures taken by hand: no recording
)

// Record is all that scoring needs of one session: what was measured, and what people put on record.
type Record struct {
	Session   string
	Bench     string
	Unit      string // as recorded; a correction may say otherwise
	Procedure string
	Origin    Origin
	Started   time.Time
	TimeZone  string // in which its days are told: an IANA name; "": UTC
	Tool      string
	Sealed    string // manifest_sha256; "" for a session not sealed
	Chain     string // stands for what was sealed and all facts added since
	Settings  string // SHA-256 of the settings that Result was computed under
	Result    Result
	Facts     Facts
	Warnings  []Warning // of reading the session
}

// Codes of warnings that say that something of a session is missing, or other than it was: what is scored may be wrong.
const (
	SessionChanged = "session-changed" // a file is not what was sealed
	JournalTorn    = "journal-torn"    // the end of the journal does not prove itself
	JournalDamaged = "journal-damaged" // a stretch inside it does not
	AddendaTorn    = "addenda-torn"    // the end of the addenda does not prove itself
	AddendaDamaged = "addenda-damaged" // a batch inside them does not, and so none after it
)

// Damage returns the warnings that say that the record is not all of it, or not what it was.
func (r *Record) Damage() (out []Warning) {
	for _, w := range r.Warnings {
		switch w.Code {
		case SessionChanged, JournalTorn, JournalDamaged, AddendaTorn, AddendaDamaged:
			out = append(out, w)
		}
	}
	return out
}

// HandValue is something about a unit that a person judged or looked up: build, installation, price.
type HandValue struct {
	Unit  string
	Name  string // the measure is hand.NAME
	Value float64
	U     float64 // standard uncertainty, in the value's unit; 0: none stated
	Note  string
	Who   string
	At    time.Time
}

// AsOf returns the record as it stood at a time: without what was put on record from then on. False: the
// session began only then.
func (r Record) AsOf(end time.Time) (Record, bool) {
	if !r.Started.Before(end) {
		return r, false
	}
	before := func(atS float64) bool {
		return r.Started.Add(time.Duration(atS * float64(time.Second))).Before(end)
	}
	f := Facts{}
	for _, w := range r.Facts.Weighings {
		if before(w.AtS) {
			f.Weighings = append(f.Weighings, w)
		}
	}
	for _, c := range r.Facts.Checks {
		if before(c.AtS) {
			f.Checks = append(f.Checks, c)
		}
	}
	for _, k := range r.Facts.Corrections {
		if k.At.Before(end) {
			f.Corrections = append(f.Corrections, k)
		}
	}
	for _, m := range r.Facts.Remarks {
		if before(m.AtS) {
			f.Remarks = append(f.Remarks, m)
		}
	}
	r.Facts = f
	return r, true
}

// AsOf returns records and values entered by hand as they stood at a time; see [Record.AsOf].
func AsOf(records []Record, hand []HandValue, end time.Time) (oldRecords []Record, oldHand []HandValue) {
	for _, r := range records {
		if old, ok := r.AsOf(end); ok {
			oldRecords = append(oldRecords, old)
		}
	}
	for _, h := range hand {
		if h.At.Before(end) {
			oldHand = append(oldHand, h)
		}
	}
	return oldRecords, oldHand
}
