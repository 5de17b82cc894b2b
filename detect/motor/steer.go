package motor

import (
	"math"
	"slices"
)

// movedShare of a cycle by which a window's length must differ from it for its RMS to be taken over the cycle itself.
const movedShare = 1e-3

// tornTurn is the phase that the mains may gain on the oscillator in half a cycle before a window counts
// as torn, rad: 2 % of its length.
const tornTurn = 0.02 * math.Pi

// boundary closes a half cycle at atS and steers the oscillator.
func (t *Tracker) boundary(atS float64) {
	t.turns += 0.5
	shift := 0.0
	if t.ready {
		c := t.cycle(atS)
		shift = t.steer(&c)
		c.FirstA, c.SecondA = t.first(&c)
		t.out = append(t.out, c)
		if t.followed {
			t.spectrum.mark(c)
		}
	}
	t.prev, t.ready = t.cur, true
	t.cur = newHalf(atS)
	t.phase = shift
}

func (t *Tracker) cycle(atS float64) Cycle {
	a, b := &t.prev, &t.cur
	n := a.n + b.n
	mean, ms := (a.x+b.x)/n, (a.xx+b.xx)/n
	off := t.offset(mean)
	c := Cycle{StartS: a.startS, EndS: atS, OffsetA: off, Hz: t.hz}
	if t.followed && math.Abs((atS-a.startS)*t.hz-1) > movedShare {
		// A boundary was moved: take the cycle that ends here instead.
		mean, ms = t.moments((atS-1/t.hz)*t.rateHz, atS*t.rateHz)
	}
	c.SwingA = math.Sqrt(max(ms-mean*mean, 0))
	c.RMSA = math.Sqrt(max(ms-2*off*mean+off*off, 0))
	re, im := 2*(a.re+b.re)/n, 2*(a.im+b.im)/n
	c.FundA = math.Hypot(re, im) / math.Sqrt2
	c.ThirdA = math.Hypot(a.re3+b.re3, a.im3+b.im3) * math.Sqrt2 / n
	for i := range b.hi {
		c.Quarters[i] = max(b.hi[i]-off, off-b.lo[i], 0)
		c.PeakA = max(c.PeakA, c.Quarters[i], a.hi[i]-off, off-a.lo[i])
	}
	c.Turns = math.Atan2(im, re) // for steer
	return c
}

// offset follows the offset of the clamp: the d.c. of an inrush, a few cycles long, must not move it.
func (t *Tracker) offset(mean float64) float64 {
	oldest := &t.means[t.nMeans%len(t.means)]
	w := t.inOrder[:min(t.nMeans, len(t.inOrder))]
	if len(w) == len(t.inOrder) {
		i, _ := slices.BinarySearch(w, *oldest)
		w = slices.Delete(w, i, i+1)
	}
	i, _ := slices.BinarySearch(w, mean)
	w = slices.Insert(w, i, mean)
	*oldest = mean
	t.nMeans++
	return w[len(w)/2]
}

// steer follows the fundamental of c and returns the shift of the oscillator's phase, in half cycles.
func (t *Tracker) steer(c *Cycle) float64 {
	arg := c.Turns
	strong := c.FundA > t.floorA && c.FundA > 0.4*c.RMSA
	c.Locked = strong && t.followed && t.torn == 0
	was := t.followed
	t.followed = strong
	after := t.wasTorn // that window says nothing of how the mains turned
	if t.wasTorn = t.torn > 0; t.wasTorn {
		t.torn--
	}
	t.moving = t.wasTorn || after
	c.Torn = t.moving
	if !strong {
		t.hz += 0.02 * (t.settled - t.hz)
		t.move, t.moved = 0, 0
		c.Turns = t.turns
		return 0
	}
	err := math.Remainder(arg, math.Pi)
	if !was {
		// Current just began: go onto its zero crossings at once.
		t.moved, t.move, t.arg, t.torn = 0, 0, 0, 2
		c.Turns = t.turns
		return err / math.Pi
	}
	if !c.Torn {
		// Each of the two halves of a window carries the corrections made before it.
		turned := math.Remainder(arg-t.arg+(t.move+t.moved)/2, math.Pi)
		if math.Abs(turned) > tornTurn {
			c.Torn = true // the oscillator is still far from the mains: no window is one cycle
		}
		// One half cycle of the oscillator lies between the two windows.
		t.hz += frequencyGain * (turned / math.Pi * t.hz)
		t.hz = min(max(t.hz, LowestHz), HighestHz)
		t.settled += 0.005 * (t.hz - t.settled)
	}
	c.Turns = t.turns + err/(2*math.Pi)
	t.moved, t.move, t.arg = t.move, phaseGain*err, arg
	return t.move / math.Pi
}
