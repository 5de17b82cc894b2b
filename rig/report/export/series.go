package export

import (
	"context"
	"fmt"
	"math"

	"quern/detect"
	"quern/detect/sound"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// Series come from the analysis of the recordings as they pass; only the cell of time that is being filled is held, so
// that writing them takes no more memory for a session of ten hours than for one of a minute.

const seriesTime = "; with a step, the middle of the step"

// A level is told every 100 ms; bands, whose lowest need long, every second unless a step is asked for.
const (
	levelStepS = 0.1
	bandStepS  = 1.0
)

var levelTable = Table{Name: "series_level", Series: true, What: "the sound over time; nothing stands for a gap", Columns: []Column{
	sessionColumn, num("time_s", "s", 4, "middle of the 100 ms"+seriesTime), utcColumn, num("laeq_db", "dB", 2, "A-weighted equivalent level"), num("lafmax_db", "dB", 2, "largest A-weighted level, time weighting F"),
}}

var currentTable = Table{Name: "series_current", Series: true, What: "the current over time; nothing stands for a gap", Columns: []Column{
	sessionColumn, num("time_s", "s", 4, "end of the half mains cycle, or of the reading"+seriesTime), utcColumn, num("rms_a", "A", 4, "RMS of one mains cycle, updated every half"), num("max_a", "A", 4, "largest of those within a step"),
}}

var massTable = Table{Name: "series_mass", Series: true, What: "what the scale showed over time", Columns: []Column{
	sessionColumn, num("time_s", "s", 4, "of the indication"+seriesTime), utcColumn, num("mass_g", "g", 3, "indication; mean within a step"), num("min_g", "g", 3, "least within a step"), num("max_g", "g", 3, "largest within a step"),
}}

var extraTable = Table{Name: "series_extra", Series: true, What: "an extra channel over time", Columns: []Column{
	sessionColumn, isKey(word("channel", "name of the channel")), num("time_s", "s", 4, "of the reading"+seriesTime), utcColumn, word("unit_word", "unit of the values"), num("value", "", 6, "reading; mean within a step"), num("min", "", 6, "least within a step"), num("max", "", 6, "largest within a step"),
}}

var bandsTable = Table{Name: "series_third_octaves", Series: true, What: "the level of a third-octave band over time, a row a second unless a step is asked for", Columns: []Column{
	sessionColumn, isKey(num("nominal_hz", "Hz", 1, "nominal mid-band frequency")), num("time_s", "s", 4, "middle of the step"), utcColumn, num("leq_db", "dB", 2, "equivalent level, not weighted"),
}}

// pool is a cell of time that is being filled.
type pool struct {
	stepS       float64 // 0: each value by itself
	k           int64   // number of the cell
	n           float64
	sum, lo, hi float64
	sum2        float64 // of squares
	told        func(atS float64, p *pool) error
}

// add takes the value of an instant, in order of time.
func (p *pool) add(atS, mean, hi float64) error {
	if p.stepS == 0 {
		return p.told(atS, &pool{n: 1, sum: mean, sum2: mean * mean, lo: mean, hi: hi})
	}
	if k := int64(math.Floor(atS/p.stepS + 1e-9)); k != p.k {
		if err := p.flush(); err != nil {
			return err
		}
		p.k = k
	}
	if p.n == 0 {
		p.lo, p.hi = mean, hi
	}
	p.n++
	p.sum, p.sum2, p.lo, p.hi = p.sum+mean, p.sum2+mean*mean, min(p.lo, mean), max(p.hi, hi)
	return nil
}

func (p *pool) flush() error {
	if p.n == 0 {
		return nil
	}
	err := p.told((float64(p.k)+0.5)*p.stepS, p)
	*p = pool{stepS: p.stepS, k: p.k, told: p.told}
	return err
}

// walker makes the series of one session.
type walker struct {
	rec    *rig.Record
	emit   map[string]func([]Cell) error
	pools  []*pool
	extras map[rig.Channel]*pool
	units  map[rig.Channel]rig.Unit
	stepS  float64
	bands  bands
	err    error
}

// walk writes the series tables, session by session.
func (in *input) walk(ctx context.Context, emit map[string]func([]Cell) error) error {
	done := 0
	return in.records(func(rec *rig.Record) error {
		if err := in.walkOne(ctx, rec, emit); err != nil {
			return fmt.Errorf("session %s: %w", rec.Session, err)
		}
		if done++; in.Step != nil {
			in.Step(done, len(in.Records))
		}
		return nil
	})
}

func (in *input) walkOne(ctx context.Context, rec *rig.Record, emit map[string]func([]Cell) error) error {
	ses, err := session.Open(in.Dirs[rec.Session])
	if err != nil {
		return err
	}
	w := &walker{rec: rec, emit: emit, stepS: in.StepS, extras: map[rig.Channel]*pool{}, units: map[rig.Channel]rig.Unit{}}
	streams, set := ses.Manifest().Streams, in.setupOf(rec, ses)
	if len(streams) == 0 {
		return nil // by hand
	}
	for _, s := range streams {
		w.units[s.Channel] = s.Unit
		if s.Channel == rig.Microphone && s.Form == rig.Waveform {
			if w.bands.count, err = bandsOf(s.RateHz, set.Bench); err != nil {
				return err
			}
		}
	}
	if _, err := replay.Analyse(ses, set, w.trace(), func(src rig.Source) rig.Source { return &until{src, ctx, w} }); err != nil {
		return err
	}
	for _, p := range w.pools {
		w.keep(p.flush())
	}
	if w.bands.told != nil {
		w.keep(w.bands.finish())
	}
	return w.err
}

// until is a source that ends when nobody waits for it any more, or a row could not be written.
type until struct {
	rig.Source
	ctx context.Context
	w   *walker
}

func (u *until) Next() (rig.Block, error) {
	if u.w.err != nil {
		return rig.Block{}, u.w.err
	}
	if err := u.ctx.Err(); err != nil {
		return rig.Block{}, err
	}
	return u.Source.Next()
}

func (w *walker) keep(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *walker) pool(stepS float64, told func(atS float64, p *pool) error) *pool {
	p := &pool{stepS: stepS, told: told}
	w.pools = append(w.pools, p)
	return p
}

// trace is what the analysis is asked for: nothing that no table wants.
func (w *walker) trace() detect.Trace {
	var t detect.Trace
	name, at := text(w.rec.Session), func(atS float64) Cell { return utc(w.rec.Started, atS) }
	if emit := w.emit[levelTable.Name]; emit != nil {
		step := w.stepS
		if step <= levelStepS {
			step = 0
		}
		p := w.pool(step, func(atS float64, p *pool) error {
			return emit([]Cell{name, number(atS), at(atS), number(sound.LevelDB(p.sum / p.n)), number(p.hi)})
		})
		t.Level = func(atS, laeqDB, lafmaxDB float64) {
			if !math.IsNaN(laeqDB) {
				w.keep(p.add(atS, sound.MeanSquarePa2(laeqDB), lafmaxDB))
			}
		}
	}
	if emit := w.emit[currentTable.Name]; emit != nil {
		p := w.pool(w.stepS, func(atS float64, p *pool) error {
			return emit([]Cell{name, number(atS), at(atS), number(math.Sqrt(p.sum2 / p.n)), number(p.hi)})
		})
		t.Current = func(atS, rmsA float64) {
			if !math.IsNaN(rmsA) {
				w.keep(p.add(atS, rmsA, rmsA))
			}
		}
	}
	if emit := w.emit[massTable.Name]; emit != nil {
		p := w.pool(w.stepS, func(atS float64, p *pool) error {
			return emit([]Cell{name, number(atS), at(atS), number(p.sum / p.n), number(p.lo), number(p.hi)})
		})
		t.Mass = func(atS, massG float64) {
			if !math.IsNaN(massG) {
				w.keep(p.add(atS, massG, massG))
			}
		}
	}
	if emit := w.emit[extraTable.Name]; emit != nil {
		t.Extra = func(c rig.Channel, atS, value float64) {
			if w.extras[c] == nil {
				w.extras[c] = w.pool(w.stepS, func(atS float64, p *pool) error {
					return emit([]Cell{name, text(c), number(atS), at(atS), text(w.units[c]), number(p.sum / p.n), number(p.lo), number(p.hi)})
				})
			}
			if !math.IsNaN(value) {
				w.keep(w.extras[c].add(atS, value, value))
			}
		}
	}
	if emit := w.emit[bandsTable.Name]; emit != nil && w.bands.count > 0 {
		w.bands.stepS = bandStepS
		if w.stepS > 0 {
			w.bands.stepS = w.stepS
		}
		w.bands.told = func(atS float64, band int, meanSquare float64) error {
			return emit([]Cell{name, number(sound.NominalHz[band]), number(atS), at(atS), number(sound.LevelDB(meanSquare))})
		}
		t.Bands = func(fromS, toS float64, first int, exposure []float64) {
			w.keep(w.bands.add(fromS, toS, first, exposure))
		}
	}
	return t
}
