package pages

import (
	"slices"
	"strings"
	"sync"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/live/guide"
)

// bench is what the pages remember of the work at the bench beside what the daemon records: which steps
// people said were done, and what can be taken back. It is kept in memory: everything that counts is on
// record in the session.
type bench struct {
	now  func() time.Time // tells the time that has passed too, which a step of the clock leaves alone
	zone *time.Location

	// one holds back a button whose meaning depends on what was pressed before: there may be several screens.
	one sync.Mutex

	mu         sync.Mutex
	seen       live.Snapshot
	day        string
	said       map[string]guide.Status
	inspecting bool
	stirred    time.Time // when somebody last weighed, marked, or ran the motor
	undos      []undo
	refused    time.Time // when End was pressed while the motor ran
	refusedTo  string    // and by whom
	turned     time.Time // when a button last began or ended a session
	turnedTo   string    // what was said of that
}

// today is the day of the bench.
func (b *bench) today() string { return b.now().In(b.zone).Format(time.DateOnly) }

func newBench(now func() time.Time, zone string) *bench {
	z, _ := rig.Zone(zone) // a Setup is checked
	return &bench{now: now, zone: z, said: map[string]guide.Status{}, stirred: now()}
}

// startedOver lists the steps that a restart of the motor makes undone.
var startedOver = []string{"run", "flush", "stop", "drain"}

// observe follows what the daemon shows, and returns it as the guide needs it.
func (b *bench) observe(s live.Snapshot, p *config.Procedure) guide.Input {
	b.mu.Lock()
	defer b.mu.Unlock()
	was := b.seen
	b.seen = s
	now := b.now()
	if day := b.today(); day != b.day {
		if b.day != "" {
			b.said = map[string]guide.Status{}
		}
		b.day = day
	}
	ran, runs := flowing(was.State), flowing(s.State)
	switch {
	case was.Session != "" && s.Session != was.Session:
		b.forget(func(id string) bool { return !strings.HasPrefix(id, "check-") })
		b.undos, b.inspecting = nil, false
	case s.Run > was.Run && was.Run > 0:
		b.forget(func(id string) bool { return !strings.HasPrefix(id, "check-") })
	case runs && !ran && s.Run == was.Run:
		b.forget(func(id string) bool { return slices.Contains(startedOver, id) })
	}
	if runs && !ran {
		b.inspecting = false
	}
	if runs || len(weighings(s)) != len(weighings(was)) {
		b.stirred = now
	}
	b.follow(s)
	in := facts(s, p)
	in.QuietS = rig.Fig(now.Sub(b.stirred).Seconds())
	for _, k := range s.Checks {
		if k.Day == b.day && !k.Withdrawn {
			in.Checks = append(in.Checks, k.Kind)
		}
	}
	in.Said = map[string]guide.Status{}
	for id, st := range b.said {
		in.Said[id] = st
	}
	return in
}

func (b *bench) forget(which func(id string) bool) {
	for id := range b.said {
		if which(id) {
			delete(b.said, id)
		}
	}
}

// say notes what somebody said of a step.
func (b *bench) say(id, title string, st guide.Status) {
	b.mu.Lock()
	defer b.mu.Unlock()
	was, had := b.said[id]
	b.said[id] = st
	b.push(undo{what: title, then: func() {
		delete(b.said, id)
		if had {
			b.said[id] = was
		}
	}})
}

// flowing says whether the motor runs for all we know.
func flowing(s rig.State) bool {
	return s != rig.Off && s != rig.Tripped && s != rig.Unknown && s != ""
}

func weighings(s live.Snapshot) []live.WeighingNow {
	if s.Scale == nil {
		return nil
	}
	return s.Scale.Weighings
}

// facts turns a snapshot into what the guide needs of it.
func facts(s live.Snapshot, p *config.Procedure) guide.Input {
	in := guide.Input{Session: s.Session != "", State: s.State, Run: s.Run, OnS: s.MotorOnS, ClockS: s.MotorOnS, LevelDB: s.LevelDB, Scale: s.Scale != nil}
	for _, src := range s.Sources {
		in.Sound = in.Sound || src.Channel == rig.Microphone
	}
	since := func(at rig.Figure) rig.Figure {
		if !at.OK || !s.AtS.OK {
			return rig.Absent("not-yet")
		}
		return rig.Fig(max(0, s.AtS.V-at.V))
	}
	first := soFar(&in, s, since)
	in.Fed = in.Fed || s.State == rig.Loaded || s.State == rig.Overloaded
	if s.State == rig.Loaded || s.State == rig.Overloaded || s.State == rig.Stalled {
		in.ClearS = rig.Figure{}
	}
	if p.Clock == "elapsed" {
		in.ClockS = since(first)
		if in.StillS.OK && in.ClockS.OK {
			in.ClockS.V -= in.StillS.V
		}
	}
	in.DrainedS = in.StillS
	for _, w := range weighings(s) {
		if w.Withdrawn {
			continue
		}
		net := w.NetG
		if w.CorrectedG.OK {
			net = w.CorrectedG
		}
		in.Weighings = append(in.Weighings, guide.Weighed{Role: w.Role, Item: w.Item, NetG: net, AgeS: since(w.AtS), Timing: string(w.Timing)})
	}
	if sc := s.Scale; sc != nil {
		if sc.Expect != nil {
			in.Expects, in.Role, in.Item = true, sc.Expect.Role, sc.Expect.Item
		}
		if sc.Drain != nil && sc.Drain.DrainedS.OK {
			in.DrainedS = sc.Drain.DrainedS
		}
	}
	in.Note = s.Before()
	if !s.Ready {
		in.Problem = s.Say
	}
	return in
}

// soFar reads off the events what has come about in the run of now, and returns its first start.
func soFar(in *guide.Input, s live.Snapshot, since func(rig.Figure) rig.Figure) rig.Figure {
	var first rig.Figure
	for _, e := range s.Events {
		if e.Run != s.Run {
			continue
		}
		switch e.Kind {
		case rig.MotorStart:
			if !first.OK {
				first = e.AtS
			}
			in.StillS = rig.Figure{}
		case rig.MotorStop:
			in.StillS = since(e.AtS)
		case rig.Trip:
			in.StillS = since(e.AtS)
			in.Trips++
		case rig.LoadStart:
			in.Fed, in.ClearS = true, rig.Figure{}
		case rig.LoadEnd:
			in.ClearS = since(e.AtS)
		}
	}
	return first
}
