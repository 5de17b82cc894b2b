package live

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"quern/acquire"
	"quern/detect"
	"quern/rig"
)

// Snapshot is what the daemon knows at one instant.
type Snapshot struct {
	Ready      bool        `json:"ready"`
	Say        string      `json:"say"` // one sentence: ready, or the one thing that is wrong and its remedy
	Unit       string      `json:"unit"`
	Procedure  string      `json:"procedure"`
	Session    string      `json:"session"` // "": none is open
	AtS        rig.Figure  `json:"at_s"`    // in it
	State      rig.State   `json:"state"`
	SinceS     rig.Figure  `json:"since_s"`
	Run        int         `json:"run"`
	MotorOnS   rig.Figure  `json:"motor_on_s"`
	LimitS     float64     `json:"time_limit_s"`
	LevelDB    rig.Figure  `json:"laf_db"`
	CurrentA   rig.Figure  `json:"rms_a"`
	MassG      rig.Figure  `json:"mass_g"`
	Scale      *ScaleNow   `json:"scale,omitempty"`
	Extra      []ExtraNow  `json:"extra,omitempty"`
	Checks     []CheckNow  `json:"checks,omitempty"` // of this day, and since the daemon began
	Events     []EventNow  `json:"events"`           // the last ones, of the open session
	Sources    []SourceNow `json:"sources"`
	Queued     int         `json:"queued_blocks"`
	DiskFree   uint64      `json:"disk_free_bytes"`
	Fault      string      `json:"fault,omitempty"` // why recording stopped last
	Caution    string      `json:"caution,omitempty"`
	CutOff     []string    `json:"cut_off,omitempty"` // sessions that ended before this daemon began, without being closed
	ClockGood  bool        `json:"clock_synchronised"`
	Sessions   int64       `json:"sessions_closed"`
	Runs       int64       `json:"runs"`
	statuses   []acquire.Status
	eventCount map[rig.Kind]int64
}

// ExtraNow is the last reading of an extra channel.
type ExtraNow struct {
	Channel rig.Channel `json:"channel"`
	Unit    rig.Unit    `json:"unit"`
	Value   rig.Figure  `json:"value"`
}

// EventNow is an event and its run.
type EventNow struct {
	Run int `json:"run"`
	rig.Event
}

// SourceNow is how one source does.
type SourceNow struct {
	Channel  rig.Channel   `json:"channel"`
	Device   string        `json:"device"`
	State    acquire.State `json:"state"`
	Reason   string        `json:"reason,omitempty"`
	Note     string        `json:"note,omitempty"`
	AgeS     rig.Figure    `json:"age_s"`
	Samples  int64         `json:"samples"`
	Rejects  int64         `json:"rejects"`
	Reject   string        `json:"reject,omitempty"` // why the last one could not be taken
	Gaps     int64         `json:"gaps"`
	Xruns    int64         `json:"xruns"`
	DriftPPM rig.Figure    `json:"drift_ppm"`
}

// lastSeen is what the scale and the extra channels showed last.
type lastSeen struct {
	massG  rig.Figure
	stable rig.Mark
	extra  map[rig.Channel]float64
}

// totals are counted since the daemon began. Engine.mu guards them.
type totals struct {
	events      map[rig.Kind]int64
	runs        int64
	sessions    int64
	free        uint64
	diskLow     bool // it is to be told
	diskOut     bool // so low that no waveforms are kept
	fault       string
	syncs       uint64
	syncS       float64
	syncBuckets [len(syncBounds)]uint64
	publishedS  float64
}

// syncBounds are the upper bounds of the buckets of the sync times, s.
var syncBounds = [...]float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3}

func (t *totals) synced(s float64) {
	t.syncs++
	t.syncS += s
	for i, b := range syncBounds {
		if s <= b {
			t.syncBuckets[i]++
		}
	}
}

// shownEvents is how many of the last events a snapshot holds.
const shownEvents = 30

// publish makes the snapshot that everybody else sees.
func (e *Engine) publish(n detect.Now, now float64, looked bool) {
	s := Snapshot{Unit: e.setup.Unit.ID, Procedure: e.setup.Procedure.ID, State: n.State, Run: n.Runs, LevelDB: n.LevelDB,
		CurrentA: n.CurrentA, MassG: e.last.massG, LimitS: e.setup.Procedure.TimeLimitS, Events: []EventNow{}, Sources: []SourceNow{},
		AtS: rig.Absent("no-session"), SinceS: rig.Absent("no-session"), MotorOnS: rig.Absent("no-session"), Queued: e.sup.Queued()}
	if s.State == "" {
		s.State = rig.Unknown
	}
	if e.rec != nil {
		s.Session = e.rec.name
		s.AtS, s.SinceS, s.MotorOnS = rig.Fig(n.AtS), rig.Fig(max(0, n.AtS-n.SinceS)), rig.Fig(n.OnS)
		all := e.rec.events(n, looked)
		s.Events = append(s.Events, all[max(0, len(all)-shownEvents):]...)
	}
	for _, st := range e.streams {
		if st.Form != rig.Value {
			continue
		}
		x := ExtraNow{Channel: st.Channel, Unit: st.Unit, Value: rig.Absent("no-reading")}
		if v, ok := e.last.extra[st.Channel]; ok {
			x.Value = rig.Fig(v)
		}
		s.Extra = append(s.Extra, x)
	}
	s.Scale, s.Checks = e.scaleNow(now), e.checks
	s.Caution = caution(s)
	e.mu.Lock()
	e.tot.publishedS = now
	e.snap = s
	e.mu.Unlock()
	if e.opts.Published != nil {
		e.opts.Published()
	}
}

// caution says what is dangerous now.
func caution(s Snapshot) string {
	switch {
	case s.State == rig.Stalled:
		return "stalled: pull the plug and keep it in hand before freeing a jam; tongs, never fingers"
	case s.State == rig.Tripped:
		return "tripped (presumed): it may start by itself when it has cooled; pull the plug before touching it"
	case s.LevelDB.OK && s.LevelDB.V > 85 && s.State != rig.Off:
		return "above 85 dB(A): wear hearing protection"
	}
	return ""
}

// Now returns the present snapshot.
func (e *Engine) Now() Snapshot {
	statuses := e.sup.Status()
	e.mu.Lock()
	s := e.snap
	s.DiskFree, s.Fault, s.Sessions, s.Runs = e.tot.free, e.tot.fault, e.tot.sessions, e.tot.runs
	low, out := e.tot.diskLow, e.tot.diskOut
	s.eventCount = map[rig.Kind]int64{}
	for k, v := range e.tot.events {
		s.eventCount[k] = v
	}
	e.mu.Unlock()
	for _, dir := range e.opts.CutOff {
		if s.Sessions == 0 {
			s.CutOff = append(s.CutOff, filepath.Base(dir))
		}
	}
	s.statuses = statuses
	s.ClockGood = synchronised()
	s.Sources = make([]SourceNow, 0, len(statuses))
	for _, st := range statuses {
		x := SourceNow{Channel: st.Stream.Channel, Device: st.Device, State: st.State, Reason: st.Reason, Note: st.Note,
			AgeS: rig.Absent("nothing-came"), Samples: st.Samples, Rejects: st.Rejects, Reject: st.Reject, Gaps: st.Gaps, Xruns: st.Xruns, DriftPPM: rig.Absent("not-yet")}
		if st.AgeS >= 0 {
			x.AgeS = rig.Fig(st.AgeS)
		}
		if st.Drifts {
			x.DriftPPM = rig.Fig(st.DriftPPM)
		}
		s.Sources = append(s.Sources, x)
	}
	s.Ready, s.Say = e.say(s, low, out)
	return s
}

// Before says what was cut off before this daemon began, "" if nothing was: whoever comes back to the bench sees a new
// session, in which nothing of the one before stands.
func (s *Snapshot) Before() string {
	if len(s.CutOff) == 0 {
		return ""
	}
	return strings.Join(s.CutOff, ", ") + ": cut off by a loss of power or a crash; it is kept up to there, and its weighings stand there"
}

// say puts into one sentence whether the bench is ready, or the one thing that is wrong and its remedy.
func (e *Engine) say(s Snapshot, diskLow, diskOut bool) (bool, string) {
	order := []rig.Channel{rig.Clamp, rig.Microphone, rig.Scale}
	rank := func(c rig.Channel) int {
		if i := slices.Index(order, c); i >= 0 {
			return i
		}
		return len(order)
	}
	sources := slices.Clone(s.Sources)
	slices.SortStableFunc(sources, func(a, b SourceNow) int { return rank(a.Channel) - rank(b.Channel) })
	for _, x := range sources {
		if x.State == acquire.Lost || x.State == acquire.Late {
			return false, fmt.Sprintf("%s: %s (%s)", x.Channel, x.Reason, x.Device)
		}
	}
	for _, x := range sources {
		switch {
		case x.State == acquire.Starting:
			return false, fmt.Sprintf("%s: nothing has come yet from %s: wait a moment, then look at its plug", x.Channel, x.Device)
		case x.Note != "":
			return false, fmt.Sprintf("%s: %s", x.Channel, x.Note)
		case x.Reason != "":
			return false, fmt.Sprintf("%s: %s", x.Channel, x.Reason)
		}
	}
	if s.Fault != "" && s.Session == "" {
		return false, "recording stopped: " + s.Fault
	}
	if diskOut {
		return false, fmt.Sprintf("disk: %d MB left: no waveforms are kept now, so runs cannot be replayed: copy old sessions away", s.DiskFree>>20)
	}
	if diskLow {
		return false, fmt.Sprintf("disk: %d MB left: copy old sessions away, or waveforms will be dropped", s.DiskFree>>20)
	}
	var seen []string
	if s.LevelDB.OK {
		seen = append(seen, fmt.Sprintf("microphone %.1f dB(A)", s.LevelDB.V))
	}
	if s.CurrentA.OK {
		what := "motor off, or the clamp is not around one conductor"
		if s.State != rig.Off {
			what = "current flows"
		}
		seen = append(seen, fmt.Sprintf("clamp %.2f A (%s)", s.CurrentA.V, what))
	}
	if s.MassG.OK {
		seen = append(seen, fmt.Sprintf("scale %g g", s.MassG.V))
	}
	if s.Session != "" {
		return true, "recording " + s.Session + ": " + strings.Join(seen, ", ")
	}
	return true, "ready for " + s.Unit + ", " + s.Procedure + ": " + strings.Join(seen, ", ")
}
