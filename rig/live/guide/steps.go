package guide

import (
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
)

// builder makes the list of steps.
type builder struct {
	p     *config.Procedure
	in    *Input
	at    phase
	steps []Step
	parts []phase // in which part of the work each step lies
}

// add adds a step of a part of the work. state "": it is still to be done.
func (b *builder) add(s Step, part phase, state Status) {
	if said := b.in.Said[s.ID]; state == "" && said != "" {
		state = said
	}
	s.State = state
	b.steps = append(b.steps, s)
	b.parts = append(b.parts, part)
}

// done is Done or, where something is not so, nothing.
func done(yes bool) Status {
	if yes {
		return Done
	}
	return ""
}

// choose makes exactly one step Now, and returns its place: the first that is still open in the part of
// the work that has been reached. What lies open before it was passed over.
func (b *builder) choose() int {
	least := b.at
	if least == paused {
		least = running
	}
	now := len(b.steps) - 1
	for i := range b.steps {
		if b.steps[i].State == "" && b.parts[i] >= least {
			now = i
			break
		}
	}
	if b.at == before {
		now = b.awaited(now)
	}
	for i := range b.steps {
		s := &b.steps[i]
		switch {
		case i == now:
			s.State = Now
		case s.State != "":
		case b.parts[i] < least:
			b.passed(s)
		default:
			s.State = Later
		}
	}
	return now
}

// awaited moves to the ingredient that a person chose to weigh now.
func (b *builder) awaited(now int) int {
	if !b.in.Expects || b.in.Role != rig.Charge {
		return now
	}
	if i := slices.IndexFunc(b.steps, func(s Step) bool { return s.Role == rig.Charge && s.Item == b.in.Item && s.State == "" }); i >= 0 {
		return i
	}
	return now
}

// passed marks what lay open when the work went on.
func (b *builder) passed(s *Step) {
	switch s.ID {
	case "water", "start", "feed", "held-back", "run", "stop":
		s.State = Done // nothing else is possible, or nobody can tell
		if s.ID == "water" {
			s.Remark = "presumed"
		}
	default:
		s.State = Skipped
	}
}

var checkWords = map[rig.CheckKind][2]string{
	rig.CheckSound:  {"Check the microphone", "Put the calibrator on, and type what is shown."},
	rig.CheckScale:  {"Check the scale", "Put the check weight on, and type what is shown."},
	rig.CheckClamp:  {"Check the clamp", "Switch a known load on, and type what is shown."},
	rig.CheckSupply: {"Check the supply", "Type the voltage at the socket with the motor running."},
	rig.CheckWater:  {"Check the water", "Weigh what half a minute gives, and type the flow."},
}

// checkUnits are the units of what is typed, by kind (see rig.CheckKind).
var checkUnits = map[rig.CheckKind]string{rig.CheckSound: "dB", rig.CheckScale: "g", rig.CheckClamp: "A", rig.CheckSupply: "V", rig.CheckWater: "L/min"}

func (b *builder) checks() {
	c := &b.p.Checks
	wanted := map[rig.CheckKind]bool{rig.CheckSound: c.Sound, rig.CheckScale: c.Scale, rig.CheckClamp: c.Clamp, rig.CheckSupply: c.Supply, rig.CheckWater: c.Water}
	for _, k := range rig.CheckKinds {
		if !wanted[k] {
			continue
		}
		s := Step{ID: "check-" + string(k), Title: checkWords[k][0], Detail: checkWords[k][1]}
		was := slices.Contains(b.in.Checks, k)
		if !was {
			s.Remark = "due today: without it the run carries a remark"
		}
		b.add(s, before, done(was))
	}
}

// plain writes an ingredient's name for people.
func plain(name string) string { return strings.ReplaceAll(name, "-", " ") }

func (b *builder) charge() {
	for _, it := range b.p.Items {
		var more []string
		for _, x := range []string{it.Cut, it.Preparation} {
			if x != "" {
				more = append(more, x)
			}
		}
		if it.Pieces > 0 {
			more = append(more, fmt.Sprintf("%d pieces", it.Pieces))
		}
		if it.HeldBack > 0 {
			more = append(more, fmt.Sprintf("hold %d back", it.HeldBack))
		}
		b.weighing(Step{ID: "charge-" + it.Name, Title: "Weigh in " + plain(it.Name), Detail: strings.Join(more, ", "), Role: rig.Charge, Item: it.Name,
			TargetG: rig.Fig(it.MassG), ToleranceG: rig.Fig(it.ToleranceG)}, before)
	}
	if len(b.p.Items) == 0 && b.p.ChargeG > 0 {
		b.weighing(Step{ID: "charge", Title: "Weigh in the charge", Role: rig.Charge, TargetG: rig.Fig(b.p.ChargeG)}, before)
	}
}

// weighing adds a step that a weighing completes.
func (b *builder) weighing(s Step, part phase) {
	w, is := b.in.weighed(s.Role, s.Item)
	if !is && s.Role == rig.Charge && s.Item != "" {
		if all, whole := b.in.weighed(rig.Charge, ""); whole && all.NetG.OK {
			b.add(s, part, Done) // all of the charge was weighed at once
			return
		}
	}
	if is {
		s.MeasuredG = w.NetG
		s.Remark = off(s, w)
	}
	b.add(s, part, done(is))
}

// off says how a weighing is not as it should be.
func off(s Step, w Weighed) string {
	if w.Timing == "early" || w.Timing == "late" {
		return "read " + w.Timing
	}
	if !s.TargetG.OK || !s.ToleranceG.OK || !w.NetG.OK {
		return ""
	}
	const rounding = 1e-6 // g, of adding up
	switch d := w.NetG.V - s.TargetG.V; {
	case d > s.ToleranceG.V+rounding:
		return grams(d) + " too much"
	case -d > s.ToleranceG.V+rounding:
		return grams(-d) + " too little"
	}
	return ""
}

// grams writes a mass.
func grams(g float64) string {
	if g >= 100 || g <= -100 || g == float64(int(g)) {
		return fmt.Sprintf("%.0f g", g)
	}
	return fmt.Sprintf("%.1f g", g)
}

// emptyS is how long the motor runs empty, so that its no-load current and level are learned, s.
const emptyS = 5.0

func (b *builder) opening() {
	in, p := b.in, b.p
	if need := p.Checks.BackgroundS; need > 0 {
		s := Step{ID: "quiet", Title: fmt.Sprintf("Quiet, %.0f s", need), Detail: "Everything off, nobody talks: the room's own noise is measured."}
		state := done(in.QuietS.OK && in.QuietS.V >= need)
		if b.at != before {
			state = Done // the recording begins before the start
		}
		if !in.Sound {
			s.Remark, state = "no microphone", Skipped
		}
		b.add(s, before, state)
	}
	water := fmt.Sprintf("%g L/min", p.Water.FlowLPerMin)
	if p.Water.TemperatureC > 0 {
		water += fmt.Sprintf(", %g °C", p.Water.TemperatureC)
	}
	b.add(Step{ID: "water", Title: "Water on", Detail: water}, before, done(p.Water.FlowLPerMin == 0))
	ran := b.at != before && (in.Fed || b.at != running || in.OnS.OK && in.OnS.V >= emptyS || in.ClearS.OK)
	b.add(Step{ID: "start", Title: "Switch on", Detail: "Run empty for a few seconds."}, running, done(ran))
}

func (b *builder) grinding() {
	in, p := b.in, b.p
	over := b.at == after || b.at == running && (in.ClearS.OK || in.limit(p))
	order, back := b.order()
	b.add(Step{ID: "feed", Title: "Feed", Detail: strings.Join(order, ", ")}, running, done(over || in.Said["held-back"] != "" || in.Said["run"] != ""))
	if len(back) > 0 {
		b.add(Step{ID: "held-back", Title: "Feed what was held back", Detail: strings.Join(back, ", ")}, running, done(over || in.Said["run"] != ""))
	}
	run := Step{ID: "run", Title: "Grind until clear", Detail: fmt.Sprintf("at most %s", clock(p.TimeLimitS))}
	if in.limit(p) && !in.ClearS.OK {
		run.Remark = "stopped at the limit"
	}
	b.add(run, running, done(over))
	if p.Water.FlushS > 0 {
		s := Step{ID: "flush", Title: fmt.Sprintf("Flush, %.0f s", p.Water.FlushS), Detail: "The water runs on; the motor too."}
		state := done(in.ClearS.OK && (in.ClearS.V >= p.Water.FlushS || b.at == after))
		if in.limit(p) && state == "" {
			s.Remark, state = "time is up", Skipped
		}
		b.add(s, running, state)
	}
	b.stop()
}

// unplugS is how long a person has to say that the plug is out before the work goes on, s.
const unplugS = 20.0

func (b *builder) stop() {
	in := b.in
	gone := b.at == after && in.StillS.OK && in.StillS.V >= unplugS
	for _, r := range b.p.Weighs() {
		if _, is := in.weighed(r, ""); is {
			gone = true
		}
	}
	s := Step{ID: "stop", Title: "Switch off, pull the plug"}
	if gone && in.Said["stop"] == "" {
		s.Remark = "nobody said that the plug is out"
	}
	b.add(s, after, done(gone))
	if b.at == running { // the plug may have been out: it is in again
		b.steps[len(b.steps)-1].State = ""
	}
}

// clock writes a length of time: "2 min", "90 s", "4 min 10 s".
func clock(s float64) string {
	n := int(s + 0.5)
	switch {
	case n < 120 && n != 60:
		return fmt.Sprintf("%d s", n)
	case n%60 == 0:
		return fmt.Sprintf("%d min", n/60)
	}
	return fmt.Sprintf("%d min %d s", n/60, n%60)
}
