package config

import (
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"
)

func explained(t testing.TB, l *Lab) string {
	t.Helper()
	var b strings.Builder
	if err := Explain(&b, l); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A new key or default changes this text: go test ./config -update writes it anew.
func TestExplainGolden(t *testing.T) {
	const name = "testdata/explain.txt"
	got := explained(t, mustRead(t, os.DirFS("../testdata/lab")))
	if *update {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the example lab is explained otherwise than in %s (go test ./config -update writes it anew); got:\n%s", name, got)
	}
}

// Every key is explained, with its reason.
func TestExplainIsComplete(t *testing.T) {
	text := explained(t, mustRead(t, contractLab()))
	lines := strings.Split(text, "\n")
	for _, root := range []reflect.Type{typeOf[Bench](), typeOf[Unit](), typeOf[Procedure](), typeOf[Scorecard]()} {
		walk(root, "", func(f reflect.StructField, path string) {
			for _, l := range lines {
				if fields := strings.Fields(strings.TrimPrefix(l, "*")); len(fields) > 0 && fields[0] == path && strings.HasSuffix(l, f.Tag.Get("why")) {
					return
				}
			}
			t.Errorf("%s and why it is there are not explained", path)
		})
	}
	if strings.Contains(text, "%!") || strings.Contains(text, "~") {
		t.Errorf("a format went wrong:\n%s", text)
	}
}

func TestExplainSaysWhere(t *testing.T) {
	lab := contractLab()
	lab["bench.toml"] = file("[detect.motor]\n\nstall_hold_s = 0.4\n[clamp]\nfull_scale_a = 45\n")
	lab["units.toml"] = file("[[unit]]\nid = \"unit-x\"\nrated_current_a = 6\nlocked_rotor_a = 10\n[[unit]]\nid = \"unit-y\"\nrated_current_a = 6\nlocked_rotor_a = 33\n")
	lab["procedures/mixed.toml"] = file(`id = "mixed"`)
	text := strings.Join(strings.Fields(explained(t, mustRead(t, lab))), " ")
	for _, want := range []string{
		"* detect.motor.stall_hold_s 0.4 s bench.toml:3 a shorter",
		"* clamp.full_scale_a 45.0 A bench.toml:5 ",
		" supply.voltage_v 120.0 V default ",
		" charge_g absent not given ",
		"so a sine of 31.8 A RMS just fits",
		"unit-y: induction motor, 6 A rated, locked rotor 33 A (5.5 x rated). Overload counts from 7.5 A for 2 s; stall from 23.1 A for 0.4 s.",
		"Note on unit-y: its locked-rotor peak of 47 A is more than the clamp's 45 A",
		"Note on unit-x: stall begins at 7 A, below overload at 7.5 A",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in:\n%s", want, text)
		}
	}
	for _, not := range []string{"Note on unit-x: its locked-rotor peak", "Note on unit-y: stall begins"} {
		if strings.Contains(text, not) {
			t.Errorf("%q is not so", not)
		}
	}
}

// full fails after some bytes, as a full disk does.
type full struct{ left int }

func (f *full) Write(b []byte) (int, error) {
	if f.left -= len(b); f.left < 0 {
		return 0, errFull
	}
	return len(b), nil
}

var errFull = errors.New("no space left")

func TestExplainTellsOfWriter(t *testing.T) {
	l := mustRead(t, contractLab())
	size := len(explained(t, l))
	for at := 0; at < size; at += 97 {
		if err := Explain(&full{left: at}, l); !errors.Is(err, errFull) {
			t.Fatalf("full after %d of %d bytes: got %v", at, size, err)
		}
	}
	if err := Explain(&full{left: size}, l); err != nil {
		t.Errorf("room for all %d bytes: %v", size, err)
	}
}

// A procedure says what is to be done, and nothing of what it does not ask for.
func TestWeighingWords(t *testing.T) {
	p := DefaultProcedure("peels")
	p.After = After{Chamber: true, DrainS: 60, DrainToleranceS: 20, OutputLow: 0.5, OutputHigh: 1.3}
	text := strings.ReplaceAll(strings.Join(p.Steps(), "\n"), "~", " ")
	if !strings.Contains(text, "then weigh what stayed in the chamber.\n") || strings.Contains(text, "Sieves") || strings.Contains(text, "less than 50 %") {
		t.Errorf("of what stayed in the chamber alone: %s", text)
	}
	p.After.Passed = true
	if text := strings.ReplaceAll(strings.Join(p.Steps(), "\n"), "~", " "); !strings.Contains(text, "in this order: what stayed in the chamber; what went through") || !strings.Contains(text, "or less than 50 %") {
		t.Errorf("where all that comes out is weighed: %s", text)
	}
}

func TestGatesOfATest(t *testing.T) {
	gate := func(repeats string) []Gate { return []Gate{{Measure: "trips", Repeats: repeats}} }
	for _, c := range []struct {
		gates    []Gate
		gated    bool
		pointsOf string
		want     string
	}{
		{nil, true, "run", "runs of p, which sets no gate"},
		{gate("any"), false, "run", "runs of p, whether or not they pass its gates"},
		{gate("any"), true, "run", "runs of p; failing a gate there gives 2 points"},
		{gate("majority"), true, "run", "runs of p; failing a gate there gives 2 points, and so does each run that fails one where most pass"},
		{gate("majority"), true, "mean", "runs of p; failing a gate there gives 2 points"},
	} {
		l := Lab{Procedures: []Procedure{{ID: "p", Gates: c.gates}}, Scorecard: Scorecard{PointsOf: c.pointsOf}}
		if got := l.runsOf(&Test{Procedure: "p", Gated: c.gated, FailedPoints: 2}); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}
