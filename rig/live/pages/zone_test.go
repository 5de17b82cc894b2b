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

// Days and times of day are those of the machine that serves the pages, and the pages say so; the filter by day goes along.
func TestTimesAreOfTheBench(t *testing.T) {
	c, _ := newSeason(t, someRuns...)
	c.zone = time.FixedZone("far", -(9*3600 + 1800)) // 9 h 30 min west: the day is another one for most of the day
	c.publish(c.read())
	rec := c.reading.records[0]
	day, at := c.dayOf(rec.Started), c.clockOf(rec.Started)
	if want := rec.Started.UTC().Add(-9*time.Hour - 30*time.Minute); day != want.Format(time.DateOnly) || at != want.Format("15:04") {
		t.Fatalf("%s %s, want %s", day, at, want)
	}
	list := page200(t, c.Sessions, "/sessions?day="+day, "")
	for _, want := range []string{">" + at + "</a>", "now UTC\u221209:30", `value="` + day + `" selected`} {
		if !strings.Contains(list, want) {
			t.Errorf("no %q in the list", want)
		}
	}
	if text := page200(t, c.Session, "/sessions/x", rec.Session); !strings.Contains(text, at+" UTC\u221209:30.") {
		t.Errorf("the session's page does not say %s UTC-09:30", at)
	}
	c.zone = time.UTC
	if list := page200(t, c.Sessions, "/sessions", ""); !strings.Contains(list, "Times are UTC") {
		t.Error("the list does not say that times are UTC")
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
