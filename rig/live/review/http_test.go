package review

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"quern/rig/report/series"
	"quern/rig/report/series/recorded"
	"quern/rig/wave"
)

// call sends a request to a shelf's handler; headers are "Name: value".
func call(h *Shelf, method, path, body string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	for _, x := range headers {
		name, value, _ := strings.Cut(x, ": ")
		r.Header.Set(name, value)
	}
	w := httptest.NewRecorder()
	h.Handler().ServeHTTP(w, r)
	return w
}

// seriesJSON is what a page reads.
type seriesJSON struct {
	Channel  string       `json:"channel"`
	Unit     string       `json:"unit"`
	FromS    float64      `json:"from_s"`
	ToS      float64      `json:"to_s"`
	StepS    float64      `json:"step_s"`
	Min      []*float64   `json:"min"`
	Max      []*float64   `json:"max"`
	Mean     []*float64   `json:"mean"`
	BandsHz  []float64    `json:"bands_hz"`
	DB       [][]*float64 `json:"db"`
	Progress float64      `json:"progress"`
}

// whole is a shelf over one session, everything of which is derived and analysed.
func whole(t testing.TB, scenario string, change func(*Options)) (h *Shelf, dir string) {
	t.Helper()
	folder := t.TempDir()
	if err := os.CopyFS(folder, os.DirFS(made(t, scenario))); err != nil {
		t.Fatal(err)
	}
	h = shelfOf(t, folder, change)
	derive(t, h, "s")
	return h, filepath.Join(folder, "s")
}

func TestSeriesOverHTTP(t *testing.T) {
	h, _ := whole(t, "plain", nil)
	for _, channel := range []string{series.Level, series.Waveform, series.Current, series.RMS, series.Mass, "extra:water-temperature", series.ThirdOctaves} {
		path := "/sessions/s/series?points=700&from=2&to=16&channel=" + channel
		w := call(h, "GET", path, "")
		if w.Code != 200 || w.Header().Get("Content-Type") != "application/json" || !strings.Contains(w.Header().Get("Cache-Control"), "private") || w.Header().Get("ETag") == "" {
			t.Fatalf("%s: %d %v %s", channel, w.Code, w.Header(), w.Body)
		}
		var s seriesJSON
		d := json.NewDecoder(bytes.NewReader(w.Body.Bytes()))
		d.DisallowUnknownFields()
		if err := d.Decode(&s); err != nil {
			t.Fatal(channel, err)
		}
		if s.Channel != channel || s.Progress != 1 || s.FromS > 2 || s.ToS < 16-1e-9 {
			t.Errorf("%s: %s from %g to %g s, progress %g", channel, s.Channel, s.FromS, s.ToS, s.Progress)
		}
		if channel == series.ThirdOctaves {
			if len(s.DB) < 100 || len(s.DB) > 700 || len(s.DB[0]) != len(s.BandsHz) || s.BandsHz[1] != 31.5 {
				t.Errorf("%d columns, bands %v", len(s.DB), s.BandsHz)
			}
		} else if len(s.Min) != 700 || len(s.Max) != 700 || len(s.Mean) != 700 {
			t.Errorf("%s: %d, %d and %d columns, want 700", channel, len(s.Min), len(s.Max), len(s.Mean))
		}
		zipped := call(h, "GET", path, "", "Accept-Encoding: br, gzip")
		z, err := gzip.NewReader(zipped.Body)
		if err != nil {
			t.Fatal(channel, err)
		}
		if plain, err := io.ReadAll(z); err != nil || !bytes.Equal(plain, w.Body.Bytes()) || zipped.Header().Get("Vary") != "Accept-Encoding" {
			t.Errorf("%s: compressed it says something else (%v)", channel, err)
		}
		if again := call(h, "GET", path, "", "If-None-Match: W/\"x\", "+w.Header().Get("ETag")); again.Code != 304 || again.Body.Len() > 0 {
			t.Errorf("%s: asked again: %d with %d bytes", channel, again.Code, again.Body.Len())
		}
	}
}

func TestNumbersInJSON(t *testing.T) {
	for _, c := range []struct {
		x, per float64
		want   string
	}{{0, 100, "0"}, {1, 100, "1"}, {-0.004, 100, "0"}, {-0.05, 100, "-0.05"}, {82.3, 100, "82.3"}, {82.309, 100, "82.31"}, {-7.5, 10, "-7.5"}, {99.99, 10, "100"}, {1e5, 10, "100000"}} {
		if got := string(appendFixed(nil, c.x, c.per)); got != c.want {
			t.Errorf("%g: %s, want %s", c.x, got, c.want)
		}
	}
	inf := float32(1)
	for range 200 {
		inf *= 10
	}
	if got := string(appendList(nil, []float32{inf, -inf, inf - inf, 0, 1.5e-7, -12.345678}, false, 0)); got != "[null,null,null,0,1.5e-07,-12.3457]" {
		t.Error(got)
	}
}

func TestRefusals(t *testing.T) {
	h, _ := whole(t, "plain", nil)
	for _, c := range []struct {
		path string
		code int
		says string
	}{
		{"/sessions/none/series?channel=level", 404, `found session "none"`},
		{"/sessions/s/series", 400, "found no channel"},
		{"/sessions/s/series?channel=loudness", 404, `found channel "loudness", expected one that the session has: level, third-octaves`},
		{"/sessions/s/series?channel=level&points=4001", 400, "from 1 to 4000"},
		{"/sessions/s/series?channel=level&points=0", 400, "from 1 to 4000"},
		{"/sessions/s/series?channel=level&points=1e3", 400, "a whole number"},
		{"/sessions/s/series?channel=level&from=5&to=5", 400, "an end after the beginning"},
		{"/sessions/s/series?channel=level&from=9", 200, ""},
		{"/sessions/s/series?channel=level&from=NaN", 400, "found from="},
		{"/sessions/s/series?channel=level&from=Inf", 400, "found from="},
		{"/sessions/s/series?channel=level&to=0x10", 400, "found to="},
		{"/sessions/s/series?channel=level&to=1e9", 400, "found to="},
		{"/sessions/s/series?channel=level&channel=rms", 400, "2 times"},
		{"/sessions/s/series?channel=level&zoom=3", 400, `found parameter "zoom"`},
		{"/sessions/s/series?channel=level;from=3", 400, "a query that does not read"},
		{"/sessions/s/series?channel=level&run=2", 404, "expected 1 to 1"},
		{"/sessions/s/series?channel=level&run=1&offset=3", 400, "both offset and run"},
		{"/sessions/s/result?x=1", 400, "expected none"},
		{"/sessions/s/sound.wav", 400, "found no from"},
		{"/sessions/s/sound.wav?from=1&to=200", 400, "expected at most 120"},
		{"/sessions/s/sound.wav?from=-1&to=2", 400, "within the session"},
		{"/sessions/s/sound.wav?from=1&to=2&points=3", 400, "found parameter"},
	} {
		w := call(h, "GET", c.path, "")
		if w.Code != c.code || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s: %d %s, want %d and %q", c.path, w.Code, w.Body, c.code, c.says)
		}
		if w.Code != 200 && (w.Header().Get("Cache-Control") != "no-store" || strings.Count(w.Body.String(), "\n") != 1) {
			t.Errorf("%s: the refusal may be kept, or is no line: %v %q", c.path, w.Header(), w.Body)
		}
	}
	if w := call(h, "DELETE", "/sessions/s/result", ""); w.Code != 405 {
		t.Errorf("DELETE: %d", w.Code)
	}
}

func TestSoundOverHTTP(t *testing.T) {
	h, _ := whole(t, "plain", nil)
	w := call(h, "GET", "/sessions/s/sound.wav?from=5&to=6.5", "")
	if w.Code != 200 || w.Header().Get("Content-Type") != "audio/wav" || w.Body.Len() != 44+2*12000 || w.Header().Get("Accept-Ranges") != "bytes" {
		t.Fatalf("%d %v, %d bytes", w.Code, w.Header(), w.Body.Len())
	}
	r, err := wave.Open(bytesAt(w.Body.Bytes()), int64(w.Body.Len()), "clip")
	if err != nil || r.Frames() != 12000 {
		t.Fatal(err)
	}
	part := call(h, "GET", "/sessions/s/sound.wav?from=5&to=6.5", "", "Range: bytes=101-1100")
	if part.Code != 206 || !bytes.Equal(part.Body.Bytes(), w.Body.Bytes()[101:1101]) {
		t.Errorf("a part: %d, %d bytes", part.Code, part.Body.Len())
	}
	if again := call(h, "GET", "/sessions/s/sound.wav?from=5&to=6.5", "", "If-None-Match: "+w.Header().Get("ETag")); again.Code != 304 {
		t.Errorf("asked again: %d", again.Code)
	}
	folder := t.TempDir()
	recorded.Record(t, filepath.Join(folder, "deaf"), recorded.Small(t, "no-microphone"), false)
	if w := call(shelfOf(t, folder, nil), "GET", "/sessions/deaf/sound.wav?from=1&to=2", ""); w.Code != 404 || !strings.Contains(w.Body.String(), "nothing to be heard") {
		t.Errorf("without a microphone: %d %s", w.Code, w.Body)
	}
}

func TestFactsAndWhatIfOverHTTP(t *testing.T) {
	operator := true
	h, dir := whole(t, "plain", func(o *Options) {
		o.Operator = func(*http.Request) bool { return operator }
		o.Who = func(r *http.Request) (string, bool) { return r.Header.Get("X-Test-Who"), true }
	})
	const remark = `{"remark":{"at_s":12.5,"text":"a spoon fell in"}}`
	const path = "/sessions/s/facts"
	for _, c := range []struct {
		body    string
		headers []string
		code    int
		says    string
	}{
		{remark, []string{"Content-Type: text/plain", "X-Test-Who: ann"}, 415, "expected application/json"},
		{remark, []string{"Content-Type: application/json"}, 400, "who puts it on record"},
		{`{"who":"eve",` + remark[1:], []string{"Content-Type: application/json"}, 400, "who puts it on record"},
		{"not json", []string{"Content-Type: application/json", "X-Test-Who: ann"}, 400, "no fact"},
		{remark + "{}", []string{"Content-Type: application/json", "X-Test-Who: ann"}, 400, "behind the fact"},
		{`{"remark":{"text":"x","colour":"red"}}`, []string{"Content-Type: application/json", "X-Test-Who: ann"}, 400, "colour"},
		{`{"remark":{"text":"` + strings.Repeat("x", mostBody) + `"}}`, []string{"Content-Type: application/json", "X-Test-Who: ann"}, 413, "more than 65536"},
		{remark, []string{"Content-Type: application/json; charset=utf-8", "X-Test-Who: ann"}, 201, `"fact":1,"who":"ann"`},
	} {
		if w := call(h, "POST", path, c.body, c.headers...); w.Code != c.code || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%.40s: %d %s, want %d and %q", c.body, w.Code, w.Body, c.code, c.says)
		}
	}
	operator = false
	if w := call(h, "POST", path, remark, "Content-Type: application/json", "X-Test-Who: bob"); w.Code != 403 {
		t.Errorf("a viewer put a fact on record: %d %s", w.Code, w.Body)
	}
	text, err := os.ReadFile(filepath.Join(dir, "addenda.lp"))
	if err != nil || strings.Count(string(text), "spoon") != 1 {
		t.Errorf("the addenda hold %s (%v), want one spoon", text, err)
	}
	w := call(h, "POST", "/sessions/s/what-if", "detect.motor.overload_ratio = 1.1\ndetect.motor.overload_leave_ratio = 1.05")
	if w.Code != 200 || !strings.Contains(w.Body.String(), `"key":"detect.motor.overload_ratio","old":"1.25","new":"1.1"`) {
		t.Errorf("what if: %d %.300s", w.Code, w.Body)
	}
	w = call(h, "POST", "/sessions/s/what-if", "[detect.motor]\nstall_ratio = 7")
	if w.Code != 422 || !strings.HasPrefix(w.Body.String(), "what-if:2: found ") {
		t.Errorf("a ratio of 7: %d %s", w.Code, w.Body)
	}
}

// FuzzQuery: whatever is asked, the answer is a page's JSON with no more columns than were asked for, or one
// line that says what was wrong.
func FuzzQuery(f *testing.F) {
	folder := f.TempDir()
	recorded.Tone(f, filepath.Join(folder, "s"), 1.5)
	h := shelfOf(f, folder, nil)
	derive(f, h, "s")
	f.Add("series", "channel=level&from=1&to=2&points=30")
	f.Add("series", "channel=third-octaves&from=-4&to=2e6&points=4000&offset=-1e7")
	f.Add("series", "channel=waveform&from=1&to=1.0001&points=4000")
	f.Add("series", "channel=waveform&run=1&points=%31")
	f.Add("sound.wav", "from=1&to=2.00001&offset=0.5")
	f.Add("result", "a=b;c")
	f.Fuzz(func(t *testing.T, what, query string) {
		if what != "series" && what != "sound.wav" && what != "result" {
			return
		}
		r := httptest.NewRequest("GET", "/sessions/s/"+what, nil)
		r.URL.RawQuery = query
		w := httptest.NewRecorder()
		h.Handler().ServeHTTP(w, r)
		switch {
		case w.Code == 200 && what == "series":
			v, err := url.ParseQuery(query)
			if err != nil {
				t.Fatalf("%q was answered: %v", query, err)
			}
			most := usualColumns
			if v.Has("points") {
				if most, err = strconv.Atoi(v.Get("points")); err != nil {
					t.Fatal(err)
				}
			}
			var s seriesJSON
			if err := json.Unmarshal(w.Body.Bytes(), &s); err != nil {
				t.Fatalf("%q: %v", query, err)
			}
			if len(s.Min) > most || len(s.DB) > most || len(s.Min) != len(s.Max) || !(s.StepS > 0) {
				t.Fatalf("%q: %d and %d columns of %g s, asked for at most %d", query, len(s.Min), len(s.DB), s.StepS, most)
			}
		case w.Code == 200:
		case w.Code < 400 || w.Code >= 500 && w.Code != 503 || strings.Count(w.Body.String(), "\n") != 1:
			t.Fatalf("%q: %d %q", query, w.Code, w.Body)
		}
	})
}
