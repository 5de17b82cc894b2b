package review

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/score"
	"quern/rig/session"
	"quern/rig/session/index"
)

// Result is what a session came to, as it is told as JSON. Figures have three decimals; what could not be
// measured is null.
type Result struct {
	Session   string             `json:"session"`
	Unit      string             `json:"unit"` // after corrections, as is the procedure
	Shown     string             `json:"shown"`
	Procedure string             `json:"procedure"`
	Bench     string             `json:"bench"`
	Origin    rig.Origin         `json:"origin"`
	Started   time.Time          `json:"started"`
	Tool      string             `json:"tool"`
	Seconds   rig.Figure         `json:"seconds"`
	Channels  []string           `json:"channels"` // series that can be asked for
	Streams   []series.StreamNow `json:"streams"`
	Settings  settingsJSON       `json:"settings"`
	Analysis  analysisJSON       `json:"analysis"`
	// Runs have events with their evidence, states, and figures; none while the session is being analysed.
	Runs      []rig.Run           `json:"runs"`
	Warnings  []rig.Warning       `json:"warnings"`
	Facts     factsJSON           `json:"facts"`
	Verdicts  []verdictJSON       `json:"verdicts"` // of the runs, by the lab's present procedures
	NoVerdict string              `json:"no_verdict,omitempty"`
	NoPoints  string              `json:"no_points,omitempty"`
	Derived   rig.Figure          `json:"derived"` // share of the series that is derived; 1: all
	Files     []session.FileEntry `json:"files"`
	Sealed    string              `json:"manifest_sha256"`
	Chain     string              `json:"chain"`
}

// settingsJSON is what of the settings a reader of the session has to know.
type settingsJSON struct {
	RatedCurrentA rig.Figure `json:"rated_current_a"`
	LockedRotorA  rig.Figure `json:"locked_rotor_a"`
	OverloadA     rig.Figure `json:"overload_a"`
	Motor         string     `json:"motor"`
	VoltageV      rig.Figure `json:"voltage_v"`
	FrequencyHz   rig.Figure `json:"frequency_hz"`
	FullScaleDB   rig.Figure `json:"full_scale_db"`
	FullScaleA    rig.Figure `json:"full_scale_a"`
	TimeLimitS    rig.Figure `json:"time_limit_s"`
	Clock         string     `json:"clock"`
	ChargeG       rig.Figure `json:"charge_g"`
	LongestPauseS rig.Figure `json:"longest_pause_s"`
	Detect        string     `json:"detect"` // the thresholds in force, as lines that what-if takes
}

type analysisJSON struct {
	Progress rig.Figure `json:"progress"` // less than 1: it is being made, ask again
	Settings string     `json:"settings_sha256"`
	Tool     string     `json:"tool"`
	Made     *time.Time `json:"made"`
	Stored   bool       `json:"stored"`
}

func some(v float64) rig.Figure {
	if v == 0 {
		return rig.Figure{}
	}
	return rig.Fig(v)
}

func settingsOf(set, whole config.Setup) settingsJSON {
	u, p, b := set.Unit, set.Procedure, set.Bench
	return settingsJSON{RatedCurrentA: some(u.RatedCurrentA), LockedRotorA: some(u.LockedRotorA), OverloadA: some(b.Detect.Motor.OverloadRatio * u.RatedCurrentA),
		Motor: u.Motor, VoltageV: rig.Fig(b.Supply.VoltageV), FrequencyHz: rig.Fig(b.Supply.FrequencyHz), FullScaleDB: rig.Fig(b.Microphone.FullScaleDB),
		FullScaleA: rig.Fig(b.Clamp.FullScaleA), TimeLimitS: some(p.TimeLimitS), Clock: p.Clock, ChargeG: some(p.ChargeG), LongestPauseS: rig.Fig(p.LongestPauseS),
		Detect: detectText(whole)}
}

// Result tells what a session came to. It waits for no analysis longer than a moment: while one is being
// made there are no runs, and analysis.progress says so.
func (h *Shelf) Result(ctx context.Context, name string) (Result, error) {
	var out Result
	err := h.with(ctx, name, func(s *Session) error {
		k, err := s.know(ctx, &h.o, name)
		if err != nil {
			return err
		}
		out = s.result(k, &h.o)
		return nil
	})
	return out, err
}

func (s *Session) result(k known, o *Options) Result {
	m := k.brief.Manifest
	r := Result{Session: m.Session, Unit: k.set.Unit.ID, Shown: k.set.Unit.ID, Procedure: k.set.Procedure.ID, Bench: m.Bench, Origin: cmp.Or(m.Origin, rig.Recorded),
		Started: m.Started.UTC(), Tool: m.Tool, Seconds: some(s.Seconds()), Channels: append([]string{}, s.Channels()...), Streams: append([]series.StreamNow{}, s.Streams()...),
		Settings: settingsOf(k.set, s.Setup()), Runs: []rig.Run{}, Facts: factsOf(k.brief.Facts), Verdicts: []verdictJSON{},
		Derived: rig.Fig(s.Derived()), Files: m.Files, Sealed: m.Self, Chain: k.brief.Chain}
	r.Analysis = analysisJSON{Progress: rig.Fig(k.Reached()), Tool: k.tool}
	r.Warnings = append([]rig.Warning{}, k.brief.Warnings...)
	if !k.Over() {
		r.NoVerdict = "the session is being analysed"
		return r
	}
	r.Analysis.Settings, r.Analysis.Stored = k.sum, k.stored
	if !k.made.IsZero() {
		r.Analysis.Made = &k.made
	}
	r.Runs = append(r.Runs, k.result.Runs...)
	for _, w := range k.result.Warnings {
		if !slices.Contains(r.Warnings, w) {
			r.Warnings = append(r.Warnings, w)
		}
	}
	runs, why := k.judged()
	r.NoVerdict = why
	var camp *score.Campaign
	if o.Campaign != nil {
		camp = o.Campaign()
	}
	if camp == nil {
		r.NoPoints = "the season has not been scored yet: ask again in some seconds"
	}
	if k.lab != nil {
		if u := k.lab.Unit(r.Unit); u != nil {
			r.Shown = u.Shown(k.lab.Day(o.Now()))
		}
	}
	for _, x := range runs {
		r.Verdicts = append(r.Verdicts, verdictOf(x, camp))
	}
	return r
}

// record is what scoring needs of the session.
func (k known) record() rig.Record {
	rec := k.brief.Record()
	rec.Settings, rec.Result = k.sum, k.result
	return rec
}

// judged returns the runs under the lab's procedures, with the checks of the day that stand in the sessions beside;
// why there are none otherwise.
func (k known) judged() (runs []*score.Run, why string) {
	if k.lab == nil {
		return nil, "there is no lab folder: start the daemon with one to have runs judged"
	}
	rec := k.record()
	c, err := score.Score(k.lab, []rig.Record{rec}, nil, index.Beside(k.dir, rec)...)
	if err != nil {
		return nil, err.Error()
	}
	var loose []string
	for _, l := range c.Loose {
		loose = append(loose, l.Why)
	}
	return c.Runs, strings.Join(loose, "; ")
}

// encode writes JSON as it is served: without the escapes that only scripts inside pages need.
func encode(v any) ([]byte, error) {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return []byte(b.String()), nil
}
