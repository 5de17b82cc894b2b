package export

import (
	"cmp"
	"strings"

	"quern/rig"
)

// field is a figure of a run.
type field struct {
	name, unit, what string
	of               func(*rig.Run) rig.Figure
}

var runFields = []field{
	{"start_s", "s", "the motor's first start", func(r *rig.Run) rig.Figure { return r.StartS }},
	{"end_s", "s", "its last stop or trip", func(r *rig.Run) rig.Figure { return r.EndS }},
	{"elapsed_s", "s", "from one to the other", func(r *rig.Run) rig.Figure { return r.ElapsedS }},
	{"motor_on_s", "s", "time the motor was on, pauses left out", func(r *rig.Run) rig.Figure { return r.MotorOnS }},
	{"run_time_s", "s", "the one of the two that the procedure's clock names", func(r *rig.Run) rig.Figure { return r.RunTimeS }},
	{"laeq_db", "dB", "A-weighted equivalent level over the motor-on time", func(r *rig.Run) rig.Figure { return r.Sound.LAeqDB }},
	{"lafmax_db", "dB", "largest A-weighted level, time weighting F", func(r *rig.Run) rig.Figure { return r.Sound.LAFmaxDB }},
	{"lasmax_db", "dB", "largest A-weighted level, time weighting S", func(r *rig.Run) rig.Figure { return r.Sound.LASmaxDB }},
	{"lcpeak_db", "dB", "C-weighted peak", func(r *rig.Run) rig.Figure { return r.Sound.LCpeakDB }},
	{"lceq_db", "dB", "C-weighted equivalent level", func(r *rig.Run) rig.Figure { return r.Sound.LCeqDB }},
	{"lae_db", "dB", "A-weighted exposure level", func(r *rig.Run) rig.Figure { return r.Sound.LAEDB }},
	{"la10_db", "dB", "level exceeded in 10 % of the motor-on time", func(r *rig.Run) rig.Figure { return r.Sound.LA10DB }},
	{"la50_db", "dB", "level exceeded in 50 % of it", func(r *rig.Run) rig.Figure { return r.Sound.LA50DB }},
	{"la90_db", "dB", "level exceeded in 90 % of it", func(r *rig.Run) rig.Figure { return r.Sound.LA90DB }},
	{"background_laeq_db", "dB", "the room before the first start", func(r *rig.Run) rig.Figure { return r.Sound.BackgroundDB }},
	{"laeq_corrected_db", "dB", "laeq_db without the background (ISO 3744)", func(r *rig.Run) rig.Figure { return r.Sound.LAeqCorrectedDB }},
	{"idle_a", "A", "no-load current, RMS", func(r *rig.Run) rig.Figure { return r.Motor.IdleA }},
	{"mean_a", "A", "mean of the RMS over the motor-on time", func(r *rig.Run) rig.Figure { return r.Motor.MeanA }},
	{"max_a", "A", "largest RMS over one cycle while the motor was on, the first cycle included", func(r *rig.Run) rig.Figure { return r.Motor.MaxA }},
	{"inrush_a", "A", "largest RMS over one cycle of the first start", func(r *rig.Run) rig.Figure { return r.Motor.InrushA }},
	{"peak_a", "A", "largest instantaneous current", func(r *rig.Run) rig.Figure { return r.Motor.PeakA }},
	{"frequency_hz", "Hz", "mains frequency while the motor ran", func(r *rig.Run) rig.Figure { return r.Motor.FrequencyHz }},
	{"crest_factor", "", "peak over RMS of the current", func(r *rig.Run) rig.Figure { return r.Motor.CrestFactor }},
	{"thd_percent", "%", "harmonics 2 to 25 over the fundamental", func(r *rig.Run) rig.Figure { return r.Motor.THDPercent }},
	{"noise_a", "A", "RMS of the clamp's own noise while the motor was off", func(r *rig.Run) rig.Figure { return r.Motor.NoiseA }},
}

var runsTable = Table{Name: "runs", What: "one run of an appliance under a procedure, as measured; measures after corrections are in measures", Columns: runColumns(), rows: runRows}

func runColumns() []Column {
	out := []Column{sessionColumn, runColumn, isKey(unitColumn), shownColumn, procedureColumn, utcColumn,
		word("status", "counts, void, unplanned, conditioning or control"), word("outcome", "passed, failed, void or not measurable"), word("cause", "of a void run: rig or operator"), word("why", "of a void or failed run, as the person said")}
	for _, f := range runFields {
		out = append(out, num(f.name, f.unit, 3, f.what))
	}
	return append(out, minutes("run_time", "run_time_s for reading, minutes and seconds"), minutes("elapsed", "elapsed_s for reading"),
		word("absent", "which of the figures are absent, and the code of the reason"), word("remarks", "what a reader has to know beside the values"))
}

func runRows(in *input, emit func([]Cell) error) error {
	for _, r := range in.Campaign.Runs {
		d := r.Detected()
		var none []string
		at := Cell{}
		row := []Cell{text(r.Record.Session), whole(r.N), text(r.Unit), in.released(r.Unit), text(r.Procedure.ID)}
		if d == nil {
			d = &rig.Run{}
			none = append(none, "no recorded run")
		} else {
			at = instantOf(r.Record, d.StartS)
			for _, f := range runFields {
				if x := f.of(d); !x.OK {
					none = append(none, reason(f.name, x))
				}
			}
		}
		row = append(row, at, text(r.Status), text(r.Outcome), text(r.Cause), text(r.Why))
		for _, f := range runFields {
			row = append(row, figure(f.of(d)))
		}
		row = append(row, clock(d.RunTimeS), clock(d.ElapsedS), text(strings.Join(none, "; ")), text(strings.Join(r.Remarks, "; ")))
		if err := emit(row); err != nil {
			return err
		}
	}
	return nil
}

func reason(name string, f rig.Figure) string {
	if f.Why == "" {
		return name
	}
	return name + ": " + f.Why
}

func instantOf(rec *rig.Record, atS rig.Figure) Cell {
	if !atS.OK {
		return Cell{}
	}
	return utc(rec.Started, atS.V)
}

// records calls f for each session.
func (in *input) records(f func(*rig.Record) error) error {
	for i := range in.Records {
		if err := f(&in.Records[i]); err != nil {
			return err
		}
	}
	return nil
}

var sessionsTable = Table{Name: "sessions", What: "one session, and what proves it", Columns: []Column{
	sessionColumn, utcColumn, word("unit", "blind code, as recorded"), word("procedure", "id, as recorded"), word("bench", "name of the bench"), word("origin", "recorded, imported or by-hand"),
	count("runs", "how many runs were found in it"), word("tool", "the program that recorded it, and its version"), word("manifest_sha256", "stands for everything that was sealed"),
	word("chain", "stands for what was sealed and all facts added since"), word("settings_sha256", "of the settings it was analysed under"),
	word("day", "on which it began, in the time zone of the bench"), word("time_zone", "of the bench: IANA name; UTC where the session keeps none"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.records(func(r *rig.Record) error {
		return emit([]Cell{text(r.Session), utc(r.Started, 0), text(r.Unit), text(r.Procedure), text(r.Bench), text(r.Origin), whole(len(r.Result.Runs)), text(r.Tool), text(r.Sealed), text(r.Chain), text(r.Settings),
			text(r.Day()), text(cmp.Or(r.TimeZone, "UTC"))})
	})
}}

var eventsTable = Table{Name: "events", What: "one event of a run", Columns: []Column{
	sessionColumn, runColumn, isKey(count("event", "number in the run, from 1")), unitColumn, procedureColumn, isKey(word("kind", "motor_start, load_start, stall_start, stall_end, overload_start, overload_end, load_end, trip or motor_stop")),
	num("at_s", "s", 3, "the instant"), utcColumn, num("within_s", "s", 3, "half-width of the interval that it surely lies in"), num("sure", "", 3, "how sure it is, 0 to 1"), word("evidence", "on what, for people"), minutes("at", "at_s for reading"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, r := range in.Campaign.Runs {
		if r.Detected() == nil {
			continue
		}
		for i, e := range r.Detected().Events {
			if err := emit([]Cell{text(r.Record.Session), whole(r.N), whole(i + 1), text(r.Unit), text(r.Procedure.ID), text(e.Kind),
				figure(e.AtS), instantOf(r.Record, e.AtS), figure(e.WithinS), figure(e.Sure), text(e.Evidence), clock(e.AtS)}); err != nil {
				return err
			}
		}
	}
	return nil
}}

// eachRun calls f for each detected run with all of its details.
func (in *input) eachRun(f func(full, int, *rig.Run) error) error {
	return in.eachFull(func(x full) error {
		for i := range x.result.Runs {
			if err := f(x, i+1, &x.result.Runs[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

var statesTable = Table{Name: "states", What: "a stretch of a run in which the motor did one thing", Columns: []Column{
	sessionColumn, runColumn, isKey(count("number", "in the run, from 1")), word("state", "off, starting, no-load, loaded, overloaded, stalled, tripped or unknown"),
	num("from_s", "s", 3, "its beginning"), num("to_s", "s", 3, "its end"), utcColumn, num("length_s", "s", 3, "how long it lasted"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachRun(func(x full, n int, r *rig.Run) error {
		for i, s := range r.States {
			length := Cell{}
			if s.FromS.OK && s.ToS.OK {
				length = number(s.ToS.V - s.FromS.V)
			}
			if err := emit([]Cell{text(x.rec.Session), whole(n), whole(i + 1), text(s.State), figure(s.FromS), figure(s.ToS), instantOf(x.rec, s.FromS), length}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var spectrumTable = Table{Name: "spectrum", What: "the level of a third-octave band over the motor-on time of a run", Columns: []Column{
	sessionColumn, runColumn, isKey(num("nominal_hz", "Hz", 1, "nominal mid-band frequency")), utcColumn, num("leq_db", "dB", 3, "equivalent level, not weighted"), word("why", "code of the reason why it is absent"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachRun(func(x full, n int, r *rig.Run) error {
		for _, b := range r.Sound.ThirdOctaves {
			if err := emit([]Cell{text(x.rec.Session), whole(n), figure(b.NominalHz), instantOf(x.rec, r.StartS), figure(b.LeqDB), text(b.LeqDB.Why)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var harmonicsTable = Table{Name: "harmonics", What: "a harmonic of the current of a run", Columns: []Column{
	sessionColumn, runColumn, isKey(count("harmonic", "order, from 1: the fundamental")), utcColumn, num("rms_a", "A", 3, "RMS, while the motor ran"), word("why", "code of the reason why it is absent"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachRun(func(x full, n int, r *rig.Run) error {
		for i, h := range r.Motor.HarmonicsA {
			if err := emit([]Cell{text(x.rec.Session), whole(n), whole(i + 1), instantOf(x.rec, r.StartS), figure(h), text(h.Why)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var extrasTable = Table{Name: "extras", What: "what an extra channel came to over a run", Columns: []Column{
	sessionColumn, runColumn, isKey(word("channel", "name of the channel")), utcColumn, word("unit_word", "unit of its values"), num("mean", "", 6, "mean over the run"), num("min", "", 6, "least value"), num("max", "", 6, "largest value"), word("why", "code of the reason why they are absent"),
}, rows: func(in *input, emit func([]Cell) error) error {
	for _, r := range in.Campaign.Runs {
		if r.Detected() == nil {
			continue
		}
		for _, x := range r.Detected().Extra {
			if err := emit([]Cell{text(r.Record.Session), whole(r.N), text(x.Channel), instantOf(r.Record, r.Detected().StartS), text(x.Unit), figure(x.Mean), figure(x.Least), figure(x.Most), text(x.Mean.Why)}); err != nil {
				return err
			}
		}
	}
	return nil
}}

var warningsTable = Table{Name: "warnings", What: "what was wrong with a session, or why a value of it is absent", Columns: []Column{
	sessionColumn, isKey(count("number", "in the session, from 1")), utcColumn, word("code", "names the kind"), word("what", "in words"),
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.eachFull(func(x full) error {
		seen := map[rig.Warning]bool{}
		for _, w := range append(append([]rig.Warning{}, x.rec.Warnings...), x.result.Warnings...) {
			if seen[w] {
				continue
			}
			seen[w] = true
			if err := emit([]Cell{text(x.rec.Session), whole(len(seen)), utc(x.rec.Started, 0), text(w.Code), text(w.Text)}); err != nil {
				return err
			}
		}
		return nil
	})
}}

var gapsTable = Table{Name: "gaps", What: "a stretch of time in which nothing came from a channel", Columns: []Column{
	sessionColumn, isKey(word("channel", "name of the channel")), isKey(count("number", "of the channel, from 1")), num("from_s", "s", 3, "its beginning"), num("to_s", "s", 3, "its end"), utcColumn,
}, rows: func(in *input, emit func([]Cell) error) error {
	return in.records(func(rec *rig.Record) error {
		s, err := in.open(rec)
		if err != nil || s == nil {
			return err
		}
		defer s.Close()
		for _, x := range s.Streams() {
			for i, g := range x.Gaps {
				if err := emit([]Cell{text(rec.Session), text(x.Channel), whole(i + 1), number(g[0]), number(g[1]), utc(rec.Started, g[0])}); err != nil {
					return err
				}
			}
		}
		return nil
	})
}}
