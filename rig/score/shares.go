package score

import (
	"math"
	"slices"

	"quern/rig"
)

// sum is a linear combination of the masses of a run.
type sum [masses]float64

var (
	sumInput     = sum{input: 1}
	sumUnchamber = sum{input: 1, chamber: -1}
)

// discharge is what left the chamber: what the procedure collects of it where that is all, otherwise
// input less what stayed.
func (b *balance) discharge() sum {
	if !b.of.After.Passed {
		return sumUnchamber
	}
	collected := b.recovered()
	collected[chamber] = 0
	return collected
}

// recovered is everything that the procedure weighs afterwards.
func (b *balance) recovered() sum {
	var s sum
	for _, role := range b.of.Weighs() {
		s[slot(role)] = 1
	}
	return s
}

// total evaluates a combination; the first mass it lacks is the reason for absence.
func (b *balance) total(s sum) Value {
	v := Value{Figure: rig.Fig(0)}
	variance := 0.0
	for m, k := range s {
		if k == 0 {
			continue
		}
		x := b.mass[m]
		if !x.OK {
			return absent(string(roles[m]) + "-" + x.Why)
		}
		v.V += k * x.V
		variance += square(k * x.U)
		v.Typed = v.Typed || x.Typed
		v.From = append(v.From, x.From...)
	}
	v.U = math.Sqrt(variance)
	return v
}

// share divides one combination by another, to first order in the errors of the masses that both share.
func (b *balance) share(part, whole sum) Value {
	p, w := b.total(part), b.total(whole)
	switch {
	case !p.OK:
		return p
	case !w.OK:
		return w
	case w.V <= 0:
		return absent("nothing-to-divide-by")
	}
	v := Value{Figure: rig.Fig(p.V / w.V), Typed: p.Typed || w.Typed}
	variance := 0.0
	for m := range masses {
		slope := (part[m] - v.V*whole[m]) / w.V
		variance += square(slope * b.mass[m].U)
		if part[m] != 0 || whole[m] != 0 {
			v.From = append(v.From, b.mass[m].From...)
			if b.mass[m].Note != "" {
				v.Note = b.mass[m].Note
			}
		}
	}
	v.U = math.Sqrt(variance)
	return v
}

// measure returns a measure of mass by name.
func (b *balance) measure(name string) (Value, bool) {
	if m := slices.Index(massNames[:], name); m >= 0 {
		return b.scaled[m], true
	}
	switch name {
	case "left_share":
		return b.share(sum{chamber: 1}, sumInput), true
	case "discharge_g":
		return b.total(b.discharge()), true
	case "coarse_share":
		return b.share(sum{coarse: 1}, b.discharge()), true
	case "fine_share":
		return b.share(sum{fine: 1}, b.discharge()), true
	case "sizeable_share":
		return b.share(sum{coarse: 1, fine: 1}, b.discharge()), true
	case "coarse_of_input":
		return b.share(sum{coarse: 1}, sumInput), true
	case "fine_of_input":
		return b.share(sum{fine: 1}, sumInput), true
	case "recovered_share":
		return b.share(b.recovered(), sumInput), true
	}
	return Value{}, false
}
