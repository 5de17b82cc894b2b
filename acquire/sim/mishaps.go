package sim

import (
	"math"
	"math/rand/v2"
)

// mishaps are the sounds that have nothing to do with the machine.
type mishaps struct {
	all     []Mishap
	rate    float64
	white   hiss
	clap    biquad
	thud    biquad
	vowel   [3]biquad
	gain    struct{ clap, thud, voice, hum float64 }
	pitch   float64
	mainsHz float64
	turn    float64
}

func newMishaps(sc *Scenario, r *rand.Rand, fs float64) *mishaps {
	m := &mishaps{rate: fs, white: hiss(r.Uint64()), pitch: 100 + 110*r.Float64(), mainsHz: sc.Supply.FrequencyHz}
	for _, h := range sc.Mishaps {
		switch h.Kind {
		case Clap, Knock, Voice, Fridge:
			m.all = append(m.all, h)
		}
	}
	m.clap, m.thud = bandPass(1900, 0.7, fs), bandPass(240, 1.5, fs)
	m.vowel = [3]biquad{bandPass(500, 4, fs), bandPass(1500, 6, fs), bandPass(2500, 8, fs)}
	m.gain.clap = 1 / weightedRMS(m.clap.power, fs)
	m.gain.thud = 1 / weightedRMS(m.thud.power, fs)
	m.gain.voice = 1 / weightedRMS(func(f, fs float64) float64 { return m.vowel[0].power(f, fs) }, fs)
	m.gain.hum = 1 / aWeight(2*sc.Supply.FrequencyHz)
	return m
}

// add adds what sounds to the samples from number from on.
func (m *mishaps) add(x []float64, from int) {
	begin, end := float64(from)/m.rate, float64(from+len(x))/m.rate
	for j, h := range m.all {
		last := h.LastsS
		if h.Kind == Clap || h.Kind == Knock {
			last = 0.6
		}
		if h.AtS >= end || h.AtS+last < begin {
			continue
		}
		amp := pascals(h.Amount)
		for i := max(0, int((h.AtS-begin)*m.rate)); i < len(x); i++ {
			age := begin + float64(i)/m.rate - h.AtS
			if age < 0 {
				continue
			}
			if age >= last {
				break
			}
			switch h.Kind {
			case Clap:
				// A palm's burst of 8 ms, and the room's answer.
				x[i] += amp * (math.Exp(-age/0.008) + 0.05*math.Exp(-age/0.12)) * m.gain.clap * m.clap.step(m.white.normal())
			case Knock:
				x[i] += amp * math.Exp(-age/0.03) * m.gain.thud * m.thud.step(m.white.normal())
			case Voice:
				x[i] += amp * m.speak(age, h.LastsS, j)
			case Fridge:
				x[i] += 1.4 * pascals(33) * m.gain.hum * math.Sin(4*math.Pi*m.mainsHz*age) * math.Min(1, age/0.3)
			}
		}
	}
}

// speak is talk: a pitch and some breath through three formants, in syllables of 3 to 8 a second.
func (m *mishaps) speak(age, lasts float64, who int) float64 {
	syllable := math.Max(0, math.Sin(2*math.Pi*(4.2*age+0.4*math.Sin(2.1*age+float64(who)))))
	m.turn += m.pitch * (1 + 0.12*math.Sin(3.3*age)) / m.rate
	m.turn -= math.Floor(m.turn)
	glottis := 1.5*(1-2*m.turn) + 0.7*m.white.normal()
	y := m.vowel[0].step(glottis) + 0.6*m.vowel[1].step(glottis) + 0.4*m.vowel[2].step(glottis)
	edge := math.Min(1, math.Min(age, lasts-age)/0.1)
	return 0.8 * syllable * edge * m.gain.voice * y
}
