package pages

import (
	"encoding/json"
	"net/http"
	"time"

	"quern/rig/live/gate"
)

// pairingPages let other machines in.
func (s *Site) pairingPages() []page {
	return []page{
		open("GET /pair", func(w http.ResponseWriter, r *http.Request) { s.pairing(w, r, http.StatusOK, "") }),
		open("POST /pair", s.pair),
		open("POST /pair/leave", s.leave),
		console("POST /pair/new", s.newCode),
		console("POST /pair/forget", s.forget),
	}
}

type pairView struct {
	Wrong   string // what was wrong with the last try
	Name    string
	Waiting bool // a code holds
}

func (s *Site) pairing(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	s.render(w, r, status, "pair.html", View{Title: "Pair this device", Name: "pair",
		Body: pairView{Wrong: wrong, Name: r.PostFormValue("name"), Waiting: s.opts.Gate.Waiting()}})
}

func (s *Site) pair(w http.ResponseWriter, r *http.Request) {
	if err := s.opts.Gate.Pair(w, r, r.PostFormValue("code"), r.PostFormValue("name")); err != nil {
		s.pairing(w, r, gate.Status(err), err.Error())
		return
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

func (s *Site) leave(w http.ResponseWriter, r *http.Request) {
	if err := s.opts.Gate.Leave(w, r); err != nil {
		s.opts.Log.Error("pairings cannot be written: what was forgotten is back after a restart", "err", err)
	}
	http.Redirect(w, r, "/pair", http.StatusSeeOther)
}

// Code is the answer of POST /pair/new.
type Code struct {
	Code  string    `json:"code"`
	Until time.Time `json:"until"`
}

func (s *Site) newCode(w http.ResponseWriter, _ *http.Request) {
	code, until := s.opts.Gate.Code()
	answer(w, Code{code, until})
}

// Forget is the body of POST /pair/forget: whose pairings end; "": all.
type Forget struct {
	Who string `json:"who"`
}

// Forgotten is its answer.
type Forgotten struct {
	Pairings int `json:"pairings"`
}

func (s *Site) forget(w http.ResponseWriter, r *http.Request) {
	var f Forget
	if err := json.NewDecoder(r.Body).Decode(&f); err != nil {
		s.refuse(w, r, http.StatusBadRequest, "the body says whose pairings end: "+err.Error())
		return
	}
	n, err := s.opts.Gate.Forget(f.Who)
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, "forgotten until the next restart only: "+err.Error())
		return
	}
	answer(w, Forgotten{n})
}

// answer answers with one JSON object.
func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(v) // whoever has gone does not need it
}
