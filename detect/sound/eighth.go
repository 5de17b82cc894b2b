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
		h[0] = (1.0/16)*(v[0]+v[4]) + (4.0/16)*(v[1]+v[3]) + (6.0/16)*v[2]
		h[1] = (1.0/16)*(v[2]+v[6]) + (4.0/16)*(v[3]+v[5]) + (6.0/16)*v[4]
		h[2] = (1.0/16)*(v[4]+v[8]) + (4.0/16)*(v[5]+v[7]) + (6.0/16)*v[6]
		h[3] = (1.0/16)*(v[6]+v[10]) + (4.0/16)*(v[7]+v[9]) + (6.0/16)*v[8]
	}
	x = d.half
	for q := d.quarter[lastReach:]; len(q) >= 4; q, x = q[4:], x[8:] {
		v := x[:13]
		q[0] = (1.0/64)*(v[0]+v[6]) + (6.0/64)*(v[1]+v[5]) + (15.0/64)*(v[2]+v[4]) + (20.0/64)*v[3]
		q[1] = (1.0/64)*(v[2]+v[8]) + (6.0/64)*(v[3]+v[7]) + (15.0/64)*(v[4]+v[6]) + (20.0/64)*v[5]
		q[2] = (1.0/64)*(v[4]+v[10]) + (6.0/64)*(v[5]+v[9]) + (15.0/64)*(v[6]+v[8]) + (20.0/64)*v[7]
		q[3] = (1.0/64)*(v[6]+v[12]) + (6.0/64)*(v[7]+v[11]) + (15.0/64)*(v[8]+v[10]) + (20.0/64)*v[9]
	}
	for j := range d.out {
		v := d.quarter[2*j : 2*j+9 : 2*j+9]
		d.out[j] = (1.0/256)*(v[0]+v[8]) + (8.0/256)*(v[1]+v[7]) + (28.0/256)*(v[2]+v[6]) + (56.0/256)*(v[3]+v[5]) + (70.0/256)*v[4]
	}
	copy(d.half[:quarterReach], d.half[len(d.half)-quarterReach:])
	copy(d.quarter[:lastReach], d.quarter[len(d.quarter)-lastReach:])
	out := d.out[d.skip:]
	d.skip = 0
	return out
}
