package report

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
)

// SettingChange is a setting that is another now than in some sessions, and in how many.
type SettingChange struct {
	config.Difference
	Sessions int
}

// SettingChanges gathers the differences of sessions, each once.
func SettingChanges(sessions [][]config.Difference) []SettingChange {
	out := []SettingChange{} // none is said too
	at := map[config.Difference]int{}
	for _, all := range sessions {
		for _, d := range all {
			i, seen := at[d]
			if !seen {
				i = len(out)
				at[d], out = i, append(out, SettingChange{Difference: d})
			}
			out[i].Sessions++
		}
	}
	return out
}

// ProgramChange is another version of the program that made analyses which are kept, and of how many sessions.
type ProgramChange struct {
	Tool     string
	Sessions int
}

// AddProgram counts one more session of a version.
func AddProgram(all []ProgramChange, tool string) []ProgramChange {
	for i := range all {
		if all[i].Tool == tool {
			all[i].Sessions++
			return all
		}
	}
	return append(all, ProgramChange{tool, 1})
}

// Comparison is what became of runs that were analysed again.
type Comparison struct {
	Tool       string            // this version of the program
	Programs   []ProgramChange   // others, that made analyses which are kept
	ByProgram  []score.RunChange // from the kept analyses to this version's, under the same settings
	Settings   []SettingChange   // that differ from those stored in the sessions; nil: they are not told
	BySettings []score.RunChange // from those settings to the lab's, by this version
	Runs       int               // that were compared
}

// Changes prints what another analysis made of runs: events that came, went or moved, and measures that
// changed; first what the program did, then what settings did, and which those are.
func Changes(w io.Writer, c Comparison) error {
	var b bytes.Buffer
	if len(c.Programs) > 0 {
		b.WriteString("another version of the program made the analyses that are kept:\n")
		for _, p := range c.Programs {
			fmt.Fprintf(&b, "  %s, of %s\n", Clean(p.Tool), rig.Count(p.Sessions, "session"))
		}
		fmt.Fprintf(&b, "by %s, under the same settings: ", Clean(c.Tool))
		changedRuns(&b, c.ByProgram, c.Runs)
		b.WriteString("\n")
	}
	var rules, devices []SettingChange
	for _, d := range c.Settings {
		if d.Device {
			devices = append(devices, d)
		} else {
			rules = append(rules, d)
		}
	}
	if len(c.Settings) == 0 {
		b.WriteString("all settings of the analysis are those stored in the sessions\n")
	}
	if len(rules) > 0 {
		fmt.Fprintf(&b, "settings of the analysis that differ from those stored in the sessions: %d\n", len(rules))
		settingRows(&b, rules)
	}
	if len(devices) > 0 {
		fmt.Fprintf(&b, "what recordings were made with, and the lab says otherwise now: %d\n", len(devices))
		settingRows(&b, devices)
		b.WriteString("  Of a recording its own value is true, unless it was a mistake: under another one its figures are wrong.\n")
	}
	if len(c.Programs) > 0 {
		b.WriteString("by the lab's settings: ")
	}
	changedRuns(&b, c.BySettings, c.Runs)
	_, err := w.Write(b.Bytes())
	return err
}

func settingRows(b *bytes.Buffer, settings []SettingChange) {
	for _, d := range settings {
		fmt.Fprintf(b, "  %s, %s: %s instead of %s, in %s\n", Clean(d.Of), Clean(d.Key), Clean(d.New), Clean(d.Old), rig.Count(d.Sessions, "session"))
	}
}

func changedRuns(b *bytes.Buffer, changes []score.RunChange, of int) {
	fmt.Fprintf(b, "%d of %s changed\n", len(changes), rig.Count(of, "run"))
	for _, c := range changes {
		fmt.Fprintf(b, "\n%s, %s", Clean(c.Run), Clean(c.Unit))
		switch {
		case c.Outcome[0] == "":
			b.WriteString(": a run that was not found before")
		case c.Outcome[1] == "":
			b.WriteString(": a run that is no longer found")
		case c.Outcome[0] != c.Outcome[1]:
			fmt.Fprintf(b, ": %s instead of %s", c.Outcome[1], c.Outcome[0])
		}
		b.WriteString("\n")
		for _, e := range c.Events {
			switch {
			case !e.Old.OK:
				fmt.Fprintf(b, "  %s at %s is new\n", KindWords(e.Kind), minutes(e.New.V))
			case !e.New.OK:
				fmt.Fprintf(b, "  %s at %s is gone\n", KindWords(e.Kind), minutes(e.Old.V))
			default:
				fmt.Fprintf(b, "  %s at %s instead of %s (%s s)\n", KindWords(e.Kind), minutes(e.New.V), minutes(e.Old.V), signed(e.New.V-e.Old.V))
			}
		}
		for _, m := range c.Measures {
			if text := measureChange(m); text != "" {
				b.WriteString("  " + text + "\n")
			}
		}
	}
}

func measureChange(m score.MeasureChange) string {
	text := func(f rig.Figure) string {
		if v, ok := f.Value(); ok {
			return MeasureWords(m.Measure, v)
		}
		return "none"
	}
	a, b := text(m.Old), text(m.New)
	if a == b { // less than its last digit
		return fmt.Sprintf("%s: %s, by %.2g", m.Measure, b, math.Abs(m.New.V-m.Old.V))
	}
	return fmt.Sprintf("%s: %s instead of %s", m.Measure, b, a)
}

// ChangesJSON writes the same as one JSON object, whose changes are those by settings. Without settings (nil) it says
// nothing of them.
func ChangesJSON(w io.Writer, c Comparison) error {
	type programJSON struct {
		Tool     string `json:"tool"`
		Sessions int    `json:"sessions"`
	}
	type settingJSON struct {
		Of       string `json:"of"`
		Key      string `json:"key"`
		Old      string `json:"old"`
		New      string `json:"new"`
		Device   bool   `json:"device,omitempty"`
		Sessions int    `json:"sessions"`
	}
	out := struct {
		Programs  []programJSON  `json:"programs,omitempty"`
		ByProgram []movedRunJSON `json:"changes_by_program,omitzero"`
		Settings  []settingJSON  `json:"settings,omitzero"`
		Runs      int            `json:"runs"`
		Changes   []movedRunJSON `json:"changes"`
	}{Runs: c.Runs, Changes: movedRunsJSON(c.BySettings)}
	if len(c.Programs) > 0 {
		out.ByProgram = movedRunsJSON(c.ByProgram)
	}
	for _, p := range c.Programs {
		out.Programs = append(out.Programs, programJSON(p))
	}
	if c.Settings != nil {
		out.Settings = []settingJSON{}
	}
	for _, d := range c.Settings {
		out.Settings = append(out.Settings, settingJSON{d.Of, d.Key, d.Old, d.New, d.Device, d.Sessions})
	}
	return encode(w, out)
}

// movedRunJSON is a run that changed.
type movedRunJSON struct {
	Run      string        `json:"run"`
	Unit     string        `json:"unit"`
	Old      score.Outcome `json:"old_outcome"`
	New      score.Outcome `json:"new_outcome"`
	Events   []eventJSON   `json:"events"`
	Measures []measureJSON `json:"measures"`
}

type eventJSON struct {
	Kind rig.Kind   `json:"kind"`
	Old  rig.Figure `json:"old_s"`
	New  rig.Figure `json:"new_s"`
}

type measureJSON struct {
	Measure string   `json:"measure"`
	Old     *float64 `json:"old"`
	New     *float64 `json:"new"`
}

func movedRunsJSON(changes []score.RunChange) []movedRunJSON {
	out := []movedRunJSON{}
	for _, c := range changes {
		j := movedRunJSON{Run: c.Run, Unit: c.Unit, Old: c.Outcome[0], New: c.Outcome[1], Events: []eventJSON{}, Measures: []measureJSON{}}
		for _, e := range c.Events {
			j.Events = append(j.Events, eventJSON(e))
		}
		for _, m := range c.Measures {
			j.Measures = append(j.Measures, measureJSON{m.Measure, present(m.Old), present(m.New)})
		}
		out = append(out, j)
	}
	return out
}
