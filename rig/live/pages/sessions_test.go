package pages

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
)

func TestListFilters(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	for _, x := range []struct {
		query string
		want  []string // names, newest first
	}{
		{"", []string{today + "-2", today + "-1", yesterday + "-2", yesterday + "-1"}},
		{"?unit=unit-a", []string{today + "-1", yesterday + "-1"}},
		{"?procedure=fish-frames", []string{today + "-2"}},
		{"?day=" + yesterday, []string{yesterday + "-2", yesterday + "-1"}},
		{"?verdict=failed", []string{yesterday + "-2"}},
		{"?verdict=close", []string{today + "-1"}},
		{"?verdict=passed", []string{today + "-1", yesterday + "-1"}},
		{"?verdict=not-measurable", []string{today + "-2"}},
		{"?verdict=void", nil},
		{"?q=SPOON", []string{yesterday + "-1"}},
		{"?q=spoon+mixed", []string{yesterday + "-1"}},
		{"?q=spoon+fish", nil},
		{"?q=%28unit-a%29", []string{today + "-1", yesterday + "-1"}}, // as the unit is shown
		{"?q=%28unit-b%29", nil},                                      // its name is not released
		{"?q=unit+B&unit=unit-b", []string{yesterday + "-2"}},
		{"?unit=unit-a&day=" + today, []string{today + "-1"}},
		{"?page=99", []string{today + "-2", today + "-1", yesterday + "-2", yesterday + "-1"}},
		{"?verdict=%3Cscript%3E&q=%3Cscript%3E", nil},
	} {
		text := page200(t, c.Sessions, "/sessions"+x.query, "")
		var got []string
		for _, part := range strings.Split(text, `href="/sessions/`)[1:] {
			got = append(got, part[:strings.Index(part, `"`)])
		}
		if !slices.Equal(got, x.want) {
			t.Errorf("%s: got %v, want %v", x.query, got, x.want)
		}
		if strings.Contains(text, "<script>") {
			t.Errorf("%s: what was asked for stands in the page as it was written", x.query)
		}
	}
}

// TestListSaysWhyInWords: what cannot be judged says why as people say it, not by a code.
func TestListSaysWhyInWords(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	text := page200(t, c.Sessions, "/sessions?verdict=not-measurable", "")
	if code := regexp.MustCompile(`: [a-z]+(-[a-z]+)+<`).FindString(text); code != "" || !strings.Contains(text, "not weighed") {
		t.Errorf("found the code %q, expected words such as chamber not weighed", code)
	}
}

func TestListTurnsPages(t *testing.T) {
	var runs []taken
	for i := range pageRows + 3 {
		runs = append(runs, taken{fmt.Sprintf("%s-%02d", today, i), "unit-a", "mixed", map[string]string{"run_time_s": "80"}, ""})
	}
	c, _ := newSeason(t, runs...)
	first := page200(t, c.Sessions, "/sessions?unit=unit-a", "")
	second := page200(t, c.Sessions, "/sessions?unit=unit-a&page=2", "")
	if n := strings.Count(first, `href="/sessions/`); n != pageRows {
		t.Errorf("%d on the first page, want %d", n, pageRows)
	}
	if n := strings.Count(second, `href="/sessions/`); n != 3 {
		t.Errorf("%d on the second page, want 3", n)
	}
	if !strings.Contains(first, `href="/sessions?page=2&amp;unit=unit-a">Older`) || !strings.Contains(second, `href="/sessions?unit=unit-a">Newer`) {
		t.Error("the pages do not lead to each other")
	}
}

func TestSessionTellsAll(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	text := page200(t, c.Session, "/sessions/x", today+"-1")
	for _, want := range []string{"invented unit A (unit-a), Mixed load", "taken by hand, without a recording", "passed, close", "Too close to call", "at most 5.00 %",
		"4.99 %", "holds the limit with a probability of", "on the straight line from 0:40.0 (10 points) to 2:00.0 (5 points)", "manifest SHA-256"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(text, `id="review"`) {
		t.Error("plots of what was never recorded")
	}
	if text := page200(t, c.Session, "/sessions/x", yesterday+"-1"); !strings.Contains(text, "a spoon fell in") {
		t.Error("no remark")
	}
	for _, name := range []string{"nope", "", ".", "..", "../lab", ".index.sqlite"} {
		r := httptest.NewRequest("GET", "/sessions/x", nil)
		r.SetPathValue("name", name)
		w := httptest.NewRecorder()
		c.Session(w, r)
		if w.Code != http.StatusNotFound {
			t.Errorf("%q: %d, want 404", name, w.Code)
		}
	}
}

func TestNamesObeyTheirRelease(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	for _, text := range []string{page200(t, c.Sessions, "/sessions", ""), page200(t, c.Session, "/sessions/x", yesterday+"-2")} {
		if strings.Contains(text, "invented unit B") || !strings.Contains(text, "unit-b") {
			t.Error("a name stands there before its day")
		}
	}
	c.now = func() time.Time { return time.Date(2026, 12, 1, 0, 0, 1, 0, time.UTC) }
	if !c.stale(c.reading) {
		t.Fatal("a new day changes nothing")
	}
	c.publish(c.read())
	if text := page200(t, c.Session, "/sessions/x", yesterday+"-2"); !strings.Contains(text, "invented unit B (unit-b)") {
		t.Error("the name does not stand there on its day")
	}
}

func TestCorrectionIsReadAndTakenBack(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	say := func(target, new, why string) {
		t.Helper()
		a, err := session.Amend(filepath.Join(c.dir, yesterday+"-1"), "quern test", c.now())
		if err != nil {
			t.Fatal(err)
		}
		if _, err := a.AppendCorrection(rig.Correction{At: c.now(), Target: target, New: new, Who: "invented reviewer", Why: why}); err != nil {
			t.Fatal(err)
		}
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
		if !c.stale(c.reading) {
			t.Fatal("an added fact goes unseen")
		}
		c.publish(c.read())
	}
	say("void", "rig", "the tap was forgotten")
	text := page200(t, c.Session, "/sessions/x", yesterday+"-1")
	for _, want := range []string{`data-v="void"`, "the tap was forgotten", "invented reviewer"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	if list := page200(t, c.Sessions, "/sessions?verdict=void", ""); !strings.Contains(list, "rig: the tap was forgotten") {
		t.Error("the list does not know")
	}
	say("void", "no", "it ran after all")
	if text := page200(t, c.Session, "/sessions/x", yesterday+"-1"); strings.Contains(text, `data-v="void"`) || !strings.Contains(text, "counts after all") {
		t.Error("it is still void, or its history is gone")
	}
}

func TestTakesBack(t *testing.T) {
	rec := &rig.Record{Unit: "unit-a", Procedure: "mixed", Facts: rig.Facts{Weighings: []rig.Weighing{{Fact: 3, NetG: rig.Fig(41.5)}, {Fact: 4}, {Fact: 5, Vessel: "bowl", GrossG: rig.Fig(312.4)}}}}
	nets := score.Nets(&config.Bench{Vessels: []config.Vessel{{ID: "bowl", DryG: 205.1}}}, rec)
	for _, x := range []struct{ target, new, want string }{
		{"void", "rig", "no"}, {"void", "no", ""}, {"failed", "it leaked", "no"}, {"failed", "no", ""},
		{"unit", "unit-b", "unit-a"}, {"unit", "unit-a", ""}, {"procedure", "fish", "mixed"}, {"kind", "control", "scored"}, {"kind", "scored", ""},
		{"weighing.3", "withdrawn", "41.5"}, {"weighing.3", "41.5", ""}, {"weighing.4", "withdrawn", ""}, {"weighing.5", "12", "107.3"}, {"weighing.9", "1", ""}, {"measure.trips", "0", ""},
	} {
		if got := takesBack(rig.Correction{Target: x.target, New: x.new}, rec, nil, nets); got != x.want {
			t.Errorf("%s to %s: got %q, want %q", x.target, x.new, got, x.want)
		}
	}
}

// A weighing whose vessel stands in the register shows the net mass that counts, and what was taken off.
func TestWeighingByTheRegister(t *testing.T) {
	bench := config.Bench{Vessels: []config.Vessel{{ID: "sieve", DryG: 300, WetG: 312}}}
	for _, c := range []struct {
		w    rig.Weighing
		want [4]string // net, gross, tare, where that is from
	}{
		{rig.Weighing{Role: rig.Coarse, Vessel: "sieve", GrossG: rig.Fig(352)}, [4]string{"40.0 g", "352.0 g", "312.0 g", "by the register, wet"}},
		{rig.Weighing{Role: rig.Coarse, Vessel: "bowl", GrossG: rig.Fig(352)}, [4]string{"-", "352.0 g", "-", ""}},
		{rig.Weighing{Role: rig.Coarse, GrossG: rig.Fig(52), TareG: rig.Fig(50)}, [4]string{"2.0 g", "52.0 g", "50.0 g", ""}},
		{rig.Weighing{Role: rig.Coarse, NetG: rig.Fig(7)}, [4]string{"7.0 g", "-", "-", ""}},
	} {
		rec := &rig.Record{Facts: rig.Facts{Weighings: []rig.Weighing{c.w}}}
		p := weighingPageOf(c.w, score.Nets(&bench, rec)[0], nil)
		if got := [4]string{p.Net, p.Gross, p.Tare, p.From}; got != c.want {
			t.Errorf("%+v: got %q, want %q", c.w, got, c.want)
		}
	}
}

func TestWithoutALab(t *testing.T) {
	c, h := newSeason(t, someRuns...)
	bare := NewCatalogue(c.dir, "", "quern test", "", c.now, slog.New(slog.DiscardHandler))
	bare.site = h.Site
	bare.publish(bare.read())
	if text := page200(t, bare.Sessions, "/sessions", ""); strings.Count(text, `href="/sessions/`) != 4 || strings.Contains(text, "invented unit") {
		t.Error("sessions are missing, or a name stands there")
	}
	if bare.Lab() != nil {
		t.Error("a lab where there is none")
	}
}

func TestBrokenLabIsSaid(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	if err := os.WriteFile(filepath.Join(c.labDir, "scorecard.toml"), []byte("titel = 1\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	c.publish(c.read())
	text := page200(t, c.Sessions, "/sessions", "")
	if !strings.Contains(text, "scorecard.toml:1") || strings.Count(text, `href="/sessions/`) != 4 {
		t.Error("the mistake is not named, or the sessions are gone")
	}
}
