package sound

import "math"

// eighth takes a signal to an eighth of its rate in three halvings, each behind a binomial low-pass
// of order 4, 6 and 8: cheap, and free of side lobes. Its zeros lie where the aliases come from.
type eighth struct {
	half    []float64 // history of the second halving, then its input
	quarter []float64 // of the third
	out     []float64
	skip    int
}

const (
	eighthReach  = 3 // samples of history that the first halving needs
	quarterReach = 5
	lastReach    = 7
	// eighthSkip outputs are dropped: output j then stands for the time of input 8j, within 4 samples.
	eighthSkip = 2
)

func newEighth(span int) *eighth {
	return &eighth{
		half:    make([]float64, quarterReach+span/2),
		quarter: make([]float64, lastReach+span/4),
		out:     make([]float64, span/8),
		skip:    eighthSkip,
	}
}

// eighthResponse is the squared magnitude at a frequency that is a share of the rate before.
func eighthResponse(share float64) float64 {
	a, b, c := math.Cos(math.Pi*share), math.Cos(2*math.Pi*share), math.Cos(4*math.Pi*share)
	return math.Pow(a, 8) * math.Pow(b, 12) * math.Pow(c, 16)
}

// lower takes eighthReach samples of history and span new ones. The first two halvings make four samples a round, so that
// their input need not be measured out for each; a span holds whole rounds.
func (d *eighth) lower(x []float64) []float64 {
	for h := d.half[quarterReach:]; len(h) >= 4; h, x = h[4:], x[8:] {
		v := x[:11]
		h[0] = (v[0] + v[4]) + 4*(v[1]+v[3]) + 6*v[2]
		h[1] = (v[2] + v[6]) + 4*(v[3]+v[5]) + 6*v[4]
		h[2] = (v[4] + v[8]) + 4*(v[5]+v[7]) + 6*v[6]
		h[3] = (v[6] + v[10]) + 4*(v[7]+v[9]) + 6*v[8]
	}
	x = d.half
	for q := d.quarter[lastReach:]; len(q) >= 4; q, x = q[4:], x[8:] {
		v := x[:13]
		q[0] = (v[0] + v[6]) + 6*(v[1]+v[5]) + 15*(v[2]+v[4]) + 20*v[3]
		q[1] = (v[2] + v[8]) + 6*(v[3]+v[7]) + 15*(v[4]+v[6]) + 20*v[5]
		q[2] = (v[4] + v[10]) + 6*(v[5]+v[9]) + 15*(v[6]+v[8]) + 20*v[7]
		q[3] = (v[6] + v[12]) + 6*(v[7]+v[11]) + 15*(v[8]+v[10]) + 20*v[9]
	}
	const share = 1.0 / (16 * 64 * 256) // the sums of all three were left undivided; by a power of two that is the same to the last bit
	for j := range d.out {
		v := d.quarter[2*j : 2*j+9 : 2*j+9]
		d.out[j] = share*(v[0]+v[8]) + (8*share)*(v[1]+v[7]) + (28*share)*(v[2]+v[6]) + (56*share)*(v[3]+v[5]) + (70*share)*v[4]
	}
	copy(d.half[:quarterReach], d.half[len(d.half)-quarterReach:])
	copy(d.quarter[:lastReach], d.quarter[len(d.quarter)-lastReach:])
	out := d.out[d.skip:]
	d.skip = 0
	return out
}
