package guide

import (
	"fmt"
	"strings"

	"quern/config"
	"quern/rig"
)

// order lists what is fed in which order, and what is held back.
func (b *builder) order() (order, back []string) {
	for _, it := range b.p.Items {
		order = append(order, plain(it.Name))
		if it.HeldBack > 0 {
			back = append(back, fmt.Sprintf("%d of %s", it.HeldBack, plain(it.Name)))
		}
	}
	if len(order) == 0 {
		order = []string{"the charge"}
	}
	return order, back
}

func (b *builder) leftovers() {
	in, a := b.in, &b.p.After
	roles := b.p.Weighs()
	if len(roles) == 0 {
		return
	}
	if a.DrainS > 0 {
		started := false
		for _, r := range roles {
			_, is := in.weighed(r, "")
			started = started || is
		}
		b.add(Step{ID: "drain", Title: "Drain, " + clock(a.DrainS), Detail: "Leftovers on the sieve, tilted; the scale stays free."}, after,
			done(started || in.DrainedS.OK && in.DrainedS.V >= a.DrainS-a.DrainToleranceS))
	}
	for _, r := range roles {
		s := Step{ID: string(r), Role: r}
		switch r {
		case rig.Chamber:
			s.Title, s.Detail = "Weigh what stayed in the chamber", "Under the splash guard and on the lugs too."
		case rig.Coarse:
			s.Title, s.Detail = "Weigh the coarse sieve", plainSieve(a.CoarseSieveMM)+", tared wet and drained"
		case rig.Fine:
			s.Title, s.Detail = "Weigh the fine sieve", plainSieve(a.FineSieveMM)+", tared wet and drained"
		case rig.Passed:
			s.Title = "Weigh what went through"
		}
		b.weighing(s, after)
	}
}

func plainSieve(mm float64) string { return strings.ReplaceAll(config.SieveWords(mm), "~", " ") }
