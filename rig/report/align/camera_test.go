package align

import (
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"quern/acquire/sim"
	"quern/rig"
)

// heard is a recording in memory.
type heard struct {
	rateHz  float64
	startS  float64
	samples []float64
	at      int
}

func (h *heard) RateHz() float64 { return h.rateHz }

func (h *heard) Next() (float64, []float64, error) {
	if h.at >= len(h.samples) {
		return 0, nil, io.EOF
	}
	n := min(12000, len(h.samples)-h.at)
	x := h.samples[h.at:][:n]
	atS := h.startS + float64(h.at)/h.rateHz
	h.at += n
	return atS, x, nil
}

func (h *heard) again() *heard { return &heard{rateHz: h.rateHz, startS: h.startS, samples: h.samples} }

func (h *heard) seconds() float64 { return float64(len(h.samples)) / h.rateHz }

// played returns what the microphone of a simulated session recorded.
func played(t testing.TB, sc sim.Scenario) *heard {
	t.Helper()
	if !sc.Current.Readings { // only the sound is wanted
		sc.Current.RateHz = 0
	}
	sc.Mass.RateHz = 0
	b, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	h := &heard{}
	for _, s := range b.Streams() {
		if s.Channel == rig.Microphone {
			h.rateHz = s.RateHz
		}
	}
	for {
		block, err := b.Next()
		if err == io.EOF {
			return h
		}
		if err != nil {
			t.Fatal(err)
		}
		if block.Channel == rig.Microphone {
			h.samples = append(h.samples, block.Samples...)
		}
	}
}

// shot is what a camera does to the sound of a session.
type shot struct {
	seed     uint64
	rateHz   float64
	offsetS  float64 // session time of the first sample
	lastsS   float64
	driftPPM float64
	noiseDB  float64 // below the sound, RMS of the part that both have
	echo     bool
	far      bool // so far off that most of what it hears is echo
	gain     bool // automatic gain
}

// film records a session's sound as a camera would. It shares no code with what is tested.
func film(h *heard, s shot) *heard {
	rng := rand.New(rand.NewPCG(s.seed, 77))
	n := int(s.lastsS * s.rateHz)
	x := make([]float64, n)
	// Low-pass and interpolation in one: a sinc of the camera's bandwidth, from a fine table.
	const fine = 512
	cut := min(1, 0.92*s.rateHz/h.rateHz)
	reach := int(8 / cut)
	table := make([]float64, reach*fine+2)
	for i := range table {
		u := float64(i) / fine
		v := cut
		if u > 0 {
			v = math.Sin(math.Pi*u*cut) / (math.Pi * u)
		}
		table[i] = v * (0.5 + 0.5*math.Cos(math.Pi*min(1, u/float64(reach))))
	}
	for j := range x {
		at := (s.offsetS - h.startS + float64(j)/s.rateHz*(1+s.driftPPM*1e-6)) * h.rateHz
		i0 := int(math.Floor(at))
		if i0 < reach || i0+reach+1 >= len(h.samples) {
			continue
		}
		var sum float64
		for i := i0 - reach + 1; i <= i0+reach; i++ {
			sum += h.samples[i] * table[int(math.Abs(at-float64(i))*fine)]
		}
		x[j] = sum
	}
	if s.echo || s.far {
		x = echoed(x, s.rateHz, s.far, rng)
	}
	var square float64
	m := 0
	for _, v := range x {
		if v != 0 {
			square += v * v
			m++
		}
	}
	rms := math.Sqrt(square / float64(max(1, m)))
	// Noise that falls with frequency, and white noise.
	level := rms * math.Pow(10, -s.noiseDB/20)
	low := 0.0
	for j := range x {
		a := rng.NormFloat64()
		low = 0.95*low + 0.31*rng.NormFloat64()
		x[j] += level * (0.7*a + 0.7*low)
	}
	if s.gain {
		follow := rms
		for j, v := range x {
			a := math.Abs(v)
			if a > follow {
				follow += (a - follow) * 40 / s.rateHz
			} else {
				follow += (a - follow) * 1 / s.rateHz
			}
			x[j] = 0.1 * v / max(follow, rms/30)
		}
	} else {
		for j := range x {
			x[j] *= 0.1 / rms
		}
	}
	for j, v := range x {
		x[j] = math.Round(max(-1, min(1, v))*32767) / 32768
	}
	return &heard{rateHz: s.rateHz, samples: x}
}

// echoed adds a few reflections and the tail of a kitchen: half a second of reverberation. Far off, the tail
// holds three times the energy of what comes straight.
func echoed(x []float64, rateHz float64, far bool, rng *rand.Rand) []float64 {
	type tap struct {
		at int
		g  float64
	}
	var taps []tap
	early, tail, n := 0.6, 0.15, 60
	if far {
		early, tail, n = 1, 0.25, 250
	}
	for range 6 {
		d := 0.003 + 0.05*rng.Float64()
		g := early * rng.Float64()
		if far { // what comes straight has come two metres, at 343 m/s; the others more, and are weaker for it
			g /= 1 + 343*d/2
		}
		if rng.IntN(2) == 0 {
			g = -g
		}
		taps = append(taps, tap{int(d * rateHz), g})
	}
	for range n {
		d := 0.01 + 0.4*rng.Float64()
		taps = append(taps, tap{int(d * rateHz), tail * rng.NormFloat64() * math.Exp(-6.9*d/0.5)})
	}
	out := make([]float64, len(x))
	copy(out, x)
	for _, t := range taps {
		for j := t.at; j < len(x); j++ {
			out[j] += t.g * x[j-t.at]
		}
	}
	return out
}
