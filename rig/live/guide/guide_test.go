package guide

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// mixed is an invented procedure with a bit of everything.
func mixed() config.Procedure {
	p := config.DefaultProcedure("mixed")
	p.TimeLimitS, p.Resets, p.ResetWaitS = 240, 2, 90
	p.Items = []config.Item{
		{Name: "carrot", MassG: 500, ToleranceG: 10, Cut: "slices of 20 mm"},
		{Name: "chicken-wing", MassG: 300, ToleranceG: 5, Preparation: "raw", Pieces: 4, HeldBack: 1},
	}
	p.Water.FlowLPerMin, p.Water.FlushS = 6, 10
	p.After.CoarseSieveMM, p.After.FineSieveMM = 4.75, 2.36
	p.After.DrainS, p.After.DrainToleranceS = 120, 20
	p.Checks.BackgroundS, p.Checks.Scale = 10, true
	return p
}

// scene is what a tester sees after each change.
type scene struct {
	name   string
	then   func(*Input)
	now    string // id of the step
	say    string // part of it
	offer  Act
	danger string // ids, joined by spaces
}

func weigh(role rig.Role, item string, g float64) func(*Input) {
	return func(in *Input) {
		in.Session = true
		in.Weighings = append(in.Weighings, Weighed{Role: role, Item: item, NetG: rig.Fig(g), AgeS: rig.Fig(0)})
	}
}

func said(id string, s Status) func(*Input) { return func(in *Input) { in.Said[id] = s } }

func motor(s rig.State, onS float64) func(*Input) {
	return func(in *Input) {
		in.Session, in.State = true, s
		in.Run = max(in.Run, 1)
		in.OnS, in.ClockS = rig.Fig(onS), rig.Fig(onS)
		if in.on() {
			in.StillS = rig.Figure{}
		}
		if s == rig.Loaded {
			in.Fed = true
		}
	}
}

func both(fs ...func(*Input)) func(*Input) {
	return func(in *Input) {
		for _, f := range fs {
			f(in)
		}
	}
}

func still(s float64) func(*Input) {
	return func(in *Input) { in.StillS, in.DrainedS = rig.Fig(s), rig.Fig(s) }
}

func cleared(s float64) func(*Input) { return func(in *Input) { in.ClearS = rig.Fig(s) } }

var upToStart = []scene{
	{"morning", nil, "check-scale", "Check the scale", Check, ""},
	{"checked", func(in *Input) { in.Checks = []rig.CheckKind{rig.CheckScale} }, "charge-carrot", "500\u00a0g of carrot", Weigh, ""},
	{"carrot", weigh(rig.Charge, "carrot", 503), "charge-chicken-wing", "300\u00a0g of chicken wing", Weigh, ""},
	{"wings", weigh(rig.Charge, "chicken-wing", 301), "quiet", "quiet", SaySkips, ""},
	{"some quiet", func(in *Input) { in.QuietS = rig.Fig(9) }, "quiet", "quiet", SaySkips, ""},
	{"quiet", func(in *Input) { in.QuietS = rig.Fig(10) }, "water", "6 L/min", SayDone, ""},
	{"water", said("water", Done), "start", "Switch on", None, ""},
	{"inrush", motor(rig.Starting, 0.2), "start", "run empty", None, ""},
	{"empty", both(motor(rig.NoLoad, 6), func(in *Input) { in.LevelDB = rig.Fig(71) }), "feed", "carrot, chicken wing", SayDone, ""},
}

var afterwards = []scene{
	{"stopped", both(motor(rig.Off, 100), still(1)), "stop", "Pull the plug", SayDone, "plug"},
	{"unplugged", said("stop", Done), "drain", "drain", SaySkips, ""},
	{"drained", still(118), "chamber", "chamber", Weigh, ""},
	{"chamber", weigh(rig.Chamber, "", 40), "coarse", "coarse sieve", Weigh, ""},
	{"coarse", weigh(rig.Coarse, "", 60), "fine", "fine sieve", Weigh, ""},
	{"fine", weigh(rig.Fine, "", 200), "done", "Done", End, ""},
	{"closed", func(in *Input) {
		*in = Input{Scale: true, Sound: true, State: rig.Off, Said: map[string]Status{}, Checks: in.Checks}
	}, "charge-carrot", "500\u00a0g", Weigh, ""},
}

func script(parts ...[]scene) []scene {
	var out []scene
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

func TestScripts(t *testing.T) {
	loud := func(in *Input) { in.LevelDB = rig.Fig(88) }
	scripts := map[string][]scene{
		"a good run": script(upToStart, []scene{
			{"loaded", both(motor(rig.Loaded, 20), loud), "feed", "Feed", SayDone, "loud"},
			{"all in", said("feed", Done), "held-back", "1 of chicken wing", SayDone, "loud"},
			{"held back in", said("held-back", Done), "run", "until it is clear", SayDone, "loud"},
			{"clear", both(motor(rig.NoLoad, 90), cleared(2), func(in *Input) { in.LevelDB = rig.Fig(70) }), "flush", "water run", None, ""},
			{"flushed", cleared(10), "stop", "Switch off", None, ""},
		}, afterwards),
		"nobody touches the screen in the run": script(upToStart, []scene{
			{"loaded", motor(rig.Loaded, 20), "feed", "Feed", SayDone, ""},
			{"clear", both(motor(rig.NoLoad, 90), cleared(3)), "flush", "water run", None, ""},
			{"off early", both(motor(rig.Off, 93), still(2)), "stop", "Pull the plug", SayDone, "plug"},
			{"later", still(30), "drain", "drain", SaySkips, "plug"},
			{"drained", still(121), "chamber", "chamber", Weigh, "plug"},
		}),
		"time is up": script(upToStart, []scene{
			{"loaded", motor(rig.Loaded, 239), "feed", "Feed", SayDone, ""},
			{"limit", motor(rig.Loaded, 240), "stop", "Time is up", None, ""},
			{"off", both(motor(rig.Off, 241), still(1)), "stop", "Pull the plug", SayDone, "plug"},
		}),
		"a jam, a trip, and on": script(upToStart, []scene{
			{"fed", both(motor(rig.Loaded, 20), said("feed", Done), said("held-back", Done)), "run", "until", SayDone, ""},
			{"stall", motor(rig.Stalled, 25), "run", "Stalled: pull the plug", Mark, "jam"},
			{"trip", both(motor(rig.Tripped, 30), still(0), func(in *Input) { in.Trips = 1 }), "run", "Tripped (presumed)", Mark, "restart"},
			{"cooled", both(motor(rig.Off, 30), still(95)), "run", "Switch on again", SayDone, "restart"},
			{"again", motor(rig.NoLoad, 31), "run", "until", SayDone, ""},
			{"second", both(motor(rig.Tripped, 40), still(0), func(in *Input) { in.Trips = 2 }), "run", "Tripped", Mark, "restart"},
			{"third is one too many", both(motor(rig.Tripped, 41), func(in *Input) { in.Trips = 3 }), "stop", "Pull the plug", SayDone, "restart"},
		}),
		"paused to inspect, then given up": script(upToStart, []scene{
			{"loaded", motor(rig.Loaded, 20), "feed", "Feed", SayDone, ""},
			{"pause", both(motor(rig.Off, 21), still(3)), "feed", "Switch on again, or end", SayDone, "plug"},
			{"given up", said("run", Done), "stop", "Pull the plug", SayDone, "plug"},
			{"weighed at once", weigh(rig.Chamber, "", 900), "coarse", "coarse", Weigh, "plug"},
		}),
		"just switched on": {
			{"at once", motor(rig.Loaded, 8), "feed", "Feed", SayDone, ""},
		},
		"steps left out": {
			{"no check", said("check-scale", Skipped), "charge-carrot", "carrot", Weigh, ""},
			{"no carrot", said("charge-carrot", Skipped), "charge-chicken-wing", "wing", Weigh, ""},
			{"the whole charge at once", weigh(rig.Charge, "", 800), "quiet", "quiet", SaySkips, ""},
		},
		"another order": {
			{"wings first", func(in *Input) {
				in.Checks = []rig.CheckKind{rig.CheckScale}
				in.Expects, in.Role, in.Item = true, rig.Charge, "chicken-wing"
			}, "charge-chicken-wing", "wing", Weigh, ""},
			{"then what is left", weigh(rig.Charge, "chicken-wing", 300), "charge-carrot", "carrot", Weigh, ""},
		},
	}
	for name, scenes := range scripts {
		t.Run(name, func(t *testing.T) {
			in := Input{Scale: true, Sound: true, State: rig.Off, Said: map[string]Status{}}
			for _, sc := range scenes {
				if sc.then != nil {
					sc.then(&in)
				}
				g := Steps(mixed(), in)
				whole(t, g)
				var dangers []string
				for _, d := range g.Dangers {
					dangers = append(dangers, d.ID)
				}
				if got := nowOf(g); got != sc.now || !strings.Contains(g.Say, sc.say) || g.Offer.Act != sc.offer || strings.Join(dangers, " ") != sc.danger {
					t.Fatalf("%s: now %s, %q, offers %q, dangers %v; expected %s, %q, %q, %q", sc.name, got, g.Say, g.Offer.Act, dangers, sc.now, sc.say, sc.offer, sc.danger)
				}
			}
		})
	}
}

func nowOf(g Guide) string {
	for _, s := range g.Steps {
		if s.State == Now {
			return s.ID
		}
	}
	return ""
}

// whole holds a guide to what every guide must be.
func whole(t *testing.T, g Guide) {
	t.Helper()
	now, seen := -1, map[string]bool{}
	for i, s := range g.Steps {
		if seen[s.ID] {
			t.Fatalf("step %s stands twice", s.ID)
		}
		seen[s.ID] = true
		switch s.State {
		case Now:
			if now >= 0 {
				t.Fatalf("%s and %s are both to be done now", g.Steps[now].ID, s.ID)
			}
			now = i
		case Done, Skipped, Later:
		default:
			t.Fatalf("step %s is %q", s.ID, s.State)
		}
		if s.Title == "" {
			t.Fatalf("step %s has no title", s.ID)
		}
	}
	if now < 0 || g.Say == "" {
		t.Fatalf("nothing is to be done now: %+v", g)
	}
	if g.Offer.Act != None && g.Offer.Label == "" {
		t.Fatalf("an offer without a label at %s", g.Steps[now].ID)
	}
}

func TestAlwaysOneStep(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	states := []rig.State{"", rig.Off, rig.Starting, rig.NoLoad, rig.Loaded, rig.Overloaded, rig.Stalled, rig.Tripped, rig.Unknown}
	figure := func(most float64) rig.Figure {
		if r.IntN(3) == 0 {
			return rig.Absent("x")
		}
		return rig.Fig(r.Float64() * most)
	}
	procedures := []config.Procedure{mixed(), config.DefaultProcedure("bare"), {ID: "nothing"}}
	for range 20000 {
		p := procedures[r.IntN(len(procedures))]
		in := Input{Session: r.IntN(2) == 0, State: states[r.IntN(len(states))], Run: r.IntN(3), OnS: figure(300), ClockS: figure(300), QuietS: figure(20),
			ClearS: figure(20), Fed: r.IntN(2) == 0, StillS: figure(1000), Trips: r.IntN(5), DrainedS: figure(300), LevelDB: figure(100),
			Scale: r.IntN(2) == 0, Sound: r.IntN(2) == 0, Expects: r.IntN(2) == 0, Said: map[string]Status{}}
		for range r.IntN(4) {
			w := Weighed{Role: rig.Roles[r.IntN(len(rig.Roles))], NetG: figure(500), AgeS: figure(9000)}
			if w.Role == rig.Charge && r.IntN(2) == 0 {
				w.Item = "carrot"
			}
			in.Weighings = append(in.Weighings, w)
		}
		for _, id := range []string{"water", "feed", "run", "stop", "done", "chamber", "flush"} {
			if r.IntN(5) == 0 {
				in.Said[id] = []Status{Done, Skipped}[r.IntN(2)]
			}
		}
		whole(t, Steps(p, in))
	}
}

func TestRemarks(t *testing.T) {
	for _, tt := range []struct {
		name string
		then func(*Input)
		id   string
		want string
	}{
		{"too much", weigh(rig.Charge, "carrot", 512), "charge-carrot", "12 g too much"},
		{"too little", weigh(rig.Charge, "carrot", 489.5), "charge-carrot", "10.5 g too little"},
		{"just within", weigh(rig.Charge, "carrot", 510), "charge-carrot", ""},
		{"the last counts", both(weigh(rig.Charge, "carrot", 400), weigh(rig.Charge, "carrot", 500)), "charge-carrot", ""},
		{"read late", func(in *Input) {
			in.Weighings = append(in.Weighings, Weighed{Role: rig.Chamber, NetG: rig.Fig(40), Timing: "late"})
		}, "chamber", "read late"},
		{"never weighed", motor(rig.NoLoad, 6), "charge-carrot", ""},
		{"no check", motor(rig.NoLoad, 6), "check-scale", "due today: without it the run carries a remark"},
		{"no microphone", func(in *Input) { in.Sound = false }, "quiet", "no microphone"},
		{"stopped at the limit", motor(rig.Loaded, 240), "run", "stopped at the limit"},
	} {
		in := Input{Scale: true, Sound: true, State: rig.Off, Said: map[string]Status{}}
		tt.then(&in)
		g := Steps(mixed(), in)
		i := slices.IndexFunc(g.Steps, func(s Step) bool { return s.ID == tt.id })
		if g.Steps[i].Remark != tt.want {
			t.Errorf("%s: %s says %q, expected %q", tt.name, tt.id, g.Steps[i].Remark, tt.want)
		}
	}
}

func TestRawMeat(t *testing.T) {
	for _, tt := range []struct {
		item string
		ageS float64
		want string
	}{
		{"chicken-wing", 3599, ""},
		{"chicken-wing", 3600, "60 min"},
		{"chicken-wing", 7200, "throw it away"}, // USDA FSIS: two hours between 4 and 60 degC
		{"carrot", 9000, ""},
	} {
		in := Input{Session: true, State: rig.Off, Weighings: []Weighed{{Role: rig.Charge, Item: tt.item, NetG: rig.Fig(1), AgeS: rig.Fig(tt.ageS)}}}
		got := ""
		for _, d := range Steps(mixed(), in).Dangers {
			if d.ID == "raw" {
				got = d.Text
			}
		}
		if (got == "") != (tt.want == "") || !strings.Contains(got, tt.want) {
			t.Errorf("%s out for %g s: %q, expected %q", tt.item, tt.ageS, got, tt.want)
		}
	}
	if spoils("chicken-bone", "boiled, cold") || !spoils("chicken-bone", "raw") || !spoils("fish-frame", "uncooked") {
		t.Error("what spoils is told wrongly")
	}
}

func TestScaleMissing(t *testing.T) {
	in := Input{State: rig.Off, Said: map[string]Status{"check-scale": Skipped}}
	if g := Steps(mixed(), in); g.Offer.Act != SaySkips || !strings.Contains(g.How, "No scale") {
		t.Errorf("without a scale: offers %q, %q", g.Offer.Act, g.How)
	}
}

// A vessel that waits while another is weighed is not called late before its turn is over.
func TestLateForTheScale(t *testing.T) {
	for _, tt := range []struct {
		drainedS, chamberS float64 // chamberS: since the chamber was weighed
		late               bool
	}{{139, 15, false}, {145, 19, false}, {160, 34, true}} {
		in := Input{Scale: true, State: rig.Off, Said: map[string]Status{}}
		for _, sc := range script(upToStart, afterwards[:3]) {
			if sc.then != nil {
				sc.then(&in)
			}
		}
		in.StillS, in.DrainedS = rig.Fig(tt.drainedS), rig.Fig(tt.drainedS)
		in.Weighings = append(in.Weighings, Weighed{Role: rig.Chamber, NetG: rig.Fig(40), AgeS: rig.Fig(tt.chamberS), Timing: "in-time"})
		g := Steps(mixed(), in)
		if nowOf(g) != "coarse" || strings.Contains(g.How, "marked late") != tt.late {
			t.Errorf("drained %g s, chamber %g s ago: %s: %q", tt.drainedS, tt.chamberS, nowOf(g), g.How)
		}
	}
}

// In a stall and after a trip a foot switch presses the main button: it must not end the run, and what is safe is said
// before anything else.
func TestJamIsSafeFirst(t *testing.T) {
	for _, state := range []rig.State{rig.Stalled, rig.Tripped} {
		in := Input{Session: true, Run: 1, Scale: true, Sound: true, State: state, Trips: 1, StillS: rig.Fig(1), Said: map[string]Status{}}
		g := Steps(mixed(), in)
		if !strings.Contains(g.Say, "pull the plug") || len(g.Dangers) == 0 {
			t.Errorf("%s: says %q, dangers %v", state, g.Say, g.Dangers)
		}
		if g.Offer.Act != Mark || g.Offer.Text == "" {
			t.Errorf("%s: the main button is %+v, expected a mark", state, g.Offer)
		}
		if last := g.Also[len(g.Also)-1]; last != over {
			t.Errorf("%s: the last button is %+v, expected the end of the run", state, last)
		}
	}
}
