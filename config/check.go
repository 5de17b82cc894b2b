package config

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"quern/rig"
)

// fault reports a field whose value does not go with others.
func (r *reader) fault(field any, found, want, do string) {
	o := r.origins[field]
	if o.wrong {
		return
	}
	at := o.at
	if at == (place{}) {
		at = place{1, 1}
	}
	r.add(at, found, want, do)
}

// stand writes a key with its value, for messages.
func (r *reader) stand(field any, value any) string {
	format := "%s = %v"
	if _, text := value.(string); text {
		format = "%s = %q"
	}
	return fmt.Sprintf(format, r.origins[field].key, value)
}

// known are the ids of a list by what they have in common that could be taken for one another, each with where it stands.
type known map[string]struct{ id, where string }

// once reports an id that stands twice in a list, or could be taken for another one.
func (r *reader) once(seen known, id *string, what string) {
	r.own(seen, id, what, fmt.Sprintf("line %d", r.origins[id].at.line))
}

func (r *reader) own(seen known, id *string, what, where string) {
	if r.origins[id].wrong {
		return
	}
	first, twice := seen[rig.LikeID(*id)]
	if !twice {
		seen[rig.LikeID(*id)] = struct{ id, where string }{*id, where}
		return
	}
	do := ""
	if first.id != *id {
		do = "let it differ by more than capitals and underscores from " + first.id
	}
	r.fault(id, fmt.Sprintf("%s, as in %s", r.stand(id, *id), first.where), "an id of its own for every "+what, do)
}

// checkProcedure checks a procedure against itself.
func (r *reader) checkProcedure(p *Procedure) {
	seen := known{}
	sumG := 0.0
	for i := range p.Items {
		it := &p.Items[i]
		r.once(seen, &it.Name, "item")
		sumG += it.MassG
		if it.HeldBack > it.Pieces {
			r.fault(&it.HeldBack, r.stand(&it.HeldBack, it.HeldBack), fmt.Sprintf("at most pieces = %d", it.Pieces), "say how many pieces there are")
		}
	}
	if len(p.Items) > 0 && p.ChargeG > 0 && math.Abs(sumG-p.ChargeG) > 0.5 && !slices.ContainsFunc(r.problems, func(e *rig.FileError) bool { return e.Line > 0 }) {
		r.fault(&p.ChargeG, r.stand(&p.ChargeG, p.ChargeG), fmt.Sprintf("%g g, the sum of the items", sumG), "correct one of them, or leave charge_g out")
	}
	a := &p.After
	if a.FineSieveMM > 0 && a.CoarseSieveMM > 0 {
		r.less(&a.FineSieveMM, &a.CoarseSieveMM, "the coarse sieve lies on top")
	}
	r.less(&a.OutputLow, &a.OutputHigh, "")
	for i := range p.Gates {
		g := &p.Gates[i]
		r.taken(p, &g.Measure, g.Measure)
		for j := range i {
			if o := &p.Gates[j]; o.Measure == g.Measure && o.Side == g.Side {
				r.fault(&g.Measure, r.stand(&g.Measure, g.Measure)+", "+g.Side+", a second time", "one limit a side", "take one of them out")
			}
		}
	}
}

// taken reports a measure that the runs of a procedure never have.
func (r *reader) taken(p *Procedure, field *string, name string) {
	m, ok := rig.FindMeasure(name)
	if !ok {
		return // refused already
	}
	if m.Part == rig.OfHand {
		r.fault(field, r.stand(field, name), "a measure of a run", "values entered by hand belong to criteria of a test without a procedure")
	}
	if lacks := p.lacks(m); len(lacks) > 0 {
		r.fault(field, r.stand(field, name), "a measure that "+p.ID+" takes", "it needs "+strings.Join(lacks, " and ")+": set that in the procedure, or choose another measure")
	}
}

// lacks tells what a procedure would have to weigh for a measure, as its keys.
func (p *Procedure) lacks(m rig.Measure) []string {
	var out []string
	for _, role := range m.Weighs {
		switch {
		case role == rig.Charge && p.Charge() == 0:
			out = append(out, "charge_g or [[item]]")
		case role == rig.Chamber && !p.After.Chamber:
			out = append(out, "after.chamber = true")
		case role == rig.Coarse && p.After.CoarseSieveMM == 0:
			out = append(out, "after.coarse_sieve_mm")
		case role == rig.Fine && p.After.FineSieveMM == 0:
			out = append(out, "after.fine_sieve_mm")
		case role == rig.Passed && !p.After.Passed:
			out = append(out, "after.passed = true")
		}
	}
	return out
}

// Charge returns the nominal input in grams; 0 if the procedure says nothing of it.
func (p *Procedure) Charge() float64 {
	if p.ChargeG > 0 || len(p.Items) == 0 {
		return p.ChargeG
	}
	sum := 0.0
	for _, it := range p.Items {
		sum += it.MassG
	}
	return sum
}

// Weighs lists what the procedure weighs after a run, in the order of the work.
func (p *Procedure) Weighs() []rig.Role {
	var out []rig.Role
	for _, w := range []struct {
		role rig.Role
		yes  bool
	}{{rig.Chamber, p.After.Chamber}, {rig.Coarse, p.After.CoarseSieveMM > 0}, {rig.Fine, p.After.FineSieveMM > 0}, {rig.Passed, p.After.Passed}} {
		if w.yes {
			out = append(out, w.role)
		}
	}
	return out
}

// checkVessels checks the register of vessels.
func (r *reader) checkVessels(b *Bench) {
	seen := known{}
	for i := range b.Vessels {
		v := &b.Vessels[i]
		r.once(seen, &v.ID, "vessel")
		if v.WetG != 0 && v.WetG < v.DryG {
			r.fault(&v.WetG, r.stand(&v.WetG, v.WetG), fmt.Sprintf("at least dry_g = %g", v.DryG), "weigh it again, wet and drained")
		}
	}
}

// checkExtra reports a measure of an extra channel that the bench does not have.
func (r *reader) checkExtra(b *Bench, field *string, name string) {
	rest, extra := strings.CutPrefix(name, rig.ExtraMeasure)
	if !extra {
		return
	}
	channel, _, _ := strings.Cut(rest, ".")
	var known []string
	for _, x := range b.Extra {
		known = append(known, rig.ExtraMeasure+x.ID)
	}
	if !slices.Contains(known, rig.ExtraMeasure+channel) {
		want := "an extra channel of bench.toml"
		if len(known) > 0 {
			want += ": " + strings.Join(known, ", ")
		}
		r.fault(field, r.stand(field, name), want, "describe the channel as [[extra]], or choose another measure")
	}
}

// across checks what one file says of another, once all have been read.
func (l *Lab) across() Problems {
	var all Problems
	bench := newReader("bench.toml", l.origins)
	c := &l.Bench.Control
	if c.Unit != "" && !slices.ContainsFunc(l.Units, func(u Unit) bool { return u.ID == c.Unit }) {
		bench.fault(&c.Unit, bench.stand(&c.Unit, c.Unit), "a unit of units.toml", "")
	}
	if c.Procedure != "" && l.Procedure(c.Procedure) == nil {
		bench.fault(&c.Procedure, bench.stand(&c.Procedure, c.Procedure), "a procedure of procedures/", "")
	}
	if (c.Unit == "") != (c.Procedure == "") {
		bench.fault(&c.Unit, "[control] with one of unit and procedure", "both, or neither", "")
	}
	all = append(all, bench.sorted()...)
	for i := range l.Procedures {
		p := &l.Procedures[i]
		r := newReader(l.origins[&p.ID].file, l.origins)
		for j := range p.Gates {
			r.checkExtra(&l.Bench, &p.Gates[j].Measure, p.Gates[j].Measure)
			r.beyond(p.Gates[j].Measure, &p.Gates[j].Limit, p.Gates[j].Limit) // of a lab: what a session keeps is read as it is
		}
		all = append(all, r.sorted()...)
	}
	return all
}

// Procedure returns the procedure of an id; nil: there is none.
func (l *Lab) Procedure(id string) *Procedure {
	for i := range l.Procedures {
		if l.Procedures[i].ID == id {
			return &l.Procedures[i]
		}
	}
	return nil
}

// Unit returns the unit of an id; nil: there is none.
func (l *Lab) Unit(id string) *Unit {
	for i := range l.Units {
		if l.Units[i].ID == id {
			return &l.Units[i]
		}
	}
	return nil
}

// Names refuses a correction whose target is the unit or the procedure, and whose new value the lab does not have.
func (l *Lab) Names(target, id string) error {
	switch {
	case target == "unit" && l.Unit(id) == nil:
		return fmt.Errorf("found unit %q, expected one of units.toml", id)
	case target == "procedure" && l.Procedure(id) == nil:
		return fmt.Errorf("found procedure %q, expected one of procedures/", id)
	}
	return nil
}
