package export

import (
	"strings"

	"quern/rig"
)

var weighingsTable = Table{Name: "weighings", What: "a mass that was put on record, with the evidence for it; corrections may name it", Columns: []Column{
	sessionColumn, factColumn, runOrNone, utcColumn, num("at_s", "s", 3, "the instant; may lie long after the session's end"), word("role", "charge, chamber, coarse, fine, passed or empty"), word("item", "of the charge: which ingredient"), word("vessel", "in what, by the register"),
	num("gross_g", "g", 3, "with the vessel"), num("tare_g", "g", 3, "the vessel"), num("net_g", "g", 3, "without it"), word("absent", "which masses are absent, and the code of the reason"),
	word("shown_unit", "unit on the device's display"), yesno("stable", "the device's own word; absent: it said nothing"), num("spread_g", "g", 3, "range of the indications in the last second"), num("slope_g_per_min", "g/min", 3, "how fast the indication moved"), num("drained_s", "s", 3, "how long it had drained"),
	yesno("typed", "typed by a person from a display"), yesno("auto", "taken by itself when the pan came to rest"), yesno("shaken", "the motor ran while it was taken"), whoColumn, word("note", "what the person had to say"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.records(func(rec *rig.Record) error {
		for _, w := range rec.Facts.Weighings {
			stable := Cell{}
			if w.Stable != rig.Unsaid {
				stable = yes(w.Stable == rig.Yes)
			}
			var none []string
			for _, x := range []struct {
				name string
				f    rig.Figure
			}{{"gross_g", w.GrossG}, {"tare_g", w.TareG}, {"net_g", w.NetG}} {
				if !x.f.OK {
					none = append(none, reason(x.name, x.f))
				}
			}
			if err := emit([]Cell{text(rec.Session), whole(w.Fact), counted(w.Run), utc(rec.Started, w.AtS), number(w.AtS), text(w.Role), text(w.Item), text(w.Vessel), figure(w.GrossG), figure(w.TareG), figure(w.NetG), text(strings.Join(none, "; ")),
				text(w.Shown), stable, figure(w.SpreadG), figure(w.SlopeGPerMin), figure(w.DrainedS), yes(w.Typed), yes(w.Auto), yes(w.Shaken), text(w.Who), text(w.Note)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var runOrNone = count("run", "number of the run in its session, from 1; absent: of the only one, or of all")

var checksTable = Table{Name: "checks", What: "an instrument or a condition compared with what it should be", Columns: []Column{
	sessionColumn, factColumn, utcColumn, num("at_s", "s", 3, "the instant"), word("kind", "sound, scale, clamp, supply or water"), word("unit_word", "unit of both values"), num("nominal", "", 6, "what it should have been"), num("found", "", 6, "what it was"), whoColumn, word("note", "what the person had to say"),
}, rows: func(in *input, emit func([]Cell) error) error {
	units := map[rig.CheckKind]string{rig.CheckSound: "dB", rig.CheckScale: "g", rig.CheckClamp: "A", rig.CheckSupply: "V", rig.CheckWater: "L/min"}
	return in.records(func(rec *rig.Record) error {
		for _, c := range rec.Facts.Checks {
			if err := emit([]Cell{text(rec.Session), whole(c.Fact), utc(rec.Started, c.AtS), number(c.AtS), text(c.Kind), text(units[c.Kind]), figure(c.Nominal), figure(c.Found), text(c.Who), text(c.Note)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var correctionsTable = Table{Name: "corrections", What: "what a person said against what was recorded or computed; of several on one target the last counts", Columns: []Column{
	sessionColumn, factColumn, runOrNone, utcColumn, word("target", "unit, procedure, kind, void, failed, weighing.NUMBER, check.NUMBER or measure.NAME"), word("old", "what stood there"), word("new", "what is to stand there"), num("u", "", 6, "standard uncertainty of a typed measure, in its unit"), whoColumn, word("why", "the reason given"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.records(func(rec *rig.Record) error {
		for _, k := range rec.Facts.Corrections {
			if err := emit([]Cell{text(rec.Session), whole(k.Fact), counted(k.Run), utc(k.At, 0), text(k.Target), text(k.Old), text(k.New), figure(k.U), text(k.Who), text(k.Why)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var remarksTable = Table{Name: "remarks", What: "what a person had to say at an instant", Columns: []Column{
	sessionColumn, factColumn, runOrNone, utcColumn, num("at_s", "s", 3, "the instant"), word("remark", "as it was said"), whoColumn,
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.records(func(rec *rig.Record) error {
		for _, m := range rec.Facts.Remarks {
			if err := emit([]Cell{text(rec.Session), whole(m.Fact), counted(m.Run), utc(rec.Started, m.AtS), number(m.AtS), text(m.Text), text(m.Who)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var handTable = Table{Name: "hand", What: "something about a unit that a person judged or looked up; of several of one name the latest counts", Columns: []Column{
	isKey(unitColumn), isKey(word("name", "the measure is hand.NAME")), utcColumn, num("value", "", 6, "as it was entered"), num("u", "", 6, "standard uncertainty, in the value's unit"), whoColumn, word("note", "what the person had to say"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, h := range in.Hand {
		if err := emit([]Cell{text(h.Unit), text(h.Name), utc(h.At, 0), number(h.Value), some(h.U), text(h.Who), text(h.Note)}); err != nil {
			return err
		}
	}
	return nil
}}
