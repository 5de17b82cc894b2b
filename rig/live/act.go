package live

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode"

	"quern/config"
	"quern/rig"
)

// Asked is the body of POST /act: the act, who does it, and the keys that it takes.
type Asked struct {
	Act       Act           `json:"act"`
	Who       string        `json:"who,omitempty"`
	Text      string        `json:"text,omitempty"`
	Unit      string        `json:"unit,omitempty"`
	Procedure string        `json:"procedure,omitempty"`
	Role      rig.Role      `json:"role,omitempty"`
	Item      string        `json:"item,omitempty"`
	Vessel    string        `json:"vessel,omitempty"`
	TareG     rig.Figure    `json:"tare_g,omitzero"`
	Note      string        `json:"note,omitempty"`
	Force     bool          `json:"force,omitempty"`
	Kind      rig.CheckKind `json:"kind,omitempty"`
	Nominal   rig.Figure    `json:"nominal,omitzero"`
	Found     rig.Figure    `json:"found,omitzero"`
	Cause     string        `json:"cause,omitempty"`
	Target    string        `json:"target,omitempty"`
	Old       string        `json:"old,omitempty"`
	New       string        `json:"new,omitempty"`
	U         rig.Figure    `json:"u,omitzero"`
	Why       string        `json:"why,omitempty"`
	Run       int           `json:"run,omitempty"`
}

// keysOf lists the keys that an act takes beside act and who.
func keysOf(a Act) []string {
	switch a {
	case Mark:
		return []string{"text"}
	case End, Tare, Zero:
		return []string{"force"}
	case Choose:
		return []string{"unit", "procedure"}
	case Weigh:
		return []string{"role", "item", "vessel", "tare_g", "note", "force"}
	case ToWeigh:
		return []string{"role", "item", "vessel", "tare_g", "force"}
	case Undo:
		return []string{"why"}
	case Check:
		return []string{"kind", "nominal", "found", "note"}
	case Void:
		return []string{"cause", "why", "run"}
	case Correct:
		return []string{"target", "old", "new", "u", "why", "run"}
	}
	return nil
}

// readAsked reads a body strictly: known keys, those of its act, once and nothing behind them.
func readAsked(r io.Reader) (Asked, error) {
	var a Asked
	text, err := io.ReadAll(r)
	if err != nil {
		return a, fmt.Errorf("the body is no act: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&a); err != nil {
		return a, fmt.Errorf("the body is no act: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return a, errors.New("the body is no act: something stands behind it")
	}
	var keys map[string]json.RawMessage
	if err := json.Unmarshal(text, &keys); err != nil {
		return a, fmt.Errorf("the body is no act: %w", err)
	}
	if slices.Contains(Acts, a.Act) {
		takes := append([]string{"act", "who"}, keysOf(a.Act)...)
		for k := range keys {
			if !slices.Contains(takes, k) {
				return a, fmt.Errorf("found key %q, expected of act %s only %s", k, a.Act, strings.Join(takes, ", "))
			}
		}
	}
	return a, a.tidy()
}

// tidy puts every text on one line, and refuses what is no text, no code, too long or too large.
func (a *Asked) tidy() error {
	for _, f := range []struct {
		name    string
		text    *string
		longest int
	}{{"text", &a.Text, rig.LongestText}, {"note", &a.Note, rig.LongestText}, {"why", &a.Why, rig.LongestText}, {"new", &a.New, rig.LongestText}, {"old", &a.Old, rig.LongestText},
		{"who", &a.Who, rig.LongestWord}, {"cause", &a.Cause, rig.LongestWord}, {"target", &a.Target, rig.LongestWord}} {
		*f.text = strings.Join(strings.Fields(*f.text), " ")
		if len(*f.text) > f.longest {
			return fmt.Errorf("found %d bytes of %s, expected at most %d", len(*f.text), f.name, f.longest)
		}
		if strings.ContainsFunc(*f.text, func(r rune) bool { return unicode.IsControl(r) || r == unicode.ReplacementChar }) {
			return fmt.Errorf("found what is no text in %s, expected one line of it", f.name)
		}
	}
	for _, f := range []struct{ name, id string }{{"role", string(a.Role)}, {"item", a.Item}, {"vessel", a.Vessel}, {"kind", string(a.Kind)}} {
		if f.id != "" && !rig.IsID(f.id) {
			return fmt.Errorf("found %s %.80q, expected %s", f.name, f.id, rig.IDWords)
		}
	}
	for _, f := range []struct {
		name      string
		v         rig.Figure
		low, high float64
	}{{"tare_g", a.TareG, 0, rig.MostMassG}, {"nominal", a.Nominal, -rig.MostNumber, rig.MostNumber}, {"found", a.Found, -rig.MostNumber, rig.MostNumber}, {"u", a.U, 0, rig.MostNumber}} {
		if f.v.Why != "" || f.v.OK && !(f.v.V >= f.low && f.v.V <= f.high) {
			return fmt.Errorf("found %s %g, expected a number from %g to %g", f.name, f.v.V, f.low, f.high)
		}
	}
	if a.Run < 0 || a.Run > rig.MostRun {
		return fmt.Errorf("found run %d, expected 1 to %d", a.Run, rig.MostRun)
	}
	if a.Act == Mark && a.Text == "" {
		return fmt.Errorf("a mark needs a text of 1 to %d bytes", rig.LongestText)
	}
	return nil
}

// ask is what the engine is asked, but for the settings of a choice.
func (a Asked) ask() Ask {
	out := Ask{Act: a.Act, Who: a.Who, Text: a.Text, Force: a.Force,
		Expect:     Expect{Role: a.Role, Item: a.Item, Vessel: a.Vessel, TareG: a.TareG, Who: a.Who},
		Check:      rig.Check{Kind: a.Kind, Nominal: a.Nominal, Found: a.Found, Who: a.Who, Note: a.Note},
		Correction: rig.Correction{Run: a.Run, Target: a.Target, Old: a.Old, New: a.New, U: a.U, Who: a.Who, Why: a.Why}}
	switch a.Act {
	case Weigh:
		out.Text = a.Note
	case Undo:
		out.Text = a.Why
	case Void:
		out.Correction.Target, out.Correction.New = "void", a.Cause
	}
	return out
}

// act answers POST /act: 200 with what came of it, 400 for what is no such act, 409 for what stands
// against it.
func (e *Engine) act(lab *config.Lab, w http.ResponseWriter, r *http.Request) {
	a, err := readAsked(r.Body)
	if err == nil && a.Act == Correct && lab != nil {
		err = lab.Names(a.Target, a.New)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	a.by(r.Context())
	ask := a.ask()
	if a.Act == Choose {
		if lab == nil {
			http.Error(w, "the simulated bench chooses its unit itself", http.StatusConflict)
			return
		}
		now := e.Now()
		if a.Unit == "" {
			a.Unit = now.Unit
		}
		if a.Procedure == "" {
			a.Procedure = now.Procedure
		}
		if ask.Setup, err = lab.Setup(a.Unit, a.Procedure); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
	}
	ctx, cancel := context.WithTimeout(r.Context(), 5*time.Second)
	defer cancel()
	got, err := e.Ask(ctx, ask)
	if err != nil {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	got.write(w)
}

// write writes what came of an act: one JSON object, or done.
func (a Answer) write(w http.ResponseWriter) {
	var body any
	switch {
	case a.Weighing != nil:
		body = a.Weighing
	case a.Expect != nil:
		body = a.Expect
	case a.Drain != nil:
		body = a.Drain
	case a.OnRecord != nil:
		body = a.OnRecord
	default:
		fmt.Fprintln(w, "done")
		return
	}
	w.Header().Set("Content-Type", "application/json")
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(body) // whoever has gone does not need it
}
