package sound

import "math"

// NominalHz lists the third-octave bands by their nominal mid-band frequencies (ISO 266).
var NominalHz = [29]float64{25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800,
	1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000}

// band1kHz is the index of the band at 1 kHz.
const band1kHz = 16

// MidHz returns the exact mid-band frequency of a band, 1000 G^(x/3) Hz with G = 10^0.3
// (IEC 61260-1:2014, 5.4).
func MidHz(band int) float64 { return 1000 * math.Pow(10, float64(band-band1kHz)/10) }

// EdgesHz returns the band edges, mid-band frequency times G^(±1/6) (ditto).
func EdgesHz(band int) (lower, upper float64) {
	mid, half := MidHz(band), math.Pow(10, 0.05)
	return mid / half, mid * half
}

// MeasurableTo is the share of the sample rate below which a band must lie: above, the
// anti-aliasing filter of the converter takes part of it.
const MeasurableTo = 0.45

func measurable(rateHz float64, band int) bool {
	_, upper := EdgesHz(band)
	return upper <= MeasurableTo*rateHz
}

// BandFrame is the exposure of a group of neighbouring bands over a stretch of time. Its window fades in and out: it
// reaches EdgeS beyond the stretch at either end, and is whole from as far within it.
type BandFrame struct {
	StartS, EndS float64
	EdgeS        float64
	First        int       // index in NominalHz of the first band
	E            []float64 // sound exposures of the bands from First on, Pa² s
}

// bank measures third-octave bands. The samples run through a pyramid of stages, each at an eighth
// of the rate of the one before; a stage covers the bands between a fifth of its own rate and a fifth
// of the next one's. In a stage overlapping windows, whose squares add up to 1 at every sample, are
// transformed; a band's exposure is the sum of the powers of its bins, those across an edge in part.
// So no energy is lost between frames or between the bands of a stage, and the noise bandwidth of
// every band is exact. (A tone within a bin or two of the seam of two stages, whose windows differ,
// may count up to 0.1 dB more or less in the sum of all bands.) The window's shape makes the response
// class 1.
type bank struct {
	stages []*stage
	first  *stage
	out    []BandFrame
	memory []float64 // of the E of out
	taken  bool
	fft    *fft
	z      [points]complex128
}

const (
	// stageTo is the share of a lower stage's rate up to which its bands may reach: there, aliases
	// are down by 80 dB and more.
	stageTo = 0.19
	// The mid-band frequency of a stage's lowest band in transform bins, at least, for the mask of
	// class 1: with slopes of a fifth of the window, and with slopes that meet (found by computing the
	// response over all offsets).
	binsFlat, binsRound = 21.3, 15.5
	// slopeFlat is the length of the slopes of a window of 1024 samples in all but the last stage.
	slopeFlat = 208
)

func newBank(rateHz, pa float64) bank {
	b := bank{fft: newFFT()}
	droop := func(float64) float64 { return 1 } // what the stages before took, squared magnitude
	top := len(NominalHz)
	for top > 0 && !measurable(rateHz, top-1) {
		top--
	}
	for rate := rateHz; top > 0; rate /= 8 {
		last := MidHz(0) >= binsRound*rate/points
		low := 0
		if !last {
			for low < top {
				if _, upper := EdgesHz(low); upper > stageTo*rate/8 {
					break
				}
				low++
			}
		}
		s := newStage(rate, last)
		s.weigh(low, top, pa, droop)
		if n := len(b.stages); n > 0 {
			b.stages[n-1].next = s
		}
		b.stages = append(b.stages, s)
		if last {
			break
		}
		s.dec = newEighth(s.span)
		before, r := droop, rate
		droop = func(hz float64) float64 { return before(hz) * eighthResponse(hz/r) }
		top = low
	}
	if len(b.stages) > 0 {
		b.first = b.stages[0]
	}
	return b
}

// push takes samples; rest is taken off each.
func (b *bank) push(x []float64, rest float64) {
	s := b.first
	for s != nil && len(x) > 0 {
		n := min(len(x), len(s.buf)-s.fill)
		to := s.buf[s.fill:][:n]
		less(to, x[:n], rest)
		x = x[n:]
		s.fill += n
		if s.fill == len(s.buf) {
			b.transform(s, nil)
		}
	}
}

// less writes x less rest to to, which is as long.
func less(to, x []float64, rest float64) {
	for ; len(to) >= 4 && len(x) >= 4; to, x = to[4:], x[4:] {
		to[0], to[1], to[2], to[3] = x[0]-rest, x[1]-rest, x[2]-rest, x[3]-rest
	}
	for i, v := range x[:len(to)] {
		to[i] = v - rest
	}
}

// feed takes samples for a lower stage.
func (b *bank) feed(s *stage, x []float64) {
	if s.limit >= 0 {
		x = x[:min(len(x), max(0, s.limit-s.got))]
	}
	s.got += len(x)
	for len(x) > 0 {
		n := copy(s.buf[s.fill:], x)
		x = x[n:]
		s.fill += n
		if s.fill == len(s.buf) {
			b.transform(s, nil)
		}
	}
}

// transform measures the full buffer of a stage and hands its samples on to the next. At the end of
// a recording tail collects what is to be told.
func (b *bank) transform(s *stage, tail *ending) {
	if s.next != nil {
		b.feed(s.next, s.dec.lower(s.buf[s.slope-eighthReach:]))
	}
	if n := len(s.bands); n > 0 {
		b.fft.transform(&b.z, s.shape, s.buf[:points], s.buf[s.hop:s.hop+points])
		from := len(b.memory)
		b.memory = append(b.memory, make([]float64, 2*n)...)
		e := b.memory[from : from+2*n]
		for i := range s.bands {
			e[i], e[n+i] = s.bands[i].exposures(&b.z, &b.fft.place)
		}
		b.tell(s, s.frames, e[:n:n], tail)
		b.tell(s, s.frames+1, e[n:2*n:2*n], tail)
	}
	s.frames += 2
	copy(s.buf, s.buf[s.span:])
	s.fill = s.slope
}

// tell gives out the exposures of a stage's window number k. A frame reaches from the middle of one
// slope to the middle of the next.
func (b *bank) tell(s *stage, k int, e []float64, tail *ending) {
	start, end := max(0, k*s.hop-s.slope/2), (k+1)*s.hop-s.slope/2
	f := BandFrame{StartS: float64(start) / s.rate, EndS: float64(end) / s.rate, EdgeS: float64(s.slope) / 2 / s.rate, First: s.low, E: e}
	if tail == nil {
		b.out = append(b.out, f)
	} else {
		tail.add(f)
	}
}

// Weight returns what counts of the power at an instant in a band frame, about: 0 to 1. That of a frame and of the next
// make 1.
func (f *BandFrame) Weight(atS float64) float64 {
	in := min(atS-f.StartS, f.EndS-atS) // the nearer end's
	switch {
	case in <= -f.EdgeS:
		return 0
	case in >= f.EdgeS:
		return 1
	}
	// The slopes of the window are close to this one, which needs no table.
	w := math.Sin(math.Pi / 4 * (1 + in/f.EdgeS))
	w = math.Sin(math.Pi / 2 * w * w)
	return w * w
}

// ending joins what lies behind a recording's end to its last frame.
type ending struct {
	endS float64
	out  []BandFrame
}

func (t *ending) add(f BandFrame) {
	if n := len(t.out); n > 0 && f.StartS >= t.endS {
		for i, e := range f.E {
			t.out[n-1].E[i] += e
		}
		return
	}
	f.EndS = min(f.EndS, t.endS)
	t.out = append(t.out, f)
}

// finish ends a recording of n samples.
func (b *bank) finish(n int) {
	if n == 0 || b.first == nil {
		return
	}
	tail := ending{endS: float64(n) / b.first.rate}
	for s := b.first; s != nil; s = s.next {
		total := n
		if n = (n + 7) / 8; s.next != nil {
			s.next.limit = n
		}
		tail.out = tail.out[:0]
		for s.frames*s.hop-s.slope < total {
			clear(s.buf[s.fill:])
			b.transform(s, &tail)
		}
		for s.next != nil && s.next.got < n {
			clear(s.buf[s.slope:])
			b.feed(s.next, s.dec.lower(s.buf[s.slope-eighthReach:]))
			clear(s.buf)
		}
		b.out = append(b.out, tail.out...)
	}
}

func (b *bank) take() []BandFrame {
	if b.taken {
		return nil
	}
	b.taken = true
	return b.out
}

// fresh forgets what was taken.
func (b *bank) fresh() {
	if b.taken {
		b.out, b.memory, b.taken = b.out[:0], b.memory[:0], false
	}
}
