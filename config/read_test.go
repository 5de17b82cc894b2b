package config

import (
	"io/fs"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"quern/rig"
)

func typeOf[T any]() reflect.Type { return reflect.TypeFor[T]() }

func mustRead(t testing.TB, lab fs.FS) *Lab {
	t.Helper()
	l, err := Read(lab)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// sameLab compares what two labs set, wherever they set it.
func sameLab(a, b *Lab) bool {
	return reflect.DeepEqual(a.Bench, b.Bench) && slices.Equal(a.Units, b.Units) && reflect.DeepEqual(a.Procedures, b.Procedures) && reflect.DeepEqual(a.Scorecard, b.Scorecard)
}

// The keys of the contract are all that a lab needs, and mean what it says.
func TestContractLab(t *testing.T) {
	l := mustRead(t, contractLab())
	unit, procedure := DefaultUnit("unit-a"), DefaultProcedure("mixed")
	unit.RatedCurrentA, unit.LockedRotorA, unit.Motor = 6, 33, "induction"
	procedure.TimeLimitS, procedure.Clock, procedure.ChargeG, procedure.LongestPauseS = 240, "motor-on", 2500, 900
	want := &Lab{Bench: DefaultBench(), Units: []Unit{unit}, Procedures: []Procedure{procedure}, Scorecard: defaults[Scorecard]()}
	want.Bench.Supply = Supply{VoltageV: 120, FrequencyHz: 60}
	want.Bench.Microphone.FullScaleDB = 120
	want.Bench.Clamp.FullScaleA = 100
	if !sameLab(l, want) {
		t.Errorf("got %+v, want %+v", l, want)
	}
}

// The contract's defaults.
func TestContractDefaults(t *testing.T) {
	m := DefaultDetect().Motor
	if m.OverloadRatio != 1.25 || m.OverloadHoldS != 2 || m.TripAfterS != 3 {
		t.Errorf("overload ratio, hold, trip: got %g, %g s, %g s; want 1.25, 2 s, 3 s", m.OverloadRatio, m.OverloadHoldS, m.TripAfterS)
	}
	lab := contractLab()
	lab["procedures/mixed.toml"] = file(`id = "mixed"`)
	if got := mustRead(t, lab).Procedures[0].LongestPauseS; got != 900 {
		t.Errorf("longest_pause_s: got %g, want 900", got)
	}
	if DefaultBench().Detect != DefaultDetect() {
		t.Error("the bench's default thresholds are not the default thresholds")
	}
}

// Every key of every file, given with another value than its default, arrives.
func TestEveryKeyArrives(t *testing.T) {
	for seed := range uint64(20) {
		want := randomSetup(seed)
		want.Unit.Name = "" // a session does not hold it
		want.Bench.Control.Unit, want.Bench.Control.Procedure = want.Unit.ID, want.Procedure.ID
		for i := range want.Procedure.Gates {
			if g := &want.Procedure.Gates[i]; strings.HasPrefix(g.Measure, rig.ExtraMeasure) {
				g.Measure = "trips"
			} else if m, ok := rig.FindMeasure(g.Measure); ok && m.Fits(g.Limit) != nil {
				g.Limit = 0.07 // a lab is refused whose share is none, or whose limit nothing could reach
			}
		}
		text := string(want.TOML())
		lab := fstest.MapFS{"scorecard.toml": file(`title = "t"`)}
		// The sections of a setup are the files of a lab, with the names of its tables shortened.
		_, bench, _ := strings.Cut(text, "[bench]\n")
		bench, unit, _ := strings.Cut(bench, "[unit]\n")
		unit, procedure, _ := strings.Cut(unit, "[procedure]\n")
		lab["bench.toml"] = file(strings.ReplaceAll(strings.ReplaceAll(bench, "[[bench.", "[["), "[bench.", "["))
		lab["units.toml"] = file("[[unit]]\n" + unit)
		lab["procedures/p.toml"] = file(strings.ReplaceAll(strings.ReplaceAll(procedure, "[[procedure.", "[["), "[procedure.", "["))
		l := mustRead(t, lab)
		got, err := l.Setup(want.Unit.ID, want.Procedure.ID)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d: got %+v, %v\nwant %+v", seed, got, err, want)
		}
		for addr, o := range l.origins {
			if v := reflect.ValueOf(addr).Elem(); !o.given && !v.IsZero() && o.file != "scorecard.toml" {
				t.Errorf("%s %s is not known to be set by the lab", o.file, o.key)
			}
		}
	}
}

func TestExampleLab(t *testing.T) {
	l := mustRead(t, os.DirFS("../testdata/lab"))
	if len(l.Units) != 4 || len(l.Procedures) != 3 {
		t.Errorf("%d units and %d procedures, want 4 and 3", len(l.Units), len(l.Procedures))
	}
	motors := map[string]bool{}
	for _, u := range l.Units {
		motors[u.Motor] = true
		if !strings.HasPrefix(u.Name, "invented") {
			t.Errorf("unit %s: name %q does not say that it is invented", u.ID, u.Name)
		}
	}
	if len(motors) != 3 {
		t.Errorf("kinds of motor: got %v, want all three", motors)
	}
}

func TestSetupNamesWhatThereIs(t *testing.T) {
	l := mustRead(t, os.DirFS("../testdata/lab"))
	for _, c := range []struct{ unit, procedure, want string }{
		{"unit-a", "mixed", ""},
		{"unit-d", "poultry-bones", ""},
		{"unit-q", "mixed", "units.toml: found no unit \"unit-q\", expected one of unit-a, unit-b, unit-c, unit-d"},
		{"unit_a", "mixed", `units.toml: found no unit "unit_a", expected one of unit-a, unit-b, unit-c, unit-d: did you mean unit-a?`},
		{"", "mixed", `units.toml: found no unit "", expected one of unit-a, unit-b, unit-c, unit-d`},
		{"unit-a", "Mixed", `procedures: found no procedure "Mixed", expected one of fish-frames, mixed, poultry-bones: did you mean mixed?`},
		{"unit-a", "water", `procedures: found no procedure "water", expected one of fish-frames, mixed, poultry-bones`},
	} {
		s, err := l.Setup(c.unit, c.procedure)
		switch {
		case c.want == "" && (err != nil || s.Unit.ID != c.unit || s.Procedure.ID != c.procedure || !reflect.DeepEqual(s.Bench, l.Bench)):
			t.Errorf("%s, %s: got %+v, %v", c.unit, c.procedure, s, err)
		case c.want != "" && (err == nil || err.Error() != c.want):
			t.Errorf("%s, %s: got %v, want %s", c.unit, c.procedure, err, c.want)
		case c.want != "" && !reflect.DeepEqual(s, Setup{}):
			t.Errorf("%s, %s: an error and a setup", c.unit, c.procedure)
		}
	}
}

// A folder where a file should be is told, not taken for an empty file.
func TestFolderForFile(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(dir+"/bench.toml", 0o755); err != nil {
		t.Fatal(err)
	}
	_, err := Read(os.DirFS(dir))
	if err == nil || !strings.HasPrefix(err.Error(), "bench.toml: found a folder, expected the bench") {
		t.Errorf("got %v", err)
	}
}

func TestUnitsAsList(t *testing.T) {
	lab := contractLab()
	lab["units.toml"] = file(`unit = [
  { id = "unit-a", rated_current_a = 6.0, locked_rotor_a = 33.0 }, # as a list
]`)
	if got, want := mustRead(t, lab), mustRead(t, contractLab()); !sameLab(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// A hostile file as long as a file may be.
func BenchmarkReadLongest(b *testing.B) {
	lab := contractLab()
	var text strings.Builder
	for i := 0; text.Len() < longest-100; i++ {
		text.WriteString("[[unit]]\nid=\"a\"\nrated_current_a=1\nx=1\n")
	}
	lab["units.toml"] = file(text.String())
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := Read(lab); err == nil {
			b.Fatal("reads")
		}
	}
}

func BenchmarkReadExample(b *testing.B) {
	lab := os.DirFS("../testdata/lab")
	for b.Loop() {
		if _, err := Read(lab); err != nil {
			b.Fatal(err)
		}
	}
}
