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

// lower takes eighthReach samples of history and span new ones.
func (d *eighth) lower(x []float64) []float64 {
	h := d.half[quarterReach:]
	for j := range h {
		v := x[2*j : 2*j+5 : 2*j+5]
		h[j] = (1.0/16)*(v[0]+v[4]) + (4.0/16)*(v[1]+v[3]) + (6.0/16)*v[2]
	}
	q := d.quarter[lastReach:]
	for j := range q {
		v := d.half[2*j : 2*j+7 : 2*j+7]
		q[j] = (1.0/64)*(v[0]+v[6]) + (6.0/64)*(v[1]+v[5]) + (15.0/64)*(v[2]+v[4]) + (20.0/64)*v[3]
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
