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

// Changes prints what another analysis made of runs: events that came, went or moved, and measures that
// changed; of is how many runs were compared. Before that it prints the settings that are not those of the sessions.
func Changes(w io.Writer, settings []SettingChange, changes []score.RunChange, of int) error {
	var b bytes.Buffer
	if len(settings) == 0 {
		b.WriteString("all settings of the analysis are those stored in the sessions\n")
	} else {
		fmt.Fprintf(&b, "settings of the analysis that differ from those stored in the sessions: %d\n", len(settings))
		for _, d := range settings {
			fmt.Fprintf(&b, "  %s, %s: %s instead of %s, in %s\n", Clean(d.Of), Clean(d.Key), Clean(d.New), Clean(d.Old), rig.Count(d.Sessions, "session"))
		}
	}
	fmt.Fprintf(&b, "%d of %s changed\n", len(changes), rig.Count(of, "run"))
	for _, c := range changes {
		fmt.Fprintf(&b, "\n%s, %s", Clean(c.Run), Clean(c.Unit))
		switch {
		case c.Outcome[0] == "":
			b.WriteString(": a run that was not found before")
		case c.Outcome[1] == "":
			b.WriteString(": a run that is no longer found")
		case c.Outcome[0] != c.Outcome[1]:
			fmt.Fprintf(&b, ": %s instead of %s", c.Outcome[1], c.Outcome[0])
		}
		b.WriteString("\n")
		for _, e := range c.Events {
			switch {
			case !e.Old.OK:
				fmt.Fprintf(&b, "  %s at %s is new\n", KindWords(e.Kind), minutes(e.New.V))
			case !e.New.OK:
				fmt.Fprintf(&b, "  %s at %s is gone\n", KindWords(e.Kind), minutes(e.Old.V))
			default:
				fmt.Fprintf(&b, "  %s at %s instead of %s (%s s)\n", KindWords(e.Kind), minutes(e.New.V), minutes(e.Old.V), signed(e.New.V-e.Old.V))
			}
		}
		for _, m := range c.Measures {
			if text := measureChange(m); text != "" {
				b.WriteString("  " + text + "\n")
			}
		}
	}
	_, err := w.Write(b.Bytes())
	return err
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

// ChangesJSON writes the same as one JSON object. Without settings (nil) it says nothing of them.
func ChangesJSON(w io.Writer, settings []SettingChange, changes []score.RunChange, of int) error {
	type settingJSON struct {
		Of       string `json:"of"`
		Key      string `json:"key"`
		Old      string `json:"old"`
		New      string `json:"new"`
		Sessions int    `json:"sessions"`
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
	type changeJSON struct {
		Run      string        `json:"run"`
		Unit     string        `json:"unit"`
		Old      score.Outcome `json:"old_outcome"`
		New      score.Outcome `json:"new_outcome"`
		Events   []eventJSON   `json:"events"`
		Measures []measureJSON `json:"measures"`
	}
	out := struct {
		Settings []settingJSON `json:"settings,omitzero"`
		Runs     int           `json:"runs"`
		Changes  []changeJSON  `json:"changes"`
	}{nil, of, []changeJSON{}}
	if settings != nil {
		out.Settings = []settingJSON{}
	}
	for _, d := range settings {
		out.Settings = append(out.Settings, settingJSON{d.Of, d.Key, d.Old, d.New, d.Sessions})
	}
	for _, c := range changes {
		j := changeJSON{Run: c.Run, Unit: c.Unit, Old: c.Outcome[0], New: c.Outcome[1], Events: []eventJSON{}, Measures: []measureJSON{}}
		for _, e := range c.Events {
			j.Events = append(j.Events, eventJSON(e))
		}
		for _, m := range c.Measures {
			j.Measures = append(j.Measures, measureJSON{m.Measure, present(m.Old), present(m.New)})
		}
		out.Changes = append(out.Changes, j)
	}
	return encode(w, out)
}
