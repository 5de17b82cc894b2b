package align

import (
	"io"
	"math/rand/v2"
	"testing"
)

// packed is a recording of 16 bits in memory, as it lies in a file.
type packed struct {
	rateHz float64
	v      []int16
	at     int
	buf    []float64
}

func (p *packed) RateHz() float64 { return p.rateHz }

func (p *packed) Next() (float64, []float64, error) {
	if p.at >= len(p.v) {
		return 0, nil, io.EOF
	}
	if p.buf == nil {
		p.buf = make([]float64, 12000)
	}
	n := min(len(p.buf), len(p.v)-p.at)
	for i, v := range p.v[p.at : p.at+n] {
		p.buf[i] = float64(v) / 32768
	}
	atS := float64(p.at) / p.rateHz
	p.at += n
	return atS, p.buf[:n], nil
}

// hour makes noise that changes as that of a bench does, at 48 kHz.
func hour(minutes int) *packed {
	rng := rand.New(rand.NewPCG(1, 2))
	v := make([]int16, minutes*60*48000)
	level, until, low := 0.0, 0, 0.0
	for i := range v {
		if i >= until {
			level, until = 300*(1+30*rng.Float64()*rng.Float64()), i+2000+rng.IntN(30000)
		}
		low += 0.3 * (rng.Float64() - 0.5 - low)
		v[i] = int16(level * (low + 0.3*(rng.Float64()-0.5)))
	}
	return &packed{rateHz: 48000, v: v}
}

// BenchmarkFind aligns 20 minutes of footage with an hour of session, both at 48 kHz, with a drift of 50
// millionths. The goal is 5 s on one core.
func BenchmarkFind(b *testing.B) {
	session := hour(60)
	camera := &packed{rateHz: 48000}
	rng := rand.New(rand.NewPCG(3, 4))
	const offsetS, drift = 1300.25, 50e-6
	for j := range 20 * 60 * 48000 {
		at := offsetS*48000 + float64(j)*(1+drift)
		i := int(at)
		u := at - float64(i)
		camera.v = append(camera.v, int16((1-u)*float64(session.v[i])+u*float64(session.v[i+1])+300*(rng.Float64()-0.5)))
	}
	for b.Loop() {
		session.at, camera.at = 0, 0
		a, err := Find(camera, session)
		if err != nil {
			b.Fatal(err)
		}
		if e := worst(a, shot{offsetS: offsetS, driftPPM: 1e6 * drift}); e > 0.005 {
			b.Fatalf("off by %g s: %+v", e, a)
		}
	}
}
