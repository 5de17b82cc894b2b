package pages

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/session"
)

// A session without an analysis is shown as waiting, analysed in its turn, and then like any other.
func TestAnalysesWhatLacksOne(t *testing.T) {
	c, _ := newSeason(t, someRuns[0])
	set, err := session.ReadSetup(filepath.Join(c.dir, yesterday+"-1"))
	if err != nil {
		t.Fatal(err)
	}
	rms := rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}
	w, err := session.Create(filepath.Join(c.dir, "late"), session.Head{Setup: set, Started: c.now(), Tool: "quern test", Origin: rig.Imported, Streams: []session.Stream{{Stream: rms}}})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 600 {
		a := 0.01
		if i > 100 && i < 400 {
			a = 4
		}
		if err := w.AppendReading(rig.Clamp, rig.Reading{AtS: float64(i) * 0.05, Value: a}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	c.publish(c.read())
	if got := c.Working(); got.Of != 1 || got.Done != 0 {
		t.Errorf("progress %+v, want 0 of 1", got)
	}
	if text := page200(t, c.Sessions, "/sessions", ""); !strings.Contains(text, "1 still to be analysed") || !strings.Contains(text, "0 of 1 sessions analysed") {
		t.Error("the list does not say what is to come")
	}
	if text := page200(t, c.Session, "/sessions/late", "late"); !strings.Contains(text, "has not been analysed yet") || !strings.Contains(text, `data-session="late"`) {
		t.Error("what was recorded cannot be looked at")
	}
	r := c.reading
	ended, end := context.WithCancel(t.Context())
	end()
	c.analyse(ended, r.lacking[0])
	if c.publish(c.read()); len(c.reading.lacking) != 1 || len(c.failed) != 0 {
		t.Fatalf("stopped: lacking %v, failed %v, want it as it was", c.reading.lacking, c.failed)
	}
	c.analyse(t.Context(), r.lacking[0])
	c.publish(c.read())
	if len(c.reading.lacking) != 0 {
		t.Fatalf("still lacking: %v", c.reading.lacking)
	}
	if text := page200(t, c.Session, "/sessions/late", "late"); !strings.Contains(text, "motor start") || !strings.Contains(text, `class="strip"`) {
		t.Error("no event, or no ribbon")
	}
	svg := httptest.NewRecorder()
	q := httptest.NewRequest("GET", "/sessions/late/picture.svg?run=1", nil)
	q.SetPathValue("name", "late")
	c.Picture(svg, q)
	if svg.Code != http.StatusOK || !strings.HasPrefix(svg.Header().Get("Content-Type"), "image/svg+xml") || !strings.Contains(svg.Body.String(), "motor start") {
		t.Errorf("picture: %d %.80s", svg.Code, svg.Body)
	}
}

// An analysis that fails is not tried again and again, and the list says why.
func TestAnalysisThatFails(t *testing.T) {
	c, _ := newSeason(t, someRuns[0])
	r := c.reading
	l := lacking{name: "gone"}
	c.analyse(t.Context(), l)
	if err := c.lacks(r, "gone", l.set); err == nil || !strings.Contains(err.Error(), "no analysis: ") || len(r.lacking) != 0 {
		t.Errorf("got %v, lacking %v", err, r.lacking)
	}
	l.set.Unit.ID = "another" // other settings may do
	if err := c.lacks(r, "gone", l.set); err == nil || len(r.lacking) != 1 {
		t.Errorf("got %v, lacking %v", err, r.lacking)
	}
}

func TestKeepsTheOrderOfWhatIsLacking(t *testing.T) {
	of := func(names ...string) (out []lacking) {
		for _, n := range names {
			out = append(out, lacking{name: n})
		}
		return out
	}
	got := keep(of("a", "b", "c", "d"), of("c", "gone", "a"))
	var names []string
	for _, l := range got {
		names = append(names, l.name)
	}
	if want := []string{"c", "a", "b", "d"}; !slices.Equal(names, want) {
		t.Errorf("got %v, want %v", names, want)
	}
}
