package session

import (
	"errors"
	"io"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/line"
)

// made is when the invented corrections were made, years after the session.
var made = time.Date(2031, 5, 6, 7, 8, 9, 123456789, time.UTC)

// appender is what a Writer and Amendments have in common.
type appender interface {
	AppendWeighing(rig.Weighing) (int, error)
	AppendCheck(rig.Check) (int, error)
	AppendCorrection(rig.Correction) (int, error)
	AppendRemark(rig.Remark) (int, error)
}

// varied returns base, and base with each of its fields in turn set to something else.
func varied[T any](base T) []T {
	out := []T{base}
	typ := reflect.TypeFor[T]()
	for i := range typ.NumField() {
		if typ.Field(i).Name == "Fact" {
			continue
		}
		var values []any
		switch reflect.ValueOf(base).Field(i).Interface().(type) {
		case rig.Figure:
			values = []any{rig.Fig(-0.1), rig.Fig(0), rig.Fig(1e-9), rig.Absent("no-scale"), rig.Figure{}}
		case string:
			values = []any{"", "a b", `µ,=" \x`, "# aside x"}
		case rig.Role:
			values = []any{rig.Empty, rig.Passed}
		case rig.CheckKind:
			values = []any{rig.CheckWater}
		case rig.Mark:
			values = []any{rig.Yes, rig.No}
		case bool:
			values = []any{true}
		case int:
			values = []any{0, 7}
		case float64:
			values = []any{0.0, 1.0 / 3, 2.5e8}
		case time.Time:
			values = []any{made.AddDate(-100, 0, 0), made.In(time.FixedZone("", 3600)).UTC()}
		default:
			panic(typ.Field(i).Name)
		}
		for _, v := range values {
			x := base
			reflect.ValueOf(&x).Elem().Field(i).Set(reflect.ValueOf(v))
			out = append(out, x)
		}
	}
	return out
}

// everyField returns facts in which every field is set and left out at least once.
func everyField() rig.Facts {
	f := rig.Facts{
		Weighings: varied(rig.Weighing{AtS: 1, Role: rig.Charge, GrossG: rig.Fig(2), NetG: rig.Fig(1)}),
		Checks:    varied(rig.Check{AtS: 1, Kind: rig.CheckSound}),
		Remarks:   varied(rig.Remark{AtS: 1, Text: "x"}),
	}
	for _, c := range varied(rig.Correction{At: made, Target: "void", New: "rig", Who: "k", Why: "y"}) {
		if c.Target != "" && c.New != "" && c.Who != "" && c.Why != "" { // those are refused
			f.Corrections = append(f.Corrections, c)
		}
	}
	return f
}

// appendAll appends facts and sets the numbers that they were given.
func appendAll(t testing.TB, a appender, f rig.Facts, next int) (rig.Facts, int) {
	t.Helper()
	f = joined(rig.Facts{}, f)
	check := func(n int, err error) int {
		t.Helper()
		if err != nil || n != next {
			t.Fatalf("got fact %d, %v, want %d", n, err, next)
		}
		next++
		return n
	}
	for i := range f.Remarks {
		f.Remarks[i].Fact = check(a.AppendRemark(f.Remarks[i]))
	}
	for i := range f.Weighings {
		f.Weighings[i].Fact = check(a.AppendWeighing(f.Weighings[i]))
	}
	for i := range f.Checks {
		f.Checks[i].Fact = check(a.AppendCheck(f.Checks[i]))
	}
	for i := range f.Corrections {
		f.Corrections[i].Fact = check(a.AppendCorrection(f.Corrections[i]))
	}
	return f, next
}

// byHand seals a session without a recording, with the facts.
func byHand(t testing.TB, f rig.Facts) (dir string, want rig.Facts, next int) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "s")
	head := testHead()
	head.Origin = rig.ByHand
	w, err := Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	want, next = appendAll(t, w, f, 1)
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	return dir, want, next
}

func factsOf(t testing.TB, dir string) rig.Facts {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	f, err := s.Facts()
	if err != nil {
		t.Fatal(err)
	}
	b, err := OpenFacts(dir)
	if err != nil || !reflect.DeepEqual(b.Facts, f) || b.Chain != s.Chain() || !reflect.DeepEqual(codes(b.Warnings), codes(s.Warnings())) {
		t.Fatalf("OpenFacts gave %+v, %v; Open %+v, %v", b, err, f, s.Warnings())
	}
	return f
}

// Every field of every fact comes back, from the journal and from the addenda; what is absent stays
// absent, with its reason. The session has no recording.
func TestEveryFieldComesBack(t *testing.T) {
	in := everyField()
	dir, want, next := byHand(t, in)
	if got := factsOf(t, dir); !reflect.DeepEqual(got, want) {
		t.Errorf("journal: got\n%+v, want\n%+v", got, want)
	}
	a, err := Amend(dir, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	more, _ := appendAll(t, a, in, next)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if got, want := factsOf(t, dir), joined(want, more); !reflect.DeepEqual(got, want) {
		t.Errorf("addenda: got\n%+v, want\n%+v", got, want)
	}
	s, out := replay(t, dir)
	if s.Manifest().Origin != rig.ByHand || len(out) > 0 || len(s.Warnings()) > 0 {
		t.Errorf("got origin %q, %d blocks, %v", s.Manifest().Origin, len(out), s.Warnings())
	}
	src, err := s.Source()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := src.Next(); err != io.EOF || len(src.Streams()) != 0 {
		t.Errorf("got %v, %v, want no stream and io.EOF at once", src.Streams(), err)
	}
	if problems, err := Verify(dir); err != nil || len(problems) > 0 {
		t.Errorf("Verify: got %v, %v", problems, err)
	}
}

// The names of tags and fields, which whoever reads the file without this program relies on.
func TestFactsAsLines(t *testing.T) {
	s := newStamper(Manifest{Started: time.Unix(100, 0), Unit: "u"})
	w, _ := s.weighing(rig.Weighing{Fact: 3, AtS: 1, Run: 2, Role: rig.Coarse, Item: "bone", Vessel: "v", GrossG: rig.Fig(5), TareG: rig.Fig(2),
		NetG: rig.Absent("no-tare"), Shown: "oz", Stable: rig.No, SpreadG: rig.Fig(0.1), SlopeGPerMin: rig.Fig(-2), DrainedS: rig.Fig(60),
		Typed: true, Auto: true, Shaken: true, Who: "a", Note: "b"})
	c, _ := s.check(rig.Check{Fact: 4, AtS: 2, Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1001), Who: "a", Note: "b"})
	k, _ := s.correction(rig.Correction{Fact: 5, At: time.Unix(98, 5e8), Run: 1, Target: "weighing.3", Old: "5", New: "4", U: rig.Fig(0.5), Who: "a", Why: "b"})
	m, _ := s.remark(rig.Remark{Fact: 6, AtS: 3, Run: 1, Text: "x", Who: "a"})
	for _, x := range []struct {
		p    line.Point
		want string
	}{
		{w, `weighing,item=bone,role=coarse,run=2,unit=u,vessel=v fact=3i,gross_g=5,tare_g=2,net_g_why="no-tare",shown="oz",stable=false,` +
			`spread_g=0.1,slope_g_per_min=-2,drained_s=60,typed=true,auto=true,shaken=true,who="a",note="b",t_s=1 101000000000`},
		{c, `check,kind=scale,unit=u fact=4i,nominal=1000,found=1001,who="a",note="b",t_s=2 102000000000`},
		{k, `correction,run=1,unit=u fact=5i,target="weighing.3",old="5",new="4",u=0.5,who="a",why="b",made="1970-01-01T00:01:38.5Z",t_s=-1.5 98500000000`},
		{m, `mark,run=1,unit=u fact=6i,text="x",who="a",t_s=3 103000000000`},
	} {
		if got, err := line.Append(nil, x.p); err != nil || string(got) != x.want+"\n" {
			t.Errorf("got  %s, %v\nwant %s", got, err, x.want)
		}
	}
}

func TestAppendFactsRefuses(t *testing.T) {
	good := rig.Weighing{AtS: 1, Role: rig.Charge, NetG: rig.Fig(1)}
	right := rig.Correction{At: made, Target: "void", New: "no", Who: "a", Why: "b"}
	weigh := func(change func(*rig.Weighing)) func(appender) (int, error) {
		return func(a appender) (int, error) { w := good; change(&w); return a.AppendWeighing(w) }
	}
	correct := func(change func(*rig.Correction)) func(appender) (int, error) {
		return func(a appender) (int, error) { c := right; change(&c); return a.AppendCorrection(c) }
	}
	dir, _, _ := byHand(t, rig.Facts{})
	a, err := Amend(dir, "quern test", made)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Abandon()
	w, err := Create(filepath.Join(t.TempDir(), "s"), testHead())
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	for _, c := range []struct {
		name string
		do   func(appender) (int, error)
		want string
	}{
		{"role", weigh(func(w *rig.Weighing) { w.Role = "sink" }), `role "sink"`},
		{"no mass", weigh(func(w *rig.Weighing) { w.NetG = rig.Figure{} }), "without any mass"},
		{"run", weigh(func(w *rig.Weighing) { w.Run = -1 }), "run -1"},
		{"too early", weigh(func(w *rig.Weighing) { w.AtS = -1 }), "session's start"},
		{"too late", weigh(func(w *rig.Weighing) { w.AtS = 1e10 }), "session's start"},
		{"no number", weigh(func(w *rig.Weighing) { w.TareG = rig.Figure{V: inf(), OK: true} }), "finite"},
		{"two lines", weigh(func(w *rig.Weighing) { w.Note = "a\n# batch" }), "control character"},
		{"vessel no tag holds", weigh(func(w *rig.Weighing) { w.Vessel = `v\` }), "backslash"},
		{"endless", weigh(func(w *rig.Weighing) { w.Note = strings.Repeat("a", 70000) }), "found a note of 70000 bytes, expected at most 1000: shorten it"},
		{"a long vessel", weigh(func(w *rig.Weighing) { w.Vessel = strings.Repeat("v", 101) }), "found a vessel of 101 bytes, expected at most 100"},
		{"a long item", weigh(func(w *rig.Weighing) { w.Item = strings.Repeat("i", 101) }), "found an item of 101 bytes"},
		{"a long name", weigh(func(w *rig.Weighing) { w.Who = strings.Repeat("w", 101) }), "found a name of who says so of 101 bytes"},
		{"a long check", func(a appender) (int, error) {
			return a.AppendCheck(rig.Check{Kind: rig.CheckScale, Note: strings.Repeat("n", 1001)})
		}, "found a note of 1001 bytes"},
		{"a long reason", correct(func(c *rig.Correction) { c.Why = strings.Repeat("w", 1001) }), "found a reason of 1001 bytes"},
		{"a long value", correct(func(c *rig.Correction) { c.New = strings.Repeat("w", 1001) }), "found a new value of 1001 bytes"},
		{"a long remark", func(a appender) (int, error) {
			return a.AppendRemark(rig.Remark{Text: strings.Repeat("r", 1001)})
		}, "found a text of 1001 bytes"},
		{"kind", func(a appender) (int, error) { return a.AppendCheck(rig.Check{Kind: "taste"}) }, `kind "taste"`},
		{"target", correct(func(c *rig.Correction) { c.Target = "" }), "target"},
		{"new", correct(func(c *rig.Correction) { c.New = "" }), "new value"},
		{"who", correct(func(c *rig.Correction) { c.Who = "" }), "who made it"},
		{"why", correct(func(c *rig.Correction) { c.Why = "" }), "reason"},
		{"far future", correct(func(c *rig.Correction) { c.At = made.AddDate(300, 0, 0) }), "time at which"},
		{"remark", func(a appender) (int, error) { return a.AppendRemark(rig.Remark{Text: "a\tb"}) }, "control character"},
	} {
		for _, to := range []appender{w, a} {
			if n, err := c.do(to); n != 0 || err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: got %d, %v, want an error with %q", c.name, n, err, c.want)
			}
		}
	}
	if _, err := w.AppendCorrection(rig.Correction{Target: "void", New: "no", Who: "a", Why: "b"}); err == nil {
		t.Error("a correction without its time was taken")
	}
	// What nanoseconds cannot hold: 2200 and 158 years.
	if _, err := newStamper(Manifest{Started: time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)}).remark(rig.Remark{AtS: 5e9}); err == nil {
		t.Error("a time past the year 2262 was taken")
	}
	if n, err := a.AppendWeighing(good); n != 1 || err != nil {
		t.Errorf("after refusals: got fact %d, %v, want 1", n, err)
	}
}

func inf() float64 { x := 0.0; return 1 / x }

// A line that proves itself and holds a fact otherwise than this program writes it is a fault with
// its place, not a figure that was not measured.
func TestFactsRefuseOtherForms(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{`weighing,role=charge net_g=5,t_s=1 0`, "no number"},
		{`weighing,role=charge fact=0i,net_g=5,t_s=1 0`, "no number"},
		{`weighing,role=charge fact=1i,net_g=5i,t_s=1 0`, `"net_g" is of another kind`},
		{`weighing,role=charge fact=1i,typed="yes",t_s=1 0`, `"typed" is of another kind`},
		{`weighing,role=charge fact=1i,net_g=5 0`, "no time"},
		{`weighing,role=charge fact=1i,net_g=5,t_s=-1 0`, "no time"},
		{`weighing,run=x fact=1i,net_g=5,t_s=1 0`, `run "x"`},
		{`correction fact=1i,target="void",new="no",t_s=1 0`, "made"},
		{`check fact=2i,t_s=1 0` + "\n" + `check fact=2i,t_s=1 0`, "fact 2 after fact 2"},
		{`check fact=1i,t_s= 0`, "expected"},
	} {
		text, _ := batched([]byte(c.line+"\n"), "x")
		a, err := readAddenda("s/addenda.lp", strings.NewReader(string(text)), 0, "x")
		var at *rig.FileError
		if err != nil || !errors.As(a.sense, &at) || at.Line != 1+strings.Count(c.line, "\n") || !strings.Contains(at.Error(), c.want) {
			t.Errorf("%s: got %v, %v, want a fault with %q", c.line, a.sense, err, c.want)
		}
	}
	// Marks of old journals have no number.
	text, _ := batched([]byte("mark text=\"old\",t_s=1 0\n"), "x")
	if a, err := readAddenda("", strings.NewReader(string(text)), 0, "x"); err != nil || a.sense != nil || len(a.facts.Remarks) != 1 {
		t.Errorf("an old mark: got %+v, %v", a, err)
	}
}
