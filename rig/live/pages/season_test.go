package pages

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
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
	c := NewCatalogue(sessions, lab, "quern test", "", now, slog.New(slog.DiscardHandler))
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
