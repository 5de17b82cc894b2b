package config

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// StarterFile is a file of a lab that somebody begins with.
type StarterFile struct {
	Name string // within the lab folder
	Text string
}

// Limits of the number of units that a starter lab may have.
const (
	StarterUnitsMin = 1
	StarterUnitsMax = 26
)

// Starter returns the files of a lab to begin with: a bench, invented units, a procedure and a scorecard, every key with
// its reason. Keys that are left at their defaults stand behind a #, so that the lab means the same without them.
func Starter(units int) []StarterFile {
	units = min(max(units, StarterUnitsMin), StarterUnitsMax)
	return []StarterFile{
		{"bench.toml", starterBench()}, {"units.toml", starterUnits(units)},
		{"procedures/mixed.toml", starterProcedure()}, {"scorecard.toml", starterScorecard()},
	}
}

// starter writes one file.
type starter struct {
	b    strings.Builder
	told map[string]bool // keys whose reason was given
}

const starterRule = "A key behind a # has the value that stands there anyway: take the # away to set another. One without a value is absent."

func newStarter(head ...string) *starter {
	s := &starter{told: map[string]bool{}}
	for _, h := range append(head, starterRule) {
		s.comment(h)
	}
	return s
}

// comment writes a paragraph as comments.
func (s *starter) comment(text string) {
	const width = 110 // columns
	line := "#"
	for _, word := range strings.Fields(text) {
		if len(line)+1+len(word) > width {
			s.b.WriteString(line + "\n")
			line = "#"
		}
		line += " " + word
	}
	s.b.WriteString(line + "\n")
}

// table writes a header, then the keys of the struct that of is: those listed in live, and all others behind a #.
func (s *starter) table(header, path string, of any, live ...string) {
	if header != "" {
		fmt.Fprintf(&s.b, "\n%s\n", header)
	}
	v := reflect.ValueOf(of)
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Type.Kind() == reflect.Struct || f.Type.Kind() == reflect.Slice {
			continue
		}
		key := f.Tag.Get("toml")
		if _, has := f.Tag.Lookup("default"); !has && f.Tag.Get("optional") == "" && !slices.Contains(live, key) {
			live = append(live, key) // required
		}
		if full := path + "." + key; !s.told[full] {
			s.told[full] = true
			s.comment(reason(f.Tag))
		} else if !slices.Contains(live, key) {
			continue // shown at the first of its kind
		}
		switch {
		case slices.Contains(live, key):
			fmt.Fprintf(&s.b, "%s = %s\n", key, literal(v.Field(i)))
		case absent(f.Tag, v.Field(i)):
			fmt.Fprintf(&s.b, "#%s =\n", key)
		default:
			fmt.Fprintf(&s.b, "#%s = %s\n", key, literal(v.Field(i)))
		}
	}
}

// reason is why a key is there, with its unit and the words that it may have.
func reason(tag reflect.StructTag) string {
	text := tag.Get("why")
	if u := tag.Get("unit"); u != "" {
		text += " (" + u + ")"
	}
	if r := tag.Get("range"); strings.Contains(r, "|") {
		text += "; one of " + strings.ReplaceAll(r, "|", ", ")
	}
	return text
}

func starterBench() string {
	b := DefaultBench()
	b.Name = "my-bench"
	s := newStarter("What stands on the bench. Change what is not so; every key that may stand here, thresholds and devices too, is listed with its reason by: quern check FOLDER")
	s.b.WriteByte('\n')
	s.table("", "bench", b, "name")
	s.table("[supply]", "supply", b.Supply, "voltage_v", "frequency_hz")
	s.table("[microphone]", "microphone", b.Microphone, "full_scale_db")
	s.table("[clamp]", "clamp", b.Clamp, "full_scale_a")
	s.table("[scale]", "scale", b.Scale, "division_g")
	v := defaults[Vessel]()
	v.ID, v.DryG = "bowl-1", 412
	s.table("[[vessel]]", "vessel", v)
	s.b.WriteByte('\n')
	s.comment("For a bench that measures by itself: quern devices prints the lines of what is plugged in, to be put here. Recordings need none.")
	return s.b.String()
}

// starterMotors are nameplates of the invented units in turn: rated and locked-rotor current, A.
var starterMotors = []struct {
	motor         string
	rated, locked float64
}{{"induction", 6, 33}, {"induction", 4.2, 24}, {"permanent-magnet", 3.5, 0}, {"universal", 5, 20}}

func starterUnits(n int) string {
	s := newStarter("What is compared: a [[unit]] each. These are invented, no such appliance exists: put your own in their place, with the currents of the nameplate.")
	for i := range n {
		u := DefaultUnit("unit-" + string(rune('a'+i)))
		m := starterMotors[i%len(starterMotors)]
		u.RatedCurrentA, u.LockedRotorA, u.Motor = m.rated, m.locked, m.motor
		live := []string{"motor"}
		if m.locked > 0 {
			live = append(live, "locked_rotor_a")
		}
		s.table("[[unit]]", "unit", u, live...)
	}
	return s.b.String()
}

func starterProcedure() string {
	p := DefaultProcedure("mixed")
	p.Title = "Mixed load"
	s := newStarter("How a test is done: what is fed, how long it may take, what is weighed afterwards, what must be so. The load is invented.",
		"Before anybody reaches into the chamber: pull the plug and keep it in hand. Off at the switch is not isolated.")
	s.b.WriteByte('\n')
	s.table("", "procedure", p, "title", "time_limit_s", "clock", "repeats")
	for _, it := range []Item{
		{Name: "carrot", MassG: 500, ToleranceG: 10, Cut: "slices of 20 mm", Preparation: "raw, 15 to 20 degC"},
		{Name: "bread-crust", MassG: 300, ToleranceG: 5, Cut: "pieces of 30 mm", Preparation: "one day old"},
	} {
		s.table("[[item]]", "item", it, "tolerance_g", "cut", "preparation")
	}
	s.table("[water]", "water", p.Water, "flow_l_per_min", "flush_s")
	s.table("[after]", "after", p.After, "chamber", "drain_s")
	s.table("[checks]", "checks", p.Checks, "background_s")
	for _, g := range []struct {
		measure string
		limit   float64
		note    string
	}{{"run_time_s", p.TimeLimitS, "a run at the limit was stopped, not finished"}, {"left_share", 0.05, "what stays in the chamber has to be taken out by hand"}} {
		gate := defaults[Gate]()
		gate.Measure, gate.Limit, gate.Note = g.measure, g.limit, g.note
		s.table("[[gate]]", "gate", gate, "note")
	}
	return s.b.String()
}

func starterScorecard() string {
	c := defaults[Scorecard]()
	c.Title = "My comparison"
	s := newStarter("What earns points from 0 to 10, and how much of the whole. May stay as it is until you score.")
	s.b.WriteByte('\n')
	s.table("", "scorecard", c, "title")
	t := defaults[Test]()
	t.ID, t.Title, t.Procedure = "mixed-load", "Mixed load", "mixed"
	s.table("[[test]]", "test", t, "title", "procedure")
	for _, k := range []struct {
		id, measure, curve string
		weight             float64
	}{
		{"time", "run_time_s", "{ at = 40.0, points = 10.0 }, { at = 240.0, points = 0.0 }", 1},
		{"left", "left_share", "{ at = 0.0, points = 10.0 }, { at = 0.05, points = 0.0 }", 2},
		{"noise", "laeq_db", "{ at = 60.0, points = 10.0 }, { at = 90.0, points = 0.0 }", 1},
	} {
		x := defaults[Criterion]()
		x.ID, x.Test, x.Measure, x.Weight = k.id, t.ID, k.measure, k.weight
		s.table("[[criterion]]", "criterion", x, "weight")
		if !s.told["curve"] {
			s.told["curve"] = true
			s.comment("the points that are given, the measure rising; in between they lie on a line")
		}
		fmt.Fprintf(&s.b, "curve = [%s]\n", k.curve)
	}
	return s.b.String()
}
