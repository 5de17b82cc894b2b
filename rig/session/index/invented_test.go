package index

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

// later is a clock by which everything that a test has written is settled.
func later() time.Time { return time.Now().Add(time.Hour) }

var started = time.Date(2031, 5, 6, 7, 8, 9, 0, time.UTC)

// inventedLab is an invented lab of two units and two procedures; the time limit is that of mixed.
func inventedLab(t testing.TB, limitS int) *config.Lab {
	t.Helper()
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	lab, err := config.Read(fstest.MapFS{
		"bench.toml":            file(`name = "bench-1"`),
		"units.toml":            file("[[unit]]\nid = \"unit-a\"\nrated_current_a = 6\n[[unit]]\nid = \"unit-b\"\nrated_current_a = 4\n"),
		"procedures/mixed.toml": file(fmt.Sprintf("id = \"mixed\"\ntime_limit_s = %d\n", limitS)),
		"procedures/bones.toml": file("id = \"bones\"\ntime_limit_s = 90\n"),
		"scorecard.toml":        file(""),
	})
	if err != nil {
		t.Fatal(err)
	}
	return lab
}

func setupOf(t testing.TB, lab *config.Lab, unit, procedure string) config.Setup {
	t.Helper()
	set, err := lab.Setup(unit, procedure)
	if err != nil {
		t.Fatal(err)
	}
	return set
}

func check(t testing.TB, errs ...error) {
	t.Helper()
	for _, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// kinds of sessions.
const (
	recorded = iota // with some readings
	hand            // no streams
	open            // not sealed
)

// add makes a session with some readings and a weighing; n makes it another one.
func add(t testing.TB, dir string, set config.Setup, kind, n int) {
	t.Helper()
	head := session.Head{Setup: set, Started: started.Add(time.Duration(n) * time.Hour), Tool: fmt.Sprintf("quern test %d", n),
		Origin: rig.ByHand, Live: kind == open}
	if kind != hand {
		head.Origin = rig.Recorded
		head.Streams = []session.Stream{{Stream: rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}},
			{Stream: rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 8000}, Encoding: wave.PCM16}}
	}
	w, err := session.Create(dir, head)
	check(t, err)
	defer w.Close()
	if kind != hand {
		check(t, w.AppendBlock(rig.Block{Channel: rig.Microphone, Samples: []float64{0, 0.5, -0.5}}))
		for i := range 5 {
			check(t, w.AppendReading(rig.Clamp, rig.Reading{AtS: float64(i) / 5, Value: float64(i + n)}))
		}
	}
	_, err = w.AppendWeighing(rig.Weighing{AtS: 2, Run: 1, Role: rig.Charge, Item: "bone", GrossG: rig.Fig(float64(n) + 1.0/3), NetG: rig.Absent("no-tare")})
	check(t, err)
	if kind != open {
		check(t, w.Seal())
	}
}

// copied returns a copy of a folder, which is made faster than sessions are.
func copied(t testing.TB, folder string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), filepath.Base(folder))
	check(t, os.CopyFS(dir, os.DirFS(folder)))
	return dir
}

// correct adds a correction to a session.
func correct(t testing.TB, dir, target, value string, run int) {
	t.Helper()
	a, err := session.Amend(dir, "quern test", started)
	check(t, err)
	_, err = a.AppendCorrection(correction(target, value, run))
	check(t, err, a.Close())
}

func correction(target, value string, run int) rig.Correction {
	return rig.Correction{Run: run, Target: target, New: value, Who: "ann", Why: "invented"}
}

// invented is the result of analysing under settings, as far as this test knows; n makes it another one,
// whose text is of another length.
func invented(set config.Setup, n int) rig.Result {
	run := rig.Run{StartS: rig.Fig(1.0 / 3), EndS: rig.Absent("no-clamp"), ElapsedS: rig.Fig(float64(n) / 7), RunTimeS: rig.Fig(set.Procedure.TimeLimitS),
		Events: []rig.Event{{Kind: rig.MotorStart, AtS: rig.Fig(0.1), Sure: rig.Fig(1), Evidence: "invented <current> rose"}},
		States: []rig.Span{{State: rig.NoLoad}}}
	run.Sound.ThirdOctaves = []rig.Band{{NominalHz: rig.Fig(1000)}}
	run.Motor = rig.Motor{MeanA: rig.Fig(set.Unit.RatedCurrentA), HarmonicsA: []rig.Figure{rig.Fig(1)}}
	return rig.Result{Session: "s", Unit: set.Unit.ID, Procedure: set.Procedure.ID, Runs: []rig.Run{run},
		Warnings: []rig.Warning{{Code: "invented", Text: strings.Repeat("µ", n)}}}
}

// keepAnalysis keeps an invented analysis.
func keepAnalysis(t testing.TB, dir string, set config.Setup, n int) {
	t.Helper()
	s, err := session.Open(dir)
	check(t, err)
	check(t, session.StoreAnalysis(dir, s.Analysed(set, "quern test", started, invented(set, n))))
}

// analyst is an Analyse that counts what it is asked, and keeps the result if it is told to.
type analyst struct {
	asked []string
	keep  bool
	fail  error
}

func (a *analyst) analyse(dir string, set config.Setup) (rig.Result, string, error) {
	a.asked = append(a.asked, filepath.Base(dir)+" "+set.Unit.ID+" "+set.Procedure.ID)
	if a.fail != nil {
		return rig.Result{}, "", a.fail
	}
	res := invented(set, 0)
	if !a.keep {
		return res, session.SettingsSum(set), nil
	}
	s, err := session.Open(dir)
	if err != nil {
		return res, "", err
	}
	of := s.Analysed(set, "quern test", started, res)
	return res, of.SettingsSHA256, session.StoreAnalysis(dir, of)
}

// answer writes all that Read said.
func answer(t testing.TB, folder string, o Options) string {
	t.Helper()
	found, err := Read(folder, o)
	var b strings.Builder
	for _, r := range found.Records {
		text, err := session.EncodeRecord(r)
		check(t, err)
		fmt.Fprintf(&b, "%s\n", text)
	}
	for _, s := range found.Skipped {
		fmt.Fprintf(&b, "%s: %s\n", s.Session, s.Why)
	}
	if err != nil {
		fmt.Fprintf(&b, "error: %v\n", err)
	}
	return b.String()
}

// same fails unless Read says the same with the index, twice, as without, and the second time writes
// nothing. It returns what that is.
func same(t testing.TB, folder string, o Options) string {
	t.Helper()
	o.now = cmpNow(o.now)
	o.Without = true
	want := answer(t, folder, o)
	o.Without = false
	if got := answer(t, folder, o); got != want {
		t.Fatalf("with the index: %s", apart(got, want))
	}
	before := stateOf(t, folder)
	if got := answer(t, folder, o); got != want {
		t.Fatalf("from the index: %s", apart(got, want))
	}
	after := stateOf(t, folder)
	if after == before {
		return want
	}
	// What damage the writing finds shows only then; the next reading makes it good.
	if got := answer(t, folder, o); got != want || stateOf(t, folder) != after {
		t.Fatalf("the index was written again, was %s, then %s: %s", before, after, apart(got, want))
	}
	return want
}

func cmpNow(now func() time.Time) func() time.Time {
	if now == nil {
		return later
	}
	return now
}

// stateOf tells whether the index is still the same file with the same contents.
func stateOf(t testing.TB, folder string) string {
	t.Helper()
	state, _, _ := appendState(nil, folder, Name)
	text, err := os.ReadFile(filepath.Join(folder, Name))
	if err != nil {
		return "none"
	}
	return fmt.Sprintf("%s%08x", state, sum(string(text)))
}

// kept lists the names of what the index keeps, "NAME present KEY" each.
func kept(t testing.TB, folder string) (out []string) {
	t.Helper()
	for _, present := range []bool{false, true} {
		s := openStore(filepath.Join(folder, Name), present)
		if s == nil {
			t.Fatal("the index cannot be read")
		}
		for _, b := range s.bodies {
			out = append(out, strings.TrimSpace(fmt.Sprint(b.name, " ", present, " ", b.key)))
		}
		s.closeDB()
	}
	slices.Sort(out)
	return out
}

// apart tells where two texts part.
func apart(got, want string) string {
	at := 0
	for at < min(len(got), len(want)) && got[at] == want[at] {
		at++
	}
	from := max(0, at-40)
	return fmt.Sprintf("byte %d: got ...%.200q, want ...%.200q", at, got[from:], want[from:])
}
