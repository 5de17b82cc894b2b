package live

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
)

// Expect is what is weighed next, or now.
type Expect struct {
	Role   rig.Role
	Item   string     // of the charge: which ingredient; "" for all of it
	Vessel string     // in what
	TareG  rig.Figure // as it was given; absent: by the register, or as it was weighed empty
	Who    string
}

// spoken is what is weighed as one says it: "carrot", "what stayed in the chamber".
func (x Expect) spoken() string {
	if x.Item != "" {
		return strings.ReplaceAll(x.Item, "-", " ")
	}
	return map[rig.Role]string{rig.Charge: "the charge", rig.Chamber: "what stayed in the chamber", rig.Coarse: "the coarse sieve",
		rig.Fine: "the fine sieve", rig.Passed: "what went through the sieves", rig.Empty: "the empty vessel"}[x.Role]
}

// words names it for people: "charge carrot".
func (x Expect) words() string { return strings.TrimSpace(string(x.Role) + " " + x.Item) }

// check says what is wrong with what is to be weighed. force lets an ingredient in that is not in the
// recipe.
func (e *Engine) check(x Expect, force bool) error {
	items := e.setup.Procedure.Items
	switch {
	case !slices.Contains(rig.Roles, x.Role):
		return fmt.Errorf("found role %q, expected one of %s", x.Role, words(rig.Roles))
	case x.Item != "" && x.Role != rig.Charge:
		return fmt.Errorf("found item %q of role %s, expected one only of the charge", x.Item, x.Role)
	case x.Item != "" && len(items) > 0 && indexOf(items, x.Item) < 0 && !force:
		var names []string
		for _, it := range items {
			names = append(names, it.Name)
		}
		return fmt.Errorf("found item %q, expected one of the recipe: %s: or take it by force, as an ingredient beside the recipe", x.Item, strings.Join(names, ", "))
	case x.Role == rig.Empty && x.Vessel == "":
		return errors.New("found no vessel, expected the one that is weighed empty: name it")
	case x.Role == rig.Empty && x.TareG.OK:
		return errors.New("found a tare of an empty vessel, expected none: it is the tare")
	}
	_, _, err := e.tare(x)
	return err
}

func words[T ~string](all []T) string {
	var out []string
	for _, w := range all {
		out = append(out, string(w))
	}
	return strings.Join(out, ", ")
}

func indexOf(items []config.Item, name string) int {
	return slices.IndexFunc(items, func(it config.Item) bool { return it.Name == name })
}

// tare returns what the vessel alone weighs and where that comes from: as it was given, as it was last
// weighed empty in this session, or by the register. Absent without an error: there is no vessel, and the
// gross is the net.
func (e *Engine) tare(x Expect) (g rig.Figure, from string, err error) {
	vessels := e.setup.Bench.Vessels
	switch {
	case x.Role == rig.Empty:
		return rig.Figure{}, "empty", nil
	case x.TareG.OK:
		return x.TareG, "given", nil
	case x.Vessel == "" && len(vessels) == 0:
		return rig.Figure{}, "no vessel", nil
	case x.Vessel == "":
		return rig.Figure{}, "", fmt.Errorf("found no vessel, expected one of the register: %s: or give the tare, 0 if the scale was set to zero with the vessel on it", vesselNames(vessels))
	}
	for _, w := range slices.Backward(e.pan.booked) {
		if w.Role == rig.Empty && w.Vessel == x.Vessel && w.counts().OK {
			return w.counts(), "weighed empty", nil
		}
	}
	for _, v := range vessels {
		if v.ID != x.Vessel {
			continue
		}
		if v.WetG > 0 && x.Role != rig.Charge {
			return rig.Fig(v.WetG), "register, wet", nil
		}
		return rig.Fig(v.DryG), "register, dry", nil
	}
	known := vesselNames(vessels)
	if known != "" {
		known = ", such as " + known
	}
	return rig.Figure{}, "", fmt.Errorf("found vessel %q, expected one whose empty mass is known%s: weigh it empty first, or give the tare", x.Vessel, known)
}

func vesselNames(vessels []config.Vessel) string {
	var out []string
	for _, v := range vessels {
		out = append(out, v.ID)
	}
	return strings.Join(out, ", ")
}

// target returns what a part of the charge should weigh net and how far it may be off, g; absent where
// the procedure does not say.
func (e *Engine) target(x Expect) (g, tolerance rig.Figure) {
	none := rig.Absent("not-stated")
	p := &e.setup.Procedure
	if x.Role != rig.Charge {
		return none, none
	}
	if x.Item != "" {
		if i := indexOf(p.Items, x.Item); i >= 0 {
			return rig.Fig(p.Items[i].MassG), rig.Fig(p.Items[i].ToleranceG)
		}
		return none, none
	}
	sum := 0.0
	for _, it := range p.Items {
		sum += it.ToleranceG
	}
	tolerance = none
	if len(p.Items) > 0 {
		tolerance = rig.Fig(sum)
	}
	if p.Charge() == 0 {
		return none, none
	}
	return rig.Fig(p.Charge()), tolerance
}

// following is what comes after it in the work: the ingredients in the recipe's order, then what is
// weighed after the run; nil after the last, and after what stands in no list.
func (e *Engine) following(x Expect) *Expect {
	p := &e.setup.Procedure
	if x.Role == rig.Empty {
		return nil
	}
	if x.Role == rig.Charge && x.Item != "" {
		at := indexOf(p.Items, x.Item)
		for k := 1; k <= len(p.Items); k++ {
			it := p.Items[(at+k)%len(p.Items)].Name
			if it != x.Item && !e.weighed(rig.Charge, it) {
				return &Expect{Role: rig.Charge, Item: it, Vessel: x.Vessel, TareG: x.TareG, Who: x.Who}
			}
		}
	}
	out := e.outstanding()
	if len(out) == 0 {
		return nil
	}
	next := out[0]
	at := slices.Index(p.Weighs(), x.Role)
	for _, r := range out { // those after it come before those that were passed over
		if slices.Index(p.Weighs(), r) > at {
			next = r
			break
		}
	}
	was := e.pan.used[next]
	return &Expect{Role: next, Vessel: was.Vessel, TareG: was.TareG, Who: x.Who}
}

// runAtHand is the run that weighings now are of, from 1.
func (e *Engine) runAtHand() int { return max(1, e.known.Runs) }

// weighed says whether a weighing of a role and an item counts for the run at hand.
func (e *Engine) weighed(role rig.Role, item string) bool {
	return slices.ContainsFunc(e.pan.booked, func(w WeighingNow) bool {
		return w.Role == role && w.Item == item && !w.Withdrawn && w.of == e.runAtHand()
	})
}

// charged says whether anything was weighed in for the run at hand.
func (e *Engine) charged() bool {
	return slices.ContainsFunc(e.pan.booked, func(w WeighingNow) bool {
		return w.Role == rig.Charge && !w.Withdrawn && w.of == e.runAtHand()
	})
}

// outstanding lists what the procedure weighs after a run and nobody has weighed yet.
func (e *Engine) outstanding() []rig.Role {
	var out []rig.Role
	for _, r := range e.setup.Procedure.Weighs() {
		if !e.weighed(r, "") {
			out = append(out, r)
		}
	}
	return out
}
