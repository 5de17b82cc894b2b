package score

import (
	"fmt"
	"strings"

	"quern/config"
	"quern/rig"
)

// Typed says what somebody who has just typed a weighing in should look at again, while what was weighed still exists;
// set is the session's, on record is what it held before. Nothing of it keeps the weighing from counting.
func Typed(set config.Setup, onRecord []rig.Weighing, w rig.Weighing) []string {
	b := &balance{bench: &set.Bench, of: &set.Procedure}
	tares := map[string]rig.Figure{}
	for i := range onRecord {
		if x := &onRecord[i]; x.Role == rig.Empty {
			tares[x.Vessel] = netOf(b.bench, x, nil).G
		}
	}
	net := netOf(b.bench, &w, tares).G
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	switch {
	case net.Why == "no-tare":
		say("%s stands in no register that the session knows, and was not weighed empty: give --tare, or put it into bench.toml, or this gives no net mass", w.Vessel)
	case w.GrossG.OK && w.Vessel == "" && !w.TareG.OK && w.Role != rig.Empty:
		say("neither --tare nor --vessel was given: %g g count as they are, as if the display had been set to zero with the vessel on it", w.GrossG.V)
	}
	switch {
	case !net.OK || w.Role == rig.Empty:
	case net.V < 0:
		say("%.4g g net is less than nothing: is it that vessel?", net.V)
	case w.Role == rig.Charge:
		for _, it := range set.Procedure.Items {
			if it.Name == w.Item && (net.V > 2*it.MassG || net.V < it.MassG/2) {
				say("%.4g g net of %s, where %g ±%g g are wanted: if that was a slip, weigh it again; the last one counts", net.V, strings.ReplaceAll(it.Name, "-", " "), it.MassG, it.ToleranceG)
			}
		}
	default:
		if in := b.fed(onRecord, tares); in > 0 && net.V > set.Procedure.After.OutputHigh*in {
			say("%.4g g net is more than %.0f %% of the %.4g g that were fed: if that was a slip, weigh it again; the last one counts", net.V, 100*set.Procedure.After.OutputHigh, in)
		}
	}
	return out
}

// fed is what was weighed in so far, or what the procedure asks for where nothing was, g.
func (b *balance) fed(onRecord []rig.Weighing, tares map[string]rig.Figure) float64 {
	items := map[string]float64{}
	for i := range onRecord {
		w := &onRecord[i]
		if net := netOf(b.bench, w, tares).G; w.Role == rig.Charge && net.OK {
			items[w.Item] = net.V
		}
	}
	if whole := items[""]; whole > 0 {
		return whole
	}
	if len(items) == 0 {
		return b.of.Charge()
	}
	sum := 0.0
	for _, g := range items {
		sum += g
	}
	return sum
}
