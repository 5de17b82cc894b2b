package score

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"quern/config"
	"quern/rig"
)

// Status says whether a run counts, and if not, why.
type Status string

const (
	Counts       Status = "counts"
	Void         Status = "void"         // our fault: to be repeated; its values stay visible
	Unplanned    Status = "unplanned"    // more than the procedure repeats
	Conditioning Status = "conditioning" // running in
	ControlRun   Status = "control"      // of the bench, not of a unit
)

// Outcome is what a run or a test came to. The four that are no pass never mix.
type Outcome string

const (
	Passed        Outcome = "passed"
	Failed        Outcome = "failed"         // a result: the unit could not do it
	IsVoid        Outcome = "void"           // our fault: to be repeated
	NotTested     Outcome = "not tested"     // no run there
	NotMeasurable Outcome = "not measurable" // a gate's measure is absent
)

// Run is one run as it counts after all corrections.
type Run struct {
	Record    *rig.Record
	N         int // in its session, from 1
	Unit      string
	Procedure *config.Procedure
	Status    Status
	Cause     string // of a void run: rig or operator
	Why       string // of a void or failed run, as the person said
	Failing   bool   // a person found that the unit could not do it
	Outcome   Outcome
	Gates     []GateResult
	Remarks   []string // what a reader has to know beside its values
	Applied   []rig.Correction

	lab     *config.Lab
	run     *rig.Run // nil: nothing was detected
	balance *balance
	typed   map[string]rig.Correction // by measure
	taken   []taken                   // measures asked for so far
	kind    Status                    // what the run was for, void or not
	failed  string                    // why the unit could not do it
}

// Name names a run in print: its session, and its number if there are several.
func (r *Run) Name() string {
	if len(r.Record.Result.Runs) > 1 || r.N > 1 {
		return fmt.Sprintf("%s, run %d", r.Record.Session, r.N)
	}
	return r.Record.Session
}

// Detected returns what the analysis found of the run; nil if nothing was.
func (r *Run) Detected() *rig.Run { return r.run }

// Items returns the charge, ingredient by ingredient: the recipe's in its order, then what was weighed in
// beside it.
func (r *Run) Items() []Item { return r.balance.items }

// Day returns the day on which the run's session began, in the zone of its bench: "2026-03-01".
func (r *Run) Day() string { return r.Record.Day() }

// runs makes the runs of a record, with its corrections; why: the record cannot be placed.
func (c *Campaign) runs(rec *rig.Record) (out []*Run, why string) {
	n := len(rec.Result.Runs)
	for _, k := range rec.Facts.Corrections {
		n = max(n, k.Run)
	}
	for _, w := range rec.Facts.Weighings {
		n = max(n, w.Run)
	}
	if n == 0 && (rec.Origin == rig.ByHand || slices.ContainsFunc(rec.Facts.Corrections, tellsOfRun)) {
		n = 1
	}
	if n == 0 {
		return nil, "no run was found in it"
	}
	if n > 1000 { // no bench does that in one session
		return nil, fmt.Sprintf("facts of run %d", n)
	}
	for i := 1; i <= n; i++ {
		r := &Run{Record: rec, N: i, Unit: rec.Unit, lab: c.Lab, kind: Counts}
		if i <= len(rec.Result.Runs) {
			r.run = &rec.Result.Runs[i-1]
		}
		procedure := rec.Procedure
		for _, k := range rec.Facts.Corrections {
			if k.Run == 0 || k.Run == i {
				r.correct(k, &procedure)
			}
		}
		if c.Lab.Unit(r.Unit) == nil {
			return nil, fmt.Sprintf("unit %q, which units.toml does not have", r.Unit)
		}
		if r.Procedure = c.Lab.Procedure(procedure); r.Procedure == nil {
			return nil, fmt.Sprintf("procedure %q, which procedures/ does not have", procedure)
		}
		if k := c.Lab.Bench.Control; k.Unit == r.Unit && k.Procedure == procedure && r.kind == Counts {
			r.kind = ControlRun
		}
		r.settle()
		out = append(out, r)
	}
	for _, r := range out {
		r.weighIn(out)
		slices.SortStableFunc(r.Applied, func(a, b rig.Correction) int { return cmp.Compare(a.Fact, b.Fact) })
		r.judge()
		r.remark()
	}
	return out, ""
}

// weighIn makes the mass balance. A mass that a person typed over goes into the shares too.
func (r *Run) weighIn(siblings []*Run) {
	r.balance = newBalance(r, siblings)
	for m, name := range massNames {
		if k, ok := r.typed[name]; ok {
			r.balance.mass[m] = r.typedOver(name, k, r.balance.scaled[m])
		}
	}
	r.balance.check()
}

// tellsOfRun tells whether a correction is word of a run, even where none was detected.
func tellsOfRun(k rig.Correction) bool {
	target, _, _ := strings.Cut(k.Target, ".")
	return target == "failed" || target == "void" || target == "measure"
}

// settle says whether the run counts: void whatever it was for.
func (r *Run) settle() {
	r.Status = r.kind
	if r.Cause != "" {
		r.Status = Void
	} else {
		r.Why = r.failed
	}
	r.Failing = r.failed != ""
}

// correct applies one correction. What does not concern the run as a whole is left to the measures, and
// to the balance.
func (r *Run) correct(k rig.Correction, procedure *string) {
	target, name, _ := strings.Cut(k.Target, ".")
	switch target {
	case "unit":
		r.Unit = k.New
	case "procedure":
		*procedure = k.New
	case "kind":
		r.kind = map[string]Status{"conditioning": Conditioning, "control": ControlRun, "unplanned": Unplanned}[k.New]
		if r.kind == "" {
			r.kind = Counts
		}
	case "void":
		if r.Cause, r.Why = k.New, k.Why; k.New == "no" {
			r.Cause, r.Why = "", ""
		}
	case "failed":
		switch {
		case k.New == "no":
			r.failed = ""
		case k.Why != "":
			r.failed = k.New + ": " + k.Why
		default:
			r.failed = k.New
		}
	case "measure":
		if r.typed == nil {
			r.typed = map[string]rig.Correction{}
		}
		r.typed[name] = k
	default:
		return
	}
	r.Applied = append(r.Applied, k)
}

// weighingCorrections lists the corrections of each weighing by its fact number, in their order.
func weighingCorrections(rec *rig.Record) map[int][]rig.Correction {
	var out map[int][]rig.Correction
	for _, k := range rec.Facts.Corrections {
		if name, ok := strings.CutPrefix(k.Target, "weighing."); ok {
			if n, err := strconv.Atoi(name); err == nil {
				if out == nil {
					out = map[int][]rig.Correction{}
				}
				out[n] = append(out[n], k)
			}
		}
	}
	return out
}
