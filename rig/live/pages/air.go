package pages

import (
	"net/http"
	"slices"
	"strings"

	"quern/rig/live"
)

// airPages is the page that is filmed, or laid over video.
func (s *Site) airPages() []page { return []page{watch("GET /air", s.air)} }

// airBody is what the template of the on-camera page sees. Only the blind code of the unit stands there.
type airBody struct {
	Now        live.Snapshot
	Format     string // 16x9 or 9x16
	Background string // solid or none
	FPS        string // 25 or 30
	Words      string // of the state
	Limit      string
	Clock      string // motor-on or elapsed
	Zone       string // of the bench's wall clock
}

// oneOf returns a value if it is one of those allowed, else the first of them.
func oneOf(v string, allowed ...string) string {
	if slices.Contains(allowed, v) {
		return v
	}
	return allowed[0]
}

func (s *Site) air(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	b := airBody{Now: s.opts.Engine.Now(), Zone: s.opts.Setup.Bench.TimeZone, Format: oneOf(q.Get("format"), "16x9", "9x16"),
		Background: oneOf(q.Get("background"), "solid", "none"), FPS: oneOf(q.Get("fps"), "25", "30")}
	b.Words = strings.TrimSuffix(b.Now.State.Words(), " (presumed)") // the style adds that, small
	p := s.procedure(b.Now)
	b.Limit, b.Clock = seconds(p.TimeLimitS), p.Clock
	s.render(w, r, http.StatusOK, "air.html", View{Title: "On camera", At: "/air", Name: "air", Bare: true,
		Class: "air f" + b.Format + " " + b.Background, Body: b})
}
