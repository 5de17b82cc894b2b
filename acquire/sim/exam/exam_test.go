package exam

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"sync/atomic"
	"testing"

	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
)

// tell makes a result of one run from "kind@seconds" words.
func tell(events string) rig.Result {
	var run rig.Run
	for _, w := range strings.Fields(events) {
		kind, at, _ := strings.Cut(w, "@")
		var s float64
		if _, err := fmt.Sscan(at, &s); err != nil {
			panic(err)
		}
		run.Events = append(run.Events, rig.Event{Kind: rig.Kind(kind), AtS: rig.Fig(s)})
	}
	return rig.Result{Runs: []rig.Run{run}}
}

func TestMark(t *testing.T) {
	const truth = "motor_start@4 load_start@8 stall_start@20 stall_end@25 trip@25 motor_start@40 load_end@45 motor_stop@50"
	for _, c := range []struct {
		name, truth, got string
		doubts           []sim.Doubt
		misses           string
	}{
		{"all found", truth, truth, nil, ""},
		{"all found, a little off", truth, "motor_start@4.1 load_start@9 stall_start@20.4 stall_end@24.8 trip@25.2 motor_start@39.8 load_end@49 motor_stop@50.2", nil, ""},
		{"nothing found", "motor_start@4 motor_stop@5", "", nil, "missed motor_start at 4.00 s; missed motor_stop at 5.00 s"},
		{"all made up", "", "motor_start@4", nil, "made up motor_start at 4.00 s"},
		{"too far is both", "motor_start@4 motor_stop@9", "motor_start@4.5 motor_stop@9", nil, "missed motor_start at 4.00 s; made up motor_start at 4.50 s"},
		{"another kind is both", "motor_start@4 trip@9", "motor_start@4 motor_stop@9", nil, "missed trip at 9.00 s; made up motor_stop at 9.00 s"},
		{"one found is not two", "motor_start@4 motor_start@4.2", "motor_start@4.1", nil, "missed motor_start at 4.20 s"},
		{"found twice", "motor_start@4", "motor_start@4.05 motor_start@4.2", nil, "made up motor_start at 4.20 s"},
		{"the nearest pair first", "load_start@4 load_start@6", "load_start@5.9 load_start@7.5", nil, "missed load_start at 4.00 s; made up load_start at 7.50 s"},
		{"doubt of the kind", "motor_start@4 load_start@8", "motor_start@4", []sim.Doubt{{FromS: 7, ToS: 9, Kind: rig.LoadStart}}, ""},
		{"doubt of any kind", "motor_start@4", "motor_start@4 load_start@8", []sim.Doubt{{FromS: 7, ToS: 9}}, ""},
		{"doubt of another kind", "motor_start@4 load_start@8", "motor_start@4", []sim.Doubt{{FromS: 7, ToS: 9, Kind: rig.LoadEnd}}, "missed load_start at 8.00 s"},
		{"doubt at another time", "motor_start@4 load_start@8", "motor_start@4", []sim.Doubt{{FromS: 8.1, ToS: 9}}, "missed load_start at 8.00 s"},
	} {
		card := Mark(tell(c.truth), tell(c.got), c.doubts)
		var misses []string
		for _, m := range card.Misses {
			misses = append(misses, m.String())
		}
		if got := strings.Join(misses, "; "); got != c.misses {
			t.Errorf("%s: got %q, want %q", c.name, got, c.misses)
		}
	}
}

func TestMarkRuns(t *testing.T) {
	one, two := tell("motor_start@4"), tell("motor_start@4")
	two.Runs = append(two.Runs, rig.Run{})
	for _, c := range []struct {
		truth, got rig.Result
		want       string
	}{{one, two, "made up 1 runs, found 2 at 0.00 s"}, {two, one, "missed 2 runs, found 1 at 0.00 s"}} {
		card := Mark(c.truth, c.got, nil)
		if len(card.Misses) != 1 || card.Misses[0].String() != c.want {
			t.Errorf("got %v, want %q", card.Misses, c.want)
		}
		if len(card.Errors) != 0 {
			t.Errorf("figures of runs that do not belong together were compared: %v", card.Errors)
		}
	}
}

func TestMarkFigures(t *testing.T) {
	truth, got := tell("motor_start@4"), tell("motor_start@4.01")
	truth.Runs[0].Sound.LAeqDB, got.Runs[0].Sound.LAeqDB = rig.Fig(80), rig.Fig(80.5)
	truth.Runs[0].Sound.LCeqDB = rig.Fig(80) // and not told
	got.Runs[0].Sound.LCpeakDB = rig.Fig(80) // and not known
	truth.Runs[0].Motor.IdleA, got.Runs[0].Motor.IdleA = rig.Fig(4), rig.Fig(3.9)
	card := Mark(truth, got, nil)
	want := map[string]float64{"laeq_db": 0.5, "idle_a, %": -2.5}
	if len(card.Errors) != len(want) {
		t.Errorf("got %v, want only %v", card.Errors, want)
	}
	for k, w := range want {
		if v := card.Errors[k]; len(v) != 1 || !(math.Abs(v[0]-w) <= 1e-9) {
			t.Errorf("%s: got %v, want %v", k, v, w)
		}
	}
	if len(card.Absent) != 1 || card.Absent[0] != "lceq_db" {
		t.Errorf("absent: got %v, want lceq_db", card.Absent)
	}
	if d := card.Hits[rig.MotorStart]; len(d) != 1 || !(math.Abs(d[0]-0.01) <= 1e-9) {
		t.Errorf("found minus true: got %v, want 0.01", d)
	}
}

func TestBook(t *testing.T) {
	b := NewBook()
	if r, p := b.Recall(rig.Trip), b.Precision(rig.Trip); r != rig.Absent("none-occurred") || p != rig.Absent("none-found") {
		t.Errorf("of an empty book: recall %+v, precision %+v; want both absent with a reason", r, p)
	}
	truth := tell("motor_start@4 motor_start@20")
	b.Add(Mark(truth, tell("motor_start@4.1 motor_start@19.8"), nil))
	b.Add(Mark(truth, tell("motor_start@4.01"), nil))
	b.Add(Mark(truth, tell("motor_start@4 motor_start@9 motor_start@20"), nil))
	if b.Sessions != 3 || b.Failed != 2 {
		t.Errorf("%d sessions, %d failed; want 3 and 2", b.Sessions, b.Failed)
	}
	if r, p := b.Recall(rig.MotorStart), b.Precision(rig.MotorStart); !(math.Abs(r.V-5.0/6) <= 1e-9) || !(math.Abs(p.V-5.0/6) <= 1e-9) {
		t.Errorf("recall %v, precision %v; want 5 of 6 each", r, p)
	}
	if median, worst := b.Timing(rig.MotorStart); !(math.Abs(median-0.01) <= 1e-9) || !(math.Abs(worst-0.2) <= 1e-9) {
		t.Errorf("timing: median %v, worst %v; want 0.01 and 0.2", median, worst)
	}
	var out strings.Builder
	if err := b.Print(&out); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"3 sessions, 2 with an event missed or made up", "motor_start                 6       1       1    0.8333    0.8333",
		"trip                        0       0       0         -         -            -            -", "-: nothing to take a share or a time of"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	if err := b.Print(full{}); !errors.Is(err, errFull) {
		t.Errorf("onto a full disk: got %v", err)
	}
}

var errFull = errors.New("full")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

// short is a session of some seconds without sound.
func short(i int) sim.Scenario {
	sc, _ := sim.Named("no-microphone", uint64(i+1))
	return sc
}

// An analysis that knows the truth makes no mistake, and one that is told nothing misses everything:
// the examination itself is right.
func TestSit(t *testing.T) {
	knows := func(src rig.Source, set config.Setup, name string) (rig.Result, error) {
		return src.(*sim.Bench).Truth().Result(name, set.Unit.ID, set.Procedure.ID), nil
	}
	p, err := Sit(short(0), knows)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Card.Misses)+len(p.Card.Absent) > 0 || len(p.Card.Hits) < 4 {
		t.Errorf("the truth is marked %+v", p.Card)
	}
	silent := func(rig.Source, config.Setup, string) (rig.Result, error) { return rig.Result{}, nil }
	if p, err = Sit(short(0), silent); err != nil || len(p.Card.Misses) < 4 {
		t.Errorf("silence is marked %+v, %v", p.Card, err)
	}
}

// Papers come in order whatever the number of workers, and the first error ends it.
func TestSitAll(t *testing.T) {
	for _, workers := range []int{0, 1, 3, 20} {
		next := 0
		analyse := func(_ rig.Source, _ config.Setup, name string) (rig.Result, error) {
			return rig.Result{Session: name}, nil
		}
		err := SitAll(6, workers, short, analyse, func(p Paper) error {
			if p.Scenario.Seed != short(next).Seed {
				t.Errorf("%d workers: paper %d is of seed %d", workers, next, p.Scenario.Seed)
			}
			next++
			return nil
		})
		if err != nil || next != 6 {
			t.Errorf("%d workers: %d papers, %v", workers, next, err)
		}
	}
	broken := errors.New("broken")
	var sat atomic.Int32
	fails := func(rig.Source, config.Setup, string) (rig.Result, error) {
		if sat.Add(1) == 2 {
			return rig.Result{}, broken
		}
		return rig.Result{}, nil
	}
	if err := SitAll(50, 2, short, fails, func(Paper) error { return nil }); !errors.Is(err, broken) {
		t.Errorf("got %v, want the analysis' error", err)
	}
	if n := sat.Load(); n > 40 {
		t.Errorf("%d of 50 sat after the second had failed", n)
	}
	enough := errors.New("enough")
	if err := SitAll(50, 2, short, func(rig.Source, config.Setup, string) (rig.Result, error) { return rig.Result{}, nil },
		func(Paper) error { return enough }); !errors.Is(err, enough) {
		t.Errorf("got %v, want the reader's error", err)
	}
	if _, err := Sit(sim.Scenario{}, fails); err == nil {
		t.Error("an empty scenario sat")
	}
}
