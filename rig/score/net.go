package score

import (
	"strconv"

	"quern/config"
	"quern/rig"
)

// candidate is a weighing with what corrections made of it.
type candidate struct {
	*rig.Weighing
	as        Net // before they did
	net       rig.Figure
	tare      string // where it came from
	corrected bool
	withdrawn bool
	fixes     []rig.Correction
}

// candidates returns the weighings of a session after their corrections, of which the last counts.
func candidates(bench *config.Bench, rec *rig.Record) []candidate {
	fixes := weighingCorrections(rec)
	tares := map[string]rig.Figure{} // of vessels weighed empty, up to here
	out := make([]candidate, 0, len(rec.Facts.Weighings))
	for i := range rec.Facts.Weighings {
		w := &rec.Facts.Weighings[i]
		c := candidate{Weighing: w, as: netOf(bench, w, tares), fixes: fixes[w.Fact]}
		c.net, c.tare = c.as.G, c.as.words(w.Vessel)
		if n := len(c.fixes); n > 0 {
			k := c.fixes[n-1]
			if v, err := strconv.ParseFloat(k.New, 64); err == nil {
				c.net, c.tare, c.corrected = rig.Fig(v), "correction "+strconv.Itoa(k.Fact), true
			}
			c.withdrawn = k.New == "withdrawn"
		}
		if w.Role == rig.Empty && !c.withdrawn {
			tares[w.Vessel] = c.net
		}
		out = append(out, c)
	}
	return out
}

// belongs says to which run of a session a weighing belongs: the one it names; otherwise a charge to the first run that
// ends after it, leftovers to the last that began before it. There are no leftovers before the first run: a clock that says
// so was wrong, and they were weighed after all.
func belongs(w *rig.Weighing, runs []*Run) int {
	if w.Run > 0 || len(runs) == 1 {
		return max(w.Run, 1)
	}
	of := 1
	if w.Role != rig.Charge {
		of = len(runs)
	}
	for _, r := range runs {
		switch {
		case r.run == nil:
		case w.Role == rig.Charge && r.run.EndS.OK && r.run.EndS.V < w.AtS:
			of = min(r.N+1, len(runs))
		case w.Role != rig.Charge && r.run.StartS.OK && r.run.StartS.V <= w.AtS:
			of = r.N
		}
	}
	return of
}

// Net is what a weighing gives before anybody corrected it.
type Net struct {
	G     rig.Figure
	TareG rig.Figure // what was taken off; absent where that was nothing, or the net mass itself was given
	From  string     // where it is from
}

// Nets returns what each weighing of a session gives on a bench.
func Nets(bench *config.Bench, rec *rig.Record) []Net {
	var out []Net
	for _, c := range candidates(bench, rec) {
		out = append(out, c.as)
	}
	return out
}

// Nets returns what each weighing of the run's session gives under the settings by which it is scored, in their order.
func (r *Run) Nets() []Net { return Nets(&r.lab.Bench, r.Record) }

func (n Net) words(vessel string) string {
	switch {
	case !n.TareG.OK:
		return n.From
	case n.From == tareGiven:
		return "tare " + digits(n.TareG.V) + " g"
	}
	return vessel + ", " + digits(n.TareG.V) + " g " + n.From
}

const tareGiven = "as given with it"

// netOf takes the net mass as it was given, or the gross mass less the tare given with it, less the same vessel weighed
// empty before, or less what the register says of the vessel.
func netOf(bench *config.Bench, w *rig.Weighing, tares map[string]rig.Figure) Net {
	less := func(tareG float64, from string) Net {
		return Net{G: rig.Fig(w.GrossG.V - tareG), TareG: rig.Fig(tareG), From: from}
	}
	switch t := tares[w.Vessel]; {
	case w.NetG.OK:
		return Net{G: w.NetG, From: "as given"}
	case !w.GrossG.OK:
		return Net{G: rig.Absent("no-mass")}
	case w.Role == rig.Empty:
		return Net{G: w.GrossG, From: "empty"}
	case w.TareG.OK:
		return less(w.TareG.V, tareGiven)
	case t.OK:
		return less(t.V, "when weighed empty")
	}
	for _, v := range bench.Vessels {
		switch {
		case v.ID != w.Vessel:
		case v.WetG > 0 && w.Role != rig.Charge:
			return less(v.WetG, "by the register, wet")
		default:
			return less(v.DryG, "by the register, dry")
		}
	}
	if w.Vessel == "" {
		return Net{G: w.GrossG, From: "no vessel"}
	}
	return Net{G: rig.Absent("no-tare")}
}

// last returns the weighing that counts of a role and item: the last, and a shaken one only if there
// is no other. Without one, its figure says why.
func last(own []candidate, role rig.Role, item string) (candidate, bool) {
	best := -1
	for i := range own {
		c := &own[i]
		switch {
		case c.Role != role || c.Item != item:
		case best < 0 || !own[best].net.OK, c.net.OK && (own[best].Shaken || !c.Shaken):
			best = i
		}
	}
	if best < 0 {
		return candidate{Weighing: &rig.Weighing{}, net: rig.Absent("not-weighed")}, false
	}
	return own[best], own[best].net.OK
}
