package score

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// The masses of a run, in the order of a gradient.
const (
	input = iota
	chamber
	coarse
	fine
	passed
	masses
)

var (
	roles     = [masses]rig.Role{rig.Charge, rig.Chamber, rig.Coarse, rig.Fine, rig.Passed}
	massNames = [masses]string{"input_g", "left_g", "coarse_g", "fine_g", "passed_g"} // of the measures
)

// balance is the mass balance of one run: what went in and where it was found.
type balance struct {
	bench  *config.Bench
	of     *config.Procedure
	all    []rig.Weighing // of the session, withdrawn ones too
	scaled [masses]Value  // as weighed, grams
	mass   [masses]Value  // the same, those that a person typed over replaced
	items  []Item
	late   []string // remarks on the weighings
	doubts []string // remarks on the balance
	hand   []int    // numbers of the weighings that were typed in
}

// Item is one ingredient of the charge as it was weighed.
type Item struct {
	config.Item
	Net rig.Figure
	Off bool // outside its tolerance
}

// newBalance picks the weighings of a run out of its session, which had the given runs.
func newBalance(r *Run, siblings []*Run) *balance {
	b := &balance{bench: &r.lab.Bench, of: r.Procedure, all: r.Record.Facts.Weighings}
	own := make([]candidate, 0, len(b.all))
	for _, c := range candidates(b.bench, r.Record) {
		if belongs(c.Weighing, siblings) != r.N {
			continue
		}
		r.Applied = append(r.Applied, c.fixes...)
		if c.withdrawn || c.Role == rig.Empty {
			continue
		}
		own = append(own, c)
		if !c.net.OK {
			b.late = append(b.late, fmt.Sprintf("weighing %d (%s) gives no net mass: %s", c.Fact, c.Role, rig.WhyWords(c.net.Why)))
		}
	}
	b.charge(own)
	for m := chamber; m < masses; m++ {
		b.scaled[m] = b.left(m, own)
	}
	b.mass = b.scaled
	return b
}

// charge sums up what went in: the whole charge if it was weighed last, otherwise its items.
func (b *balance) charge(own []candidate) {
	whole, weighed := last(own, rig.Charge, "")
	total := Value{Figure: rig.Fig(0)}
	lacks, latest, variance := []string{}, 0, 0.0
	for _, it := range b.listed(own) {
		c, ok := last(own, rig.Charge, it.Name)
		if !ok {
			lacks = append(lacks, it.Name)
			b.items = append(b.items, Item{Item: it, Net: c.net})
			continue
		}
		off := it.MassG > 0 && math.Abs(c.net.V-it.MassG) > it.ToleranceG+1e-9
		b.items = append(b.items, Item{Item: it, Net: c.net, Off: off})
		if off {
			b.doubts = append(b.doubts, fmt.Sprintf("%s: %.4g g weighed in, %g ±%g g wanted", it.Name, c.net.V, it.MassG, it.ToleranceG))
		}
		v := b.positive(b.weighed(input, c))
		if !v.OK {
			lacks = append(lacks, it.Name+" ("+v.Why+")")
		}
		total.V += v.V
		variance += v.U * v.U
		total.Typed = total.Typed || v.Typed
		total.From = append(total.From, v.From...)
		b.keep(c)
		latest = max(latest, c.Fact)
	}
	switch {
	case weighed && (latest == 0 || whole.Fact > latest):
		b.scaled[input] = b.positive(b.weighed(input, whole))
		b.keep(whole)
	case latest == 0:
		b.scaled[input] = absent(whole.net.Why)
	case len(lacks) > 0:
		b.scaled[input] = absent("item-not-weighed: " + strings.Join(lacks, ", "))
	default:
		total.U = math.Sqrt(variance)
		b.scaled[input] = total
	}
}

// listed is the recipe, and what was weighed in beside it: that counts too.
func (b *balance) listed(own []candidate) []config.Item {
	out := slices.Clip(b.of.Items)
	for _, c := range own {
		if c.Role == rig.Charge && c.Item != "" && !slices.ContainsFunc(out, func(it config.Item) bool { return it.Name == c.Item }) {
			out = append(out, config.Item{Name: c.Item})
			b.doubts = append(b.doubts, fmt.Sprintf("%s is not in the recipe", c.Item))
		}
	}
	return out
}

// positive makes a mass absent that is negative beyond its uncertainty.
func (b *balance) positive(v Value) Value {
	if v.V < -2*v.U {
		bad := absent("negative-net")
		bad.From = v.From
		return bad
	}
	return v
}

// left returns one of the masses that are weighed after a run.
func (b *balance) left(m int, own []candidate) Value {
	c, ok := last(own, roles[m], "")
	if !ok {
		return absent(c.net.Why)
	}
	b.keep(c)
	v := b.positive(b.weighed(m, c))
	if d := b.bench.Scale.DivisionG; v.OK && v.V < d {
		v.V, v.Note = d/2, fmt.Sprintf("less than %g g: half of it counts", d)
	}
	return v
}

// keep notes what is to be said of a weighing that counts.
func (b *balance) keep(c candidate) {
	a := &b.of.After
	say := func(format string, args ...any) {
		b.late = append(b.late, fmt.Sprintf("weighing %d (%s): ", c.Fact, c.Role)+fmt.Sprintf(format, args...))
	}
	early, late := c.DrainedS.V < a.DrainS-a.DrainToleranceS-clockS, c.DrainedS.V > b.turnS(c)+a.DrainToleranceS+clockS
	if c.DrainedS.OK && c.Role != rig.Charge && (early || late) {
		when := map[bool]string{true: "early", false: "late"}[early]
		say("read %s, after %.0f s of draining instead of %g s", when, c.DrainedS.V, a.DrainS)
	}
	if c.Shaken {
		say("taken while the motor ran")
	}
	if c.Typed {
		b.hand = append(b.hand, c.Fact)
	}
	if c.Stable == rig.No {
		say("the scale did not call it stable")
	}
}

// weighed returns a mass with its uncertainty: the permitted error of the scale, its step and its
// repeatability for both readings, and what wet leftovers do.
func (b *balance) weighed(m int, c candidate) Value {
	s, a := &b.bench.Scale, &b.of.After
	e := s.VerificationG
	if e == 0 {
		e = s.DivisionG
	}
	loadG := math.Abs(c.net.V)
	if c.GrossG.OK {
		loadG = math.Abs(c.GrossG.V)
	}
	mpe, err := gum.MPE(s.Class, e, loadG, s.InService)
	if err != nil {
		mpe = 3 * e // beyond what the class weighs
	}
	variance := square(gum.FromHalfWidth(mpe)) + 2*(square(gum.FromHalfWidth(s.DivisionG/2))+square(s.RepeatabilityG))
	if m != input {
		variance += square(a.RetainedUG) + square(a.TransferUG)
	}
	if m == coarse || m == fine {
		variance += square(a.WetTareUG)
	}
	if c.Shaken && c.SpreadG.OK {
		variance += square(gum.FromHalfWidth(c.SpreadG.V / 2))
	}
	text := string(c.Role)
	if c.Item != "" {
		text += " " + c.Item
	}
	text += " " + digits(c.net.V) + " g net (" + c.tare + ")"
	if c.corrected {
		text += ", corrected"
	}
	return Value{Figure: c.net, U: math.Sqrt(variance), Typed: c.Typed || c.corrected,
		From: []Trace{{What: "weighing", Fact: c.Fact, AtS: rig.Fig(c.AtS), Text: text}}}
}

// check compares what came out with what went in.
func (b *balance) check() {
	in := b.mass[input]
	all := true
	out := 0.0
	for _, role := range b.of.Weighs() {
		m := slot(role)
		all = all && b.mass[m].OK
		out += b.mass[m].V
	}
	if !in.OK || in.V <= 0 {
		return
	}
	share := out / in.V
	switch {
	case share > b.of.After.OutputHigh:
		b.doubts = append(b.doubts, fmt.Sprintf("%.0f %% of the input was weighed afterwards, more than the %.0f %% that water explains: look for a vessel or a portion weighed twice", 100*share, 100*b.of.After.OutputHigh))
	case share > 1: // of what was weighed, even if that was not all
		b.doubts = append(b.doubts, fmt.Sprintf("more out than in (%.0f %%): food takes up water", 100*share))
	case all && b.of.After.Passed && share < b.of.After.OutputLow:
		b.doubts = append(b.doubts, fmt.Sprintf("only %.0f %% of the input was found again: look for what was spilled or forgotten", 100*share))
	}
}

// digits prints a mass in grams.
func digits(g float64) string { return strconv.FormatFloat(g, 'g', 6, 64) }

func slot(role rig.Role) int {
	for m, r := range roles {
		if r == role {
			return m
		}
	}
	return input
}

func square(x float64) float64 { return x * x }
