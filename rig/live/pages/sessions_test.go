package pages

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/live/gate"
	"quern/rig/session"
)

// taken is a run that the tests put into a folder: taken by hand, of an invented lab.
type taken struct {
	name, unit, procedure string
	measures              map[string]string
	remark                string
}

const yesterday, today = "2026-03-01", "2026-03-02"

var someRuns = []taken{
	{yesterday + "-1", "unit-a", "mixed", map[string]string{"run_time_s": "80", "left_share": "0.01", "coarse_share": "0.001", "laeq_db": "70", "la10_db": "74"}, "a spoon fell in"},
	{yesterday + "-2", "unit-b", "mixed", map[string]string{"run_time_s": "90", "left_share": "0.09", "coarse_share": "0.001", "laeq_db": "72", "la10_db": "75"}, ""},
	{today + "-1", "unit-a", "mixed", map[string]string{"run_time_s": "82", "left_share": "0.0499", "coarse_share": "0.001", "laeq_db": "70.5", "la10_db": "74.5"}, ""},
	{today + "-2", "unit-c", "fish-frames", map[string]string{"run_time_s": "40", "trips": "0"}, ""},
}

// newSeason writes the runs and returns a catalogue over them that stands still: it reads when told to.
func newSeason(t *testing.T, runs ...taken) (*Catalogue, *house) {
	t.Helper()
	dir := t.TempDir()
	lab := filepath.Join(dir, "lab")
	if err := os.CopyFS(lab, os.DirFS("../../../testdata/lab")); err != nil {
		t.Fatal(err)
	}
	units := filepath.Join(lab, "units.toml")
	text, err := os.ReadFile(units)
	if err != nil {
		t.Fatal(err)
	}
	changed := strings.Replace(string(text), "name = \"invented unit A\"\n", "name = \"invented unit A\"\nrelease = \"2026-01-01\"\n", 1)
	changed = strings.Replace(changed, "name = \"invented unit B\"\n", "name = \"invented unit B\"\nrelease = \"2026-12-01\"\n", 1)
	if changed == string(text) {
		t.Fatal("testdata/lab is not what it was")
	}
	if err := os.WriteFile(units, []byte(changed), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := config.Read(os.DirFS(lab))
	if err != nil {
		t.Fatal(err)
	}
	sessions := filepath.Join(dir, "sessions")
	if err := os.Mkdir(sessions, 0o755); err != nil {
		t.Fatal(err)
	}
	for i, r := range runs {
		set, err := l.Setup(r.unit, r.procedure)
		if err != nil {
			t.Fatal(err)
		}
		started, err := time.Parse(time.DateOnly, r.name[:10])
		if err != nil {
			t.Fatal(err)
		}
		started = started.Add(time.Duration(9+i) * time.Hour)
		w, err := session.Create(filepath.Join(sessions, r.name), session.Head{Setup: set, Started: started, Tool: "quern test", Origin: rig.ByHand})
		if err != nil {
			t.Fatal(err)
		}
		for name, v := range r.measures {
			if _, err := w.AppendCorrection(rig.Correction{At: started, Run: 1, Target: "measure." + name, New: v, Who: "invented tester", Why: "taken by hand"}); err != nil {
				t.Fatal(err)
			}
		}
		if r.remark != "" {
			if _, err := w.AppendRemark(rig.Remark{Run: 1, Text: r.remark, Who: "invented tester"}); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Seal(); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	now := func() time.Time { return time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC) }
	c := NewCatalogue(sessions, lab, "quern test", now, slog.New(slog.DiscardHandler))
	h := newHouse(t, gate.Options{}, false)
	c.site = h.Site
	c.publish(c.read())
	return c, h
}

func page200(t *testing.T, f http.HandlerFunc, target string, name string) string {
	t.Helper()
	r := httptest.NewRequest("GET", target, nil)
	r.SetPathValue("name", name)
	w := httptest.NewRecorder()
	f(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d %s", target, w.Code, w.Body)
	}
	return w.Body.String()
}

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
	rec := &rig.Record{Unit: "unit-a", Procedure: "mixed", Facts: rig.Facts{Weighings: []rig.Weighing{{Fact: 3, NetG: rig.Fig(41.5)}, {Fact: 4}}}}
	for _, x := range []struct{ target, new, want string }{
		{"void", "rig", "no"}, {"void", "no", ""}, {"failed", "it leaked", "no"}, {"failed", "no", ""},
		{"unit", "unit-b", "unit-a"}, {"unit", "unit-a", ""}, {"procedure", "fish", "mixed"}, {"kind", "control", "scored"}, {"kind", "scored", ""},
		{"weighing.3", "withdrawn", "41.5"}, {"weighing.3", "41.5", ""}, {"weighing.4", "withdrawn", ""}, {"weighing.9", "1", ""}, {"measure.trips", "0", ""},
	} {
		if got := takesBack(rig.Correction{Target: x.target, New: x.new}, rec, nil); got != x.want {
			t.Errorf("%s to %s: got %q, want %q", x.target, x.new, got, x.want)
		}
	}
}

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
	c.analyse(r.lacking[0])
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
	c.analyse(l)
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

func TestWithoutALab(t *testing.T) {
	c, h := newSeason(t, someRuns...)
	bare := NewCatalogue(c.dir, "", "quern test", c.now, slog.New(slog.DiscardHandler))
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
