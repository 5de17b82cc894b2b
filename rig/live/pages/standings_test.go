package pages

import (
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
)

// standing asks for a page of standings while rankings are made, and again where a busy machine took longer than a page
// waits for them.
func standing(t *testing.T, c *Catalogue, query string) string {
	t.Helper()
	var ranker sync.WaitGroup
	ranker.Go(func() { c.ranks.run(t.Context()) })
	t.Cleanup(func() { ranker.Wait() })
	for {
		text := page200(t, c.Standings, "/standings"+query, "")
		if !strings.Contains(text, `http-equiv="refresh"`) {
			return text
		}
	}
}

func TestStandingsPage(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	text := standing(t, c, "?against="+yesterday)
	for _, want := range []string{"Kitchen grinders, an invented comparison", `invented unit A (<span class="together">unit-a</span>)`, "What moved since " + yesterday, "Mixed load, left share: another measure",
		"one sample of a unit", "scorecard and procedures SHA-256", `href="/sessions?procedure=mixed&amp;unit=unit-a"`, "without Mixed load"} {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(text, "invented unit B") {
		t.Error("a name stands there before its day")
	}
	if strings.Contains(text, "left_share") {
		t.Error("a measure is called by its key")
	}
}

// Other weights give what a scorecard with these weights gives, and say that they are others.
func TestOtherWeights(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	r := c.reading
	plain, err := ranked(r, nil, c.now())
	if err != nil {
		t.Fatal(err)
	}
	varied, err := ranked(r, map[string]float64{"noise": 1000}, c.now())
	if err != nil {
		t.Fatal(err)
	}
	if plain.Lines[0].Overall.V == varied.Lines[0].Overall.V {
		t.Error("weights change nothing")
	}
	if r.lab.Scorecard.Categories[1].Weight != 25 {
		t.Error("the lab itself was changed")
	}
	if v := varied.Lines[0].Overall.V - varied.Lines[0].Categories[1].Points.V; v > 0.2 || v < -0.2 {
		t.Errorf("with nearly all weight on noise the points are %g off those of noise", v)
	}
	text := standing(t, c, "?w.noise=1000&w.owning=nonsense&w.grinding=-3")
	if !strings.Contains(text, "not the standings, but what they would be") || !strings.Contains(text, `value="1000"`) || !strings.Contains(text, `value="60"`) {
		t.Error("the page does not say that these are other weights, or took nonsense for some")
	}
}

// Where the answer takes too long the page says so, and asks again.
func TestStandingsThatTakeLong(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	r := httptest.NewRequest("GET", "/standings", nil)
	w := httptest.NewRecorder()
	c.Standings(w, r) // nobody ranks
	if text := w.Body.String(); !strings.Contains(text, "being computed") || !strings.Contains(text, `http-equiv="refresh"`) || !strings.Contains(text, "data-again") {
		t.Errorf("got %s", text)
	}
}

func TestShelf(t *testing.T) {
	var s shelf[int]
	for i, k := range []string{"a", "b", "c"} {
		s.put(k, i, 3)
	}
	if v, ok := s.get("a"); !ok || v != 0 {
		t.Fatalf("a: %v %v", v, ok)
	}
	s.put("d", 3, 3) // b was used longest ago
	for k, want := range map[string]bool{"a": true, "b": false, "c": true, "d": true} {
		if _, ok := s.get(k); ok != want {
			t.Errorf("%s: %v, want %v", k, ok, want)
		}
	}
	s.put("a", 9, 3)
	if v, _ := s.get("a"); v != 9 || len(s.items) != 3 {
		t.Errorf("a is %d, %d kept", v, len(s.items))
	}
}
