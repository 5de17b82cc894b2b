package report

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"quern/rig"
	"quern/rig/score"
)

// Changes prints what another analysis made of runs: events that came, went or moved, and measures that
// changed; of is how many runs were compared.
func Changes(w io.Writer, changes []score.RunChange, of int) error {
	var b bytes.Buffer
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

// ChangesJSON writes the same as one JSON object.
func ChangesJSON(w io.Writer, changes []score.RunChange, of int) error {
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
		Runs    int          `json:"runs"`
		Changes []changeJSON `json:"changes"`
	}{of, []changeJSON{}}
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
