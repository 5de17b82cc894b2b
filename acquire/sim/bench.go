package sim

import (
	"io"
	"math"

	"quern/config"
	"quern/rig"
)

// blockS is the length of the blocks that a bench delivers, s.
const blockS = 0.25

// Bench plays a scenario as a source of blocks. What happens is worked out by New; what the channels
// show of it is made block by block, so that a long session needs little memory.
type Bench struct {
	sc      Scenario
	tale    *tale
	streams []rig.Stream
	mouth   *mouth
	ammeter *ammeter
	balance *balance
	queue   []rig.Channel // of the present block
	k       int           // number of the block after that
	mic     []float64
	amps    []float64
	rows    []rig.Reading
	pa      []float64 // the whole recorded pressure, for the levels
	truth   *Truth
}

var _ rig.Source = (*Bench)(nil)

// New works out what happens in a scenario. The error says what is wrong with it.
func New(sc Scenario) (*Bench, error) {
	if err := sc.faulty(); err != nil {
		return nil, err
	}
	b := &Bench{sc: sc}
	b.tale = play(&b.sc)
	if r := sc.Sound.RateHz; r > 0 {
		b.mouth = newMouth(&b.sc, b.tale)
		if sc.LevelTruth {
			b.pa = make([]float64, 0, int(r*b.tale.seconds)+1)
		}
		b.streams = append(b.streams, rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: r})
	}
	if r := sc.Current.RateHz; r > 0 {
		b.ammeter = newAmmeter(&b.sc, b.tale)
		s := rig.Stream{Channel: rig.Clamp, Form: rig.Waveform, Unit: rig.FullScale, RateHz: r}
		if sc.Current.Readings {
			s = rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}
		}
		b.streams = append(b.streams, s)
	}
	if sc.Mass.RateHz > 0 {
		b.balance = newBalance(&b.sc, b.tale)
		b.streams = append(b.streams, rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram})
	}
	return b, nil
}

// Streams returns what the bench delivers.
func (b *Bench) Streams() []rig.Stream { return b.streams }

// Seconds returns the length of the session, s.
func (b *Bench) Seconds() float64 { return b.tale.seconds }

// Setup returns the lab settings that belong to the scenario, and defaults for everything else.
func (b *Bench) Setup() config.Setup {
	s := config.Setup{Bench: config.DefaultBench()}
	s.Bench.Name = "simulated"
	s.Bench.Supply = config.Supply{VoltageV: b.sc.Supply.VoltageV, FrequencyHz: b.sc.Supply.FrequencyHz}
	s.Bench.Microphone.FullScaleDB = 120
	if b.sc.Sound.RateHz > 0 {
		s.Bench.Microphone.FullScaleDB = b.sc.Sound.FullScaleDB
	}
	s.Bench.Clamp.FullScaleA = 100
	if b.sc.Current.RateHz > 0 && !b.sc.Current.Readings {
		s.Bench.Clamp.FullScaleA = b.sc.Current.FullScaleA
	}
	s.Bench.Scale.DivisionG = 1
	if b.sc.Mass.RateHz > 0 {
		s.Bench.Scale.DivisionG = b.sc.Mass.DivisionG
	}
	s.Unit, s.Procedure = b.sc.Unit.Unit, b.sc.Procedure
	return s
}

// Next returns the next quarter of a second of the next channel.
func (b *Bench) Next() (rig.Block, error) {
	for {
		if len(b.queue) == 0 {
			if float64(b.k)*blockS >= b.tale.seconds {
				return rig.Block{}, io.EOF
			}
			b.k++
			for _, s := range b.streams {
				b.queue = append(b.queue, s.Channel)
			}
		}
		c := b.queue[0]
		b.queue = b.queue[1:]
		if blk := b.block(c, b.k-1); len(blk.Samples)+len(blk.Readings) > 0 {
			return blk, nil
		}
	}
}

// block makes block k of a channel.
func (b *Bench) block(c rig.Channel, k int) rig.Block {
	blk := rig.Block{Channel: c}
	switch {
	case c == rig.Microphone:
		m := &b.sc.Sound
		from, to := b.between(k, m.RateHz)
		b.mic = append(b.mic[:0], make([]float64, max(0, to-from))...)
		b.mouth.fill(b.mic, from)
		full, steps := math.Sqrt2*pascals(m.FullScaleDB), math.Ldexp(1, m.Bits-1)
		for i, v := range b.mic {
			b.mic[i] = quantise(v/full, steps)
		}
		if b.sc.LevelTruth {
			for _, v := range b.mic {
				b.pa = append(b.pa, v*full)
			}
		}
		blk.StartS, blk.Samples = float64(from)/m.RateHz, b.mic
	case c == rig.Clamp && !b.sc.Current.Readings:
		m := &b.sc.Current
		from, to := b.between(k, m.RateHz)
		b.amps = b.amps[:0]
		steps := math.Ldexp(1, m.Bits-1)
		for i := from; i < to; i++ {
			b.amps = append(b.amps, quantise(b.ammeter.sample(float64(i)/m.RateHz)/m.FullScaleA, steps))
		}
		blk.StartS, blk.Samples = float64(from)/m.RateHz, b.amps
	case c == rig.Clamp:
		r := b.sc.Current.RateHz
		from, to := b.between(k, r)
		b.rows = b.rows[:0]
		for i := from; i < to; i++ {
			if i > 0 {
				b.rows = append(b.rows, rig.Reading{AtS: float64(i) / r, Value: b.ammeter.reading(float64(i-1)/r, float64(i)/r)})
			}
		}
		blk.Readings = b.rows
	default:
		from, to := b.between(k, b.sc.Mass.RateHz)
		b.rows = b.rows[:0]
		for i := from; i < to; i++ {
			b.rows = append(b.rows, b.balance.reading(i))
		}
		blk.Readings = b.rows
	}
	return blk
}

// between returns the numbers of the samples in block k, [from, to).
func (b *Bench) between(k int, rate float64) (from, to int) {
	end := math.Min(float64(k+1)*blockS, b.tale.seconds)
	return int(math.Ceil(float64(k)*blockS*rate - 1e-6)), int(math.Ceil(end*rate - 1e-6))
}

// Truth returns what happened. With Scenario.LevelTruth the levels are there once Next has returned
// io.EOF; all else at any time.
func (b *Bench) Truth() Truth {
	if b.truth == nil {
		t := newJudge(&b.sc, b.tale).judgement()
		b.truth = &t
	}
	if b.sc.LevelTruth && b.mouth != nil && float64(b.k)*blockS >= b.tale.seconds && len(b.queue) == 0 && b.pa != nil { // once
		levels(&b.sc, b.tale, b.pa, b.truth)
		b.pa = nil
	}
	return *b.truth
}
