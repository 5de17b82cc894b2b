package pages

import (
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/session"
)

// Days and times of day are those of the bench that recorded, and the pages say so; the filter by day goes along.
func TestTimesAreOfTheBench(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	if list := page200(t, c.Sessions, "/sessions", ""); !strings.Contains(list, "Times are UTC.") {
		t.Error("the list does not say that times are UTC")
	}
	set, err := session.ReadSetup(filepath.Join(c.dir, yesterday+"-1"))
	if err != nil {
		t.Fatal(err)
	}
	set.Bench.TimeZone = "Pacific/Marquesas" // 9 h 30 min west: the day is another one for most of the day
	const name = "far"
	w, err := session.Create(filepath.Join(c.dir, name), session.Head{Setup: set, Started: time.Date(2026, 3, 2, 8, 15, 0, 0, time.UTC), Tool: "quern test", Origin: rig.ByHand})
	if err != nil {
		t.Fatal(err)
	}
	k := rig.Correction{At: time.Date(2026, 3, 2, 9, 45, 0, 0, time.UTC), Run: 1, Target: "void", New: "rig", Who: "ann", Why: "the tap"}
	if _, err := w.AppendCorrection(k); err != nil {
		t.Fatal(err)
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	c.publish(c.read())
	list := page200(t, c.Sessions, "/sessions?day=2026-03-01", "")
	for _, want := range []string{">22:45</a>", "the zone that each session keeps: Pacific/Marquesas, UTC", `value="2026-03-01" selected`} {
		if !strings.Contains(list, want) {
			t.Errorf("no %q in the list:\n%s", want, list)
		}
	}
	text := page200(t, c.Session, "/sessions/x", name)
	for _, want := range []string{"Sunday, 1 March 2026, 22:45 UTC\u221209:30.", "2026-03-02 00:15 UTC\u221209:30"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q on the session's page:\n%s", want, text)
		}
	}
}

// Names are released on their day in the zone of the lab: an hour before midnight there is none on the page.
func TestReleaseByTheBenchsDay(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	c.zone = "America/Chicago" // the lab names none
	at := time.Date(2026, 12, 1, 5, 59, 59, 0, time.UTC)
	c.now = func() time.Time { return at }
	c.publish(c.read())
	if list := page200(t, c.Sessions, "/sessions", ""); strings.Contains(list, "invented unit B") {
		t.Error("a name stands in the list on the evening before its release")
	}
	r := c.reading
	if c.stale(r) {
		t.Error("read a second ago, and stale")
	}
	if at = at.Add(time.Second); !c.stale(r) {
		t.Error("the day has changed, and what was read before still counts")
	}
	c.publish(c.read())
	if list := page200(t, c.Sessions, "/sessions", ""); !strings.Contains(list, "invented unit B") {
		t.Error("no name in the list on the day of its release")
	}
}

// A session that is not sealed is told with what to do about it, in the list and where it is asked for.
func TestNotSealedSaysWhatToDo(t *testing.T) {
	c, _ := newSeason(t, someRuns[0])
	set, err := session.ReadSetup(filepath.Join(c.dir, yesterday+"-1"))
	if err != nil {
		t.Fatal(err)
	}
	w, err := session.Create(filepath.Join(c.dir, "cut-off"), session.Head{Setup: set, Started: c.now(), Tool: "quern test", Origin: rig.Recorded, Live: true,
		Streams: []session.Stream{{Stream: rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.AppendReading(rig.Clamp, rig.Reading{AtS: 0.1, Value: 0.01}); err != nil {
		t.Fatal(err)
	}
	if err := w.Sync(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = w.Close() })
	c.publish(c.read())
	want := "quern recover " + filepath.Join(c.dir, "cut-off")
	if list := page200(t, c.Sessions, "/sessions", ""); !strings.Contains(list, want) {
		t.Errorf("no %q in the list", want)
	}
	req := httptest.NewRequest("GET", "/sessions/cut-off", nil)
	req.SetPathValue("name", "cut-off")
	got := httptest.NewRecorder()
	c.Session(got, req)
	if got.Code != 409 || !strings.Contains(got.Body.String(), want) {
		t.Errorf("status %d, want 409 with %q:\n%s", got.Code, want, got.Body)
	}
}
