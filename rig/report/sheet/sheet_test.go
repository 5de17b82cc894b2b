package sheet

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// everything returns all bytes that were written below a folder, and the names of the files.
func everything(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	must(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		all.WriteString(strings.TrimPrefix(path, dir) + "\n")
		if d.Type().IsRegular() {
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			all.Write(b)
		}
		return nil
	}))
	return all.String()
}

// spelled finds the secret name however its words are joined.
var spelled = regexp.MustCompile(`(?i)invented[\s_.\-]*grand[\s_.\-]*mill`)

func TestNoNameBeforeItsDay(t *testing.T) {
	for kind := range makers {
		t.Run(kind, func(t *testing.T) {
			_, m := made(t, kind, nil)
			if at := spelled.FindString(everything(t, filepath.Dir(m.Page))); at != "" {
				t.Errorf("%q is in what was written", at)
			}
		})
	}
	page, m := made(t, "unit", func(o *Options) { o.Day = secretDay })
	if !strings.Contains(page, "<h1>"+secret+" (unit-a)</h1>") || !strings.Contains(m.Title, secret) {
		t.Error("from its day on the name heads the page")
	}
	if !spelled.MatchString(everything(t, filepath.Join(filepath.Dir(m.Page), plotsName))) {
		t.Error("and it is in the plots, so that the test above looks where a name would be")
	}
}

func TestOthersMasked(t *testing.T) {
	const other = "unit-b"
	shown, m := made(t, "unit", nil)
	if !strings.Contains(shown, other) || !strings.Contains(shown, "Shown Mill") || !strings.Contains(shown, "place ") {
		t.Fatal("a page that is not masked shows the others")
	}
	_, m = made(t, "unit, masked", nil)
	all := everything(t, filepath.Dir(m.Page))
	for _, w := range []string{other, "Shown Mill", "Shown-Mill", "place 1 of", "place 2 of", "best of all", "worst of all", taken[2].name, taken[3].name} {
		if strings.Contains(all, w) {
			t.Errorf("%q is on a masked page", w)
		}
	}
	if !strings.Contains(all, "unit-a") {
		t.Error("its own code is not")
	}
}

// A page opens from disk: no script, no address of anything else.
func TestPageStandsAlone(t *testing.T) {
	link := regexp.MustCompile(`(?i)(?:src|href|srcset|action|poster|data)\s*=\s*"([^"]*)"`)
	for kind := range makers {
		page, _ := made(t, kind, nil)
		for _, m := range link.FindAllStringSubmatch(page, -1) {
			if !strings.HasPrefix(m[1], "#") && m[1] != "data:," {
				t.Errorf("%s: it names %q", kind, m[1])
			}
		}
		for _, w := range []string{"<script", "@import", "http://", "https://", "<link rel=\"stylesheet", "<iframe", "javascript:"} {
			if strings.Contains(page, w) {
				t.Errorf("%s: found %s", kind, w)
			}
		}
		for _, m := range regexp.MustCompile(`url\(([^)]*)\)`).FindAllStringSubmatch(page, -1) {
			if !strings.HasPrefix(strings.Trim(m[1], `"'`), "#") {
				t.Errorf("%s: its style loads %s", kind, m[1])
			}
		}
		if strings.Contains(page, "ZgotmplZ") {
			t.Errorf("%s: a value was refused by the template", kind)
		}
	}
}

// What people write stays text, in pages and in plots.
func TestTextsNeverBecomeMarkup(t *testing.T) {
	for kind := range makers {
		page, m := made(t, kind, nil)
		all := everything(t, filepath.Dir(m.Page))
		for _, w := range []string{"<script", "<img", "<b>in bold", "<i>comparison"} {
			if strings.Contains(all, w) {
				t.Errorf("%s: %s is markup now", kind, w)
			}
		}
		if strings.Count(page, "</style>") != 1 {
			t.Errorf("%s: %d ends of a style", kind, strings.Count(page, "</style>"))
		}
	}
	page, _ := made(t, "session", nil)
	if !strings.Contains(page, "&lt;script&gt;alert(1)&lt;/script&gt;") || !strings.Contains(page, "&lt;b&gt;in bold&lt;/b&gt;") {
		t.Error("what was written is not told")
	}
}

func TestUnitsPageTellsEverything(t *testing.T) {
	page, m := made(t, "unit", nil)
	for _, want := range []string{
		"<h1>unit-a</h1>", "no public name is released", "One sample was tested", "failed (1 of 2)", `data-v="failed"`, "trips: passed 1 of 2",
		"trip (presumed)", "stall start", "current fell from", // events and evidence
		"Where each number of", "on the straight line from 0.00 % (10 points)", "its own runs scatter by",
		"void (rig): the tap of the unit-a was shut", "Its values: run time", "LA10 is 71.5", "(corrected from", "by ann of unit-a", "weighing 5 (fine) was typed in by ann of unit-a",
		"water-temperature", "carrot", "500 g ±5 g", "Shown Mill (unit-b)", // the same procedure with other units
		"should be 94", "No voltage was put on record", "Background: the room and the running water before the first start, energy mean of 2 runs",
		"A review bench is not a safety test", "SHA-256", "quern test", "version 1",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	for _, attack := range []string{"supply sagged", "not enough water", "instructions forbid", "stopped it too early", "your feeding", "one bad sample", "meter is a toy", "protector did its job", "changed the rules", "voided the runs"} {
		if !strings.Contains(page, attack) {
			t.Errorf("nothing on “%s”", attack)
		}
	}
	for _, stem := range []string{"unit-a-mixed-run-1", "unit-a-mixed-run-2", "unit-a-mixed-aside-1", "unit-a-mixed-repeats", "unit-a-mixed-spectrum", "unit-a-mixed-balance"} {
		for _, form := range []string{".svg", ".png"} {
			if _, err := os.Stat(filepath.Join(filepath.Dir(m.Page), plotsName, stem+form)); err != nil {
				t.Error(err)
			}
		}
	}
	if n := strings.Count(page, `<svg class="plot"`); n != 6 {
		t.Errorf("%d plots on the page, want 6", n)
	}
}

// Numbers stay with their units, and codes whole; what is no text of the page is left alone.
func TestTogether(t *testing.T) {
	const in = `<style>.a { margin: 1 s 0 unit-a }</style><title>3 g</title><p title="a 3 g">was 3 g, ±0.028 s of unit-a</p><svg><path d="M0 3 A 1"/><text>3 g</text></svg><code>3 g</code> 3 g`
	const want = `<style>.a { margin: 1 s 0 unit-a }</style><title>3 g</title><p title="a 3 g">was 3` + "\u00a0g, ±0.028\u00a0s" + ` of <span class="together">unit-a</span></p><svg><path d="M0 3 A 1"/><text>3 g</text></svg><code>3 g</code> 3` + "\u00a0g"
	if got := string(together([]byte(in))); got != want {
		t.Errorf("got\n%s, expected\n%s", got, want)
	}
	for _, s := range []string{"", "<", "a < b", "<svg", "<style>", "3 g<"} {
		if got := apart(string(together([]byte(s)))); got != s {
			t.Errorf("%q became %q", s, got)
		}
	}
	s, o := scored(t)
	m, err := Unit(t.Context(), o, s, "unit-a")
	must(t, err)
	b, err := os.ReadFile(m.Page)
	must(t, err)
	if page := string(b); !strings.Contains(page, `<h1><span class="together">unit-a</span></h1>`) || !strings.Contains(page, "500\u00a0g ±5\u00a0g") {
		t.Error("the page of a unit breaks its lines anywhere")
	}
}

// What could not be measured is told with its reason, and is no nought.
func TestAbsentValues(t *testing.T) {
	page, _ := made(t, "session without a clamp", nil)
	for _, want := range []string{"Not drawn: current", "- (no current)", "cannot be judged: no current"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(page, ">0.00 A<") {
		t.Error("a current that nobody measured is 0")
	}
}

// 40.0032 g of 800 g are 5.0004 %: more than the limit of 5 %, though they print like it.
func TestRoundedFiguresDecideNoGate(t *testing.T) {
	page, _ := made(t, "session without a clamp", nil)
	at := strings.Index(page, "5.00 %")
	if !strings.Contains(page, "(in full 5.0004 %)") || at < 0 {
		t.Error("the full figure is not told")
	}
	row := regexp.MustCompile(`(?s)<tr><th scope="row">left share.*?</tr>`).FindString(page)
	if !strings.Contains(row, `data-v="failed"`) {
		t.Errorf("it does not fail: %s", row)
	}
}

func TestOunces(t *testing.T) {
	grams, _ := made(t, "session", nil)
	ounces, _ := made(t, "session", func(o *Options) { o.Style.Mass = "oz" })
	verdicts := regexp.MustCompile(`data-v="[^"]*"`)
	if a, b := verdicts.FindAllString(grams, -1), verdicts.FindAllString(ounces, -1); strings.Join(a, " ") != strings.Join(b, " ") || len(a) < 3 {
		t.Errorf("verdicts differ: %v, %v", a, b)
	}
	if unit, _ := made(t, "unit", func(o *Options) { o.Style.Mass = "oz" }); !strings.Contains(unit, "avoirdupois ounces") || !strings.Contains(unit, "28.22 oz ±") {
		t.Error("a charge of 800 g is 28.22 oz")
	}
	if !strings.Contains(grams, "500.0 g") || !strings.Contains(ounces, "17.637 oz") || strings.Contains(ounces, "500.0 g") {
		t.Error("500 g are 17.637 oz")
	}
}

// The same sessions under the same rules give the same bytes.
func TestSameBytes(t *testing.T) {
	for _, kind := range []string{"unit", "standings"} {
		_, a := made(t, kind, nil)
		_, b := made(t, kind, nil)
		if everything(t, filepath.Dir(a.Page)) != everything(t, filepath.Dir(b.Page)) {
			t.Errorf("%s: two pages differ", kind)
		}
	}
}

func TestNothingIsWrittenHalf(t *testing.T) {
	s, o := scored(t)
	o.Out = filepath.Join(t.TempDir(), "file")
	must(t, os.WriteFile(o.Out, nil, 0o644))
	if _, err := Unit(t.Context(), o, s, "unit-a"); err == nil || !strings.Contains(err.Error(), "expected a folder that can be written to") {
		t.Errorf("got %v", err)
	}
	if _, err := Unit(t.Context(), o, s, "unit-x"); err == nil || !strings.Contains(err.Error(), `found unit "unit-x"`) {
		t.Errorf("got %v", err)
	}
	if _, err := Session(t.Context(), o, s.Campaign, "none"); err == nil {
		t.Error("a session that is not there has a page")
	}
}
