package pages

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
	"quern/rig/live/gate"
	"quern/rig/live/guide"
)

// done is what came of a button.
type done struct {
	Say  string `json:"say"`
	Undo string `json:"undo"`
}

// do answers a button: a form whose field act says what is wanted. Everything the daemon keeps goes through
// POST /act; what is only said of a step stays here. A form comes back to the page, a script gets JSON.
func (s *Site) do(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, http.StatusBadRequest, "the form cannot be read")
		return
	}
	wantsJSON := strings.Contains(r.Header.Get("Accept"), "application/json")
	say, err := s.button(r)
	switch {
	case err != nil && wantsJSON:
		http.Error(w, err.Error(), http.StatusConflict)
	case err != nil:
		s.showOperator(w, r, http.StatusConflict, err.Error())
	case wantsJSON:
		w.Header().Set("Content-Type", "application/json")
		d := done{Say: say}
		if u, ok := s.bench.last(); ok {
			d.Undo = u.what
		}
		_ = json.NewEncoder(w).Encode(d) // whoever has gone does not need it
	default:
		http.Redirect(w, r, within(r.PostFormValue("back")), http.StatusSeeOther)
	}
}

// button does what a button says, and returns what came of it in a few words.
func (s *Site) button(r *http.Request) (string, error) {
	field := func(name string) string { return strings.Join(strings.Fields(r.PostFormValue(name)), " ") }
	switch act := field("act"); act {
	case "done", "skip":
		return s.sayStep(field("step"), act)
	case "undo":
		return s.takeBack(r, field("what"))
	case "mark":
		text := field("text")
		if text == "" {
			text = "mark"
		}
		return "marked: " + text, s.mark(r, text)
	case "inspect":
		return s.inspect(r, field("now"))
	case "slate":
		return "slate", s.mark(r, rig.SlateText+field("text"))
	case "abort":
		return s.abort(r, field("cause"), field("why"))
	case "failed":
		return s.failed(r, field("why"))
	case "weigh", "expect":
		return s.weigh(r, act, field)
	case "drain":
		if _, err := s.ask(r, map[string]any{"act": "drain"}); err != nil {
			return "", err
		}
		s.bench.did(markUndo("drain timer started"))
		return "it drains from now", nil
	case "check":
		return s.check(r, field)
	case "begin":
		return s.bench.turn(func() (string, error) {
			_, err := s.ask(r, map[string]any{"act": act})
			return "a session is open", err
		})
	case "end":
		return s.bench.turn(func() (string, error) { return s.end(r) })
	case "choose":
		return s.choose(r, field("unit"), field("procedure"))
	default:
		return "", fmt.Errorf("found act %q, expected one of the page's buttons", act)
	}
}

// ask hands an act to the engine as POST /act does, with all its checks, and returns the answer.
func (s *Site) ask(r *http.Request, asked map[string]any) ([]byte, error) {
	body, err := json.Marshal(asked)
	if err != nil {
		return nil, err
	}
	inner, err := http.NewRequestWithContext(r.Context(), http.MethodPost, "/act", bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	inner.Header.Set("Content-Type", "application/json")
	inner.Host, inner.RemoteAddr = r.Host, r.RemoteAddr
	a := answered{header: http.Header{}}
	s.act(&a, inner)
	if a.status >= 400 {
		return nil, errors.New(strings.TrimSpace(a.body.String()))
	}
	return a.body.Bytes(), nil
}

// answered keeps what a handler answers.
type answered struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (a *answered) Header() http.Header         { return a.header }
func (a *answered) WriteHeader(status int)      { a.status = status }
func (a *answered) Write(b []byte) (int, error) { return a.body.Write(b) }

// mark notes a text at this instant.
func (s *Site) mark(r *http.Request, text string) error {
	if _, err := s.ask(r, map[string]any{"act": "mark", "text": text}); err != nil {
		return err
	}
	s.bench.did(markUndo(text))
	return nil
}

func cutText(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// inspect marks that the motor was stopped to look into the chamber, and that this is over; now is what the screen showed
// when it was pressed, "" if that is not known. Pressed on two screens it is one press.
func (s *Site) inspect(r *http.Request, now string) (string, error) {
	s.bench.one.Lock()
	defer s.bench.one.Unlock()
	s.bench.mu.Lock()
	begins := !s.bench.inspecting
	s.bench.mu.Unlock()
	text, other := "inspection ends", "inspection begins"
	if begins {
		text, other = other, text
	}
	if now == strconv.FormatBool(begins) {
		return other + ", as another screen has said already", nil
	}
	if err := s.mark(r, text); err != nil {
		return "", err
	}
	s.bench.mu.Lock()
	s.bench.inspecting = begins
	s.bench.undos[len(s.bench.undos)-1].then = func() { s.bench.inspecting = !begins }
	s.bench.mu.Unlock()
	return text, nil
}

// end closes the session. While the motor runs it takes a second press, for the first may be a slip that would cut the
// run in two.
func (s *Site) end(r *http.Request) (string, error) {
	asked := map[string]any{"act": "end"}
	if flowing(s.opts.Engine.Now().State) {
		host, _, _ := net.SplitHostPort(r.RemoteAddr)
		if !s.bench.insists(gate.Who(r.Context()).Name + " at " + host) {
			return "", errors.New("the motor runs: switch it off first; to close the session in the middle of the run, press End again")
		}
		asked["force"] = true
	}
	_, err := s.ask(r, asked)
	return "the session is closed", err
}

// abort makes a run void at once; the reason may follow, for the last one counts.
func (s *Site) abort(r *http.Request, cause, why string) (string, error) {
	first := cause == "" && why == ""
	if cause == "" {
		cause = "operator"
	}
	if why == "" {
		why = "aborted; no reason given yet"
	}
	asked := map[string]any{"act": "void", "cause": cause, "why": why}
	if run := s.opts.Engine.Now().Run; run > 0 {
		asked["run"] = run
	}
	if _, err := s.ask(r, asked); err != nil {
		return "", err
	}
	back := map[string]any{"act": "void", "cause": "no", "why": "taken back at the bench"}
	if run, ok := asked["run"]; ok {
		back["run"] = run
	}
	s.bench.did(undo{what: "abort", asked: back})
	if first {
		return "the run is void: say why", nil
	}
	return "the run is void: " + why, nil
}

// failed notes that the unit could not do it, which is a result and no void.
func (s *Site) failed(r *http.Request, why string) (string, error) {
	if why == "" {
		return "", errors.New("found no reason, expected what the unit could not do")
	}
	asked := map[string]any{"act": "correct", "target": "failed", "new": why, "why": why}
	back := map[string]any{"act": "correct", "target": "failed", "new": "no", "why": "taken back at the bench"}
	if run := s.opts.Engine.Now().Run; run > 0 {
		asked["run"], back["run"] = run, run
	}
	if _, err := s.ask(r, asked); err != nil {
		return "", err
	}
	s.bench.did(undo{what: "unit failed", asked: back})
	// The press of abort had made it void; that the unit failed is the reason instead.
	void := map[string]any{"act": "void", "cause": "no", "why": "the unit failed: " + cutText(why, 800)}
	if run, ok := asked["run"]; ok {
		void["run"] = run
	}
	_, err := s.ask(r, void)
	return "the unit failed: " + why, err
}

func (s *Site) choose(r *http.Request, unit, procedure string) (string, error) {
	was := s.opts.Engine.Now()
	asked := map[string]any{"act": "choose"}
	if unit != "" {
		asked["unit"] = unit
	}
	if procedure != "" {
		asked["procedure"] = procedure
	}
	if _, err := s.ask(r, asked); err != nil {
		return "", err
	}
	s.bench.did(undo{what: "choice of unit and procedure", asked: map[string]any{"act": "choose", "unit": was.Unit, "procedure": was.Procedure}})
	is := s.opts.Engine.Now()
	return fmt.Sprintf("chosen: %s, %s", is.Unit, is.Procedure), nil
}

// sayStep notes that a step was done or left out.
func (s *Site) sayStep(id, act string) (string, error) {
	now := s.opts.Engine.Now()
	p := s.procedure(now)
	g := guide.Steps(p, s.bench.observe(now, &p))
	i := slices.IndexFunc(g.Steps, func(x guide.Step) bool { return x.ID == id })
	if i < 0 {
		return "", fmt.Errorf("found step %.60q, expected one of the procedure's", id)
	}
	st, words := guide.Done, "done: "
	if act == "skip" {
		st, words = guide.Skipped, "left out: "
	}
	s.bench.say(id, words+strings.ToLower(g.Steps[i].Title[:1])+g.Steps[i].Title[1:], st)
	return words + g.Steps[i].Title, nil
}
