package series

import (
	"math"
	"slices"
	"sync"
)

// Envelope is a series at some zoom: column k covers the time from FromS + k StepS to FromS + (k+1) StepS.
type Envelope struct {
	Channel        string
	Unit           string
	FromS, StepS   float64
	Min, Max, Mean []float32 // NaN: a gap, or not derived yet
	Progress       float64   // share of the series that has been derived; 1: all of it
}

func newEnvelope(fromS, stepS float64, points int) Envelope {
	e := Envelope{FromS: fromS, StepS: stepS, Progress: 1}
	for _, v := range []*[]float32{&e.Min, &e.Max, &e.Mean} {
		*v = make([]float32, points)
		for i := range *v {
			(*v)[i] = float32(math.NaN())
		}
	}
	return e
}

// mostPoints bounds a series: a longer one has points that stand for several values.
const mostPoints = 1 << 19

// points is a series of values, each of which holds from its instant to the next, or to a gap.
type points struct {
	at           []float64
	lo, hi, mean []float32
	every        int    // values a point stands for
	gaps         []span // in order of time
	n            int    // values in the last point
}

// add appends a value that is least, largest and mean of something.
func (p *points) add(atS float64, lo, hi, mean float32) {
	p.every = max(p.every, 1)
	if k := len(p.at) - 1; k >= 0 && p.n < p.every {
		p.lo[k], p.hi[k] = min(p.lo[k], lo), max(p.hi[k], hi)
		p.mean[k] += (mean - p.mean[k]) / float32(p.n+1)
		p.n++
		return
	}
	if len(p.at) >= mostPoints {
		p.halve()
	}
	p.at, p.lo, p.hi, p.mean = append(p.at, atS), append(p.lo, lo), append(p.hi, hi), append(p.mean, mean)
	p.n = 1
}

// halve joins the points two by two.
func (p *points) halve() {
	n := len(p.at) / 2
	for i := range n {
		a, b := 2*i, 2*i+1
		p.at[i] = p.at[a]
		p.lo[i], p.hi[i] = min(p.lo[a], p.lo[b]), max(p.hi[a], p.hi[b])
		p.mean[i] = (p.mean[a] + p.mean[b]) / 2
	}
	p.at, p.lo, p.hi, p.mean = p.at[:n], p.lo[:n], p.hi[:n], p.mean[:n]
	p.every *= 2
}

// gap says that there is nothing in a stretch of time.
func (p *points) gap(fromS, toS float64) {
	const touch = 1e-9
	i := firstTrue(len(p.gaps), func(i int) bool { return p.gaps[i].toS >= fromS-touch })
	j := i
	for ; j < len(p.gaps) && p.gaps[j].fromS <= toS+touch; j++ {
		fromS, toS = min(fromS, p.gaps[j].fromS), max(toS, p.gaps[j].toS)
	}
	p.gaps = slices.Replace(p.gaps, i, j, span{fromS, toS})
}

// broken tells whether a gap lies between two instants.
func (p *points) broken(fromS, toS float64) bool {
	i := firstTrue(len(p.gaps), func(i int) bool { return p.gaps[i].toS > fromS })
	return i < len(p.gaps) && p.gaps[i].fromS < toS
}

// envelope fills the columns of a view that begins at fromS.
func (p *points) envelope(e *Envelope) {
	edge := func(k int) float64 { return e.FromS + float64(k)*e.StepS }
	i := firstTrue(len(p.at), func(i int) bool { return p.at[i] >= e.FromS })
	for k := range e.Min {
		end := edge(k + 1)
		first := i
		var total float64
		lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
		for ; i < len(p.at) && p.at[i] < end; i++ {
			lo, hi = min(lo, p.lo[i]), max(hi, p.hi[i])
			total += float64(p.mean[i])
		}
		switch {
		case i > first:
			e.Min[k], e.Max[k], e.Mean[k] = lo, hi, float32(total/float64(i-first))
		case i > 0 && i < len(p.at) && !p.broken(p.at[i-1], edge(k)): // the value before still holds
			e.Min[k], e.Max[k], e.Mean[k] = p.lo[i-1], p.hi[i-1], p.mean[i-1]
		}
	}
}

// firstTrue returns the least i below n for which f holds, or n; f holds for all above the first.
func firstTrue(n int, f func(int) bool) int {
	lo, hi := 0, n
	for lo < hi {
		if m := (lo + hi) / 2; f(m) {
			hi = m
		} else {
			lo = m + 1
		}
	}
	return lo
}

// series is a set of points that is derived while others look at it.
type series struct {
	unit    string
	isLevel bool // values are mean squares of the sound pressure, Pa²; told in dB
	job     *Job

	mu sync.RWMutex // guards what follows until the job is over
	points
}

func newSeries(unit string) *series { return &series{unit: unit, job: NewJob()} }

func (s *series) envelope(fromS, toS float64, n int) Envelope {
	e := newEnvelope(fromS, (toS-fromS)/float64(n), n)
	e.Unit, e.Progress = s.unit, s.job.Reached() // before the points are read: never too much is said
	s.mu.RLock()
	s.points.envelope(&e)
	s.mu.RUnlock()
	if s.isLevel {
		for _, v := range [][]float32{e.Min, e.Max, e.Mean} {
			for i := range v {
				v[i] = levelDB(v[i])
			}
		}
	}
	return e
}
