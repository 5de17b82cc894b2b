// Package sound is the sound level meter of the bench: A- and C-weighted exposure, F and S time
// weighting, C-weighted peak, third-octave bands, clipping and dead input, from samples of any rate
// between 1 and 192 kHz, in one pass and constant memory. It knows neither clock nor file, and how a
// recording is cut into Push calls never changes a bit of the result.
//
// Samples are fractions of digital full scale. Pressures are in Pa, mean squares in Pa², exposures
// in Pa² s, levels in dB re 20 µPa, times in seconds from the first sample.
//
// # What it holds to
//
// The weightings follow the analytic curves of IEC 61672-1:2013, Annex E, for sample rates from 8 kHz
// on: within 0.02 dB from 10 Hz to 0.3 of the rate and within 0.04 dB to 0.42 of it (20 kHz at 48 kHz),
// and stay within class 1 up to 0.45 of it (weighting_error.svg). At lower rates C holds as well, and A is
// within 0.04 dB to 0.45 of the rate and within 0.2 dB to half of it; what lies above that is not in the samples
// and in no figure.
// Third-octave bands meet class 1 of IEC 61260-1:2014 at every rate, where [Meter.Measurable].
package sound

import (
	"fmt"
	"math"

	"quern/config"
	"quern/rig"
)

const (
	frameHz = 100.0 // frames a second
	fastS   = 0.125 // s, time constant of F (IEC 61672-1:2013, 5.8)
	slowS   = 1.0   // s, time constant of S (ditto)
	// beyond is the magnitude, in full scales, from which a sample is no sound but a broken number.
	beyond = 1e6
	// faint is what the filter states are cut at, in full scales, 600 dB down: left alone they would
	// decay into denormal numbers, which cost a hundred times the time.
	faint = 1e-30
)

// Frame is what was heard in 10 ms: frame k spans the samples from round(k fs/100) to
// round((k+1) fs/100); the last frame of a recording may be shorter.
type Frame struct {
	StartS, EndS float64
	EA, EC, EZ   float64 // sound exposure, Pa² s: A- and C-weighted, and flat (with the input's DC)
	ET           float64 // that of the treble, from TrebleHz on, C-weighted; 0 unless HasTreble
	// Octave holds that of the octaves of OctaveHz, flat within each; 0 unless they are listened to (see
	// ListenToOctaves), and where the sample rate is too low.
	Octave     [Octaves]float64
	FMax, SMax float64 // largest F and S mean square of the A-weighted pressure inside the frame, Pa²
	FEnd, SEnd float64 // the same at the frame's end
	CPeak      float64 // largest magnitude of the C-weighted pressure, between samples too, Pa
	// Clipped counts the samples that were clipped. Those of a run are counted in the frame in which
	// the run is long enough to be known as one.
	Clipped int
	// Still says that the input did not change in the whole frame, as part of a stretch of at least
	// the setting silent_s: a dead input, whose levels mean nothing.
	Still bool
}

// Meter measures one recording. Make it with New.
type Meter struct {
	rate   float64
	pa     float64 // Pa at full scale
	set    config.DetectSound
	clipAt float64 // magnitude from which a sample counts as clipped

	in      []float64 // three samples of history, then the frame being filled
	fill    int       // samples of it
	frame   int       // its number
	startAt int       // first sample of it
	endAt   int       // first sample of the next
	first   float64   // the recording's first sample: the input's rest before it
	done    bool
	leftOut int

	chain   chain
	octaves octaves
	peak    peakFinder
	bands   bank
	clip    clipFinder
	still   stillFinder

	open   bool // last holds a frame whose peak is not known yet
	last   pending
	held   []pending // unchanging frames of which it is not known yet whether they are dead
	out    []Frame
	faults []Fault
}

// pending is a frame on its way out.
type pending struct {
	Frame
	constant bool
	run      int // length of the unchanging run that reaches to the frame's end, samples
}

// New returns a meter for samples at rateHz. fullScaleDB is the level, dB re 20 µPa, of a sine whose
// peak just reaches full scale. Errors tell a rate or calibration that cannot be.
func New(rateHz, fullScaleDB float64, set config.DetectSound) (*Meter, error) {
	if !rig.RateTaken(rateHz) {
		return nil, fmt.Errorf("found a sound sample rate of %g Hz, expected %g to %g Hz: record at 48000 Hz", rateHz, rig.MinRateHz, rig.MaxRateHz)
	}
	if !(math.Abs(fullScaleDB) <= 400) {
		return nil, fmt.Errorf("found a full scale of %g dB, expected a level such as 120: calibrate the microphone", fullScaleDB)
	}
	if !(set.ClipBelowFSDB >= 0) || set.ClipSamples < 1 || !(set.SilentS > 0) {
		return nil, fmt.Errorf("found clip_below_fs_db %g, clip_samples %d, silent_s %g, expected at least 0, at least 1, more than 0", set.ClipBelowFSDB, set.ClipSamples, set.SilentS)
	}
	w, err := designWeighting(rateHz)
	if err != nil {
		return nil, err
	}
	m := &Meter{
		rate: rateHz, set: set,
		pa:     math.Sqrt2 * RefPa * math.Pow(10, fullScaleDB/20),
		clipAt: math.Pow(10, -set.ClipBelowFSDB/20),
	}
	most := int(rateHz/frameHz) + 2
	m.in = make([]float64, history+most)
	m.endAt = m.boundary(1)
	m.chain = newChain(w, most)
	m.peak = newPeakFinder(most)
	m.bands = newBank(rateHz, m.pa)
	m.clip = clipFinder{at: m.clipAt, least: set.ClipSamples, gap: int(clipGapS * rateHz)}
	m.still = stillFinder{least: int(math.Ceil(set.SilentS * rateHz))}
	return m, nil
}

// boundary is the first sample of frame k.
func (m *Meter) boundary(k int) int { return int(math.Round(float64(k) * m.rate / frameHz)) }

// Push takes the next samples, fractions of full scale. Float recordings may exceed 1: one such sample counts as
// clipped by itself. A sample that is no number, or beyond a million full scales, is taken as 0 and counted by
// LeftOut. After Finish it does nothing.
func (m *Meter) Push(x []float64) {
	if m.done {
		return
	}
	m.bands.fresh()
	for len(x) > 0 {
		need := m.endAt - m.startAt
		n := copy(m.in[history+m.fill:history+need], x)
		m.fill += n
		x = x[n:]
		if m.fill == need {
			m.measure()
		}
	}
}

// Finish ends the recording: what is left becomes a last, shorter frame, and everything held back
// comes out. A second call does nothing.
func (m *Meter) Finish() {
	if m.done {
		return
	}
	m.bands.fresh()
	if m.fill > 0 {
		m.measure()
	}
	m.done = true
	m.settle()
	m.out = release(m.out, m.held, false)
	m.held = m.held[:0]
	m.faults = m.clip.finish(m.faults, m.startAt, m.rate)
	m.faults = m.still.finish(m.faults, m.startAt, m.rate)
	m.bands.finish(m.startAt)
}

// LeftOut returns how many samples so far were no sound and were taken as 0.
func (m *Meter) LeftOut() int { return m.leftOut }

// Frames returns the frames completed since the last call, in order. The slice is valid until the
// next Push. A frame comes out 10 ms late, for the sake of peaks between samples; one in which the
// input does not change at all, as soon as it is known whether the input is dead.
func (m *Meter) Frames() []Frame {
	f := m.out
	m.out = m.out[:0]
	return f
}

// Bands returns the third-octave frames completed since the last call. The frames of one group of
// bands (those with the same First) follow each other without gap or overlap; groups differ in
// length (at 48 kHz: 17 ms from 1 kHz on, 136 ms from 125 Hz, 309 ms below), come two at a time, and in
// the order in which they are complete. Valid until the next Push.
func (m *Meter) Bands() []BandFrame { return m.bands.take() }

// Measurable says whether a band, an index of NominalHz, lies whole below 0.45 of the sample rate.
func (m *Meter) Measurable(band int) bool { return measurable(m.rate, band) }

// HasTreble says whether the samples hold enough of what lies above TrebleHz.
func (m *Meter) HasTreble() bool { return m.chain.treble.on }

// ListenToOctaves asks for the octaves of each frame, before the first Push. They cost some twice as much as
// the rest of the meter together (BenchmarkPush).
func (m *Meter) ListenToOctaves() { m.octaves = newOctaves(m.rate) }

// Faults returns the clipped and dead intervals that ended since the last call. Valid until the next
// Push.
func (m *Meter) Faults() []Fault {
	f := m.faults
	m.faults = m.faults[:0]
	return f
}

// measure takes the frame in m.in.
func (m *Meter) measure() {
	n := m.fill
	x := m.in[history : history+n]
	from := m.startAt
	f := pending{Frame: Frame{StartS: float64(from) / m.rate, EndS: float64(from+n) / m.rate}}

	ez := energy(x)
	if !(ez < beyond*beyond) {
		for i, v := range x {
			if !(math.Abs(v) < beyond) {
				x[i] = 0
				m.leftOut++
			}
		}
		ez = energy(x)
	}
	if from == 0 {
		m.first = x[0]
		for i := range history {
			m.in[i] = m.first
		}
		m.chain.rest(m.first)
	}
	f.EZ = ez
	// One clipped sample alone has the energy clipAt²: most frames need not be looked through.
	if ez >= m.clipAt*m.clipAt || m.clip.run > 0 {
		var clipped int
		clipped, m.faults = m.clip.look(m.faults, x, from, m.rate)
		f.Clipped += clipped
	}
	f.constant, f.run, m.faults = m.still.look(m.faults, x, from, m.rate)

	weighted := m.peak.room(n)
	m.chain.take(m.in[:history+n], weighted, &f.Frame)
	m.octaves.energies(x, &f.Octave)
	m.bands.push(x, m.first)

	m.settle()
	m.last, m.open = f, true
	k := m.pa * m.pa
	a, c := m.chain.w.aGain*m.chain.w.aGain*k, m.chain.w.cGain*m.chain.w.cGain*k
	m.last.EA *= a / m.rate
	m.last.EC *= c / m.rate
	m.last.ET *= c / m.rate
	m.last.EZ *= k / m.rate
	for i := range m.octaves {
		m.last.Octave[i] *= k / m.rate
	}
	m.last.FMax *= a
	m.last.FEnd *= a
	m.last.SMax *= a
	m.last.SEnd *= a

	copy(m.in[:history], m.in[n:n+history])
	m.faults = m.clip.pass(m.faults, from+n, m.rate)
	m.frame++
	m.fill, m.startAt, m.endAt = 0, from+n, m.boundary(m.frame+1)
}

// settle finds the peak of the last frame, now that the samples behind it are known (or that there
// are none), and sends it on.
func (m *Meter) settle() {
	if !m.open {
		m.peak.next()
		return
	}
	m.open = false
	f := m.last
	f.CPeak = m.peak.find(f.CPeak) * m.chain.w.cGain * m.pa
	m.peak.next()
	if !f.constant {
		m.out = release(m.out, m.held, false)
		m.held = m.held[:0]
		m.out = append(m.out, f.Frame)
		return
	}
	m.held = append(m.held, f)
	if f.run >= m.still.least {
		m.out = release(m.out, m.held, true)
		m.held = m.held[:0]
	}
}

func release(out []Frame, held []pending, still bool) []Frame {
	for _, p := range held {
		p.Still = still
		out = append(out, p.Frame)
	}
	return out
}

// energy is the sum of squares. Four sums side by side: one alone would wait for each addition.
func energy(x []float64) float64 {
	var a, b, c, d float64
	for len(x) >= 4 {
		v := x[:4:4]
		a += v[0] * v[0]
		b += v[1] * v[1]
		c += v[2] * v[2]
		d += v[3] * v[3]
		x = x[4:]
	}
	for _, v := range x {
		a += v * v
	}
	return (a + b) + (c + d)
}

// RateHz is the rate of the samples.
func (m *Meter) RateHz() float64 { return m.rate }
