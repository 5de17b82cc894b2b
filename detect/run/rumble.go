package run

import (
	"math"
	"slices"
)

// A motor hums and rumbles; water hisses, and impacts crack. C-weighting lets through what A-weighting takes away
// below some 500 Hz, so what a C-weighted exposure has more than so many A-weighted ones is rumble. It follows
// the speed, by some 50 dB a decade, so it rises within a second of a start and falls, almost steadily in dB,
// from the instant of a stop.
const (
	beatS         = 0.05 // s of sound looked at together: a syllable leaves gaps of 0.1 s
	hissShare     = 0.75 // C-weighted over A-weighted exposure of what hisses above 1 kHz, until it is learned
	hissWithin    = 0.08 // and how far it may be off
	learnedWithin = 0.03 // once it has been learned from the tap
	hissLeast     = 0.5  // learned shares outside these are no hiss
	hissMost      = 0.95
	leastHeardDB  = 20.0 // dB, least rumble that is reckoned with
	leastRumbleDB = 55.0 // dB(C): a refrigerator hums with less at a metre, no grinder with so little
	risesDB       = 7.0  // dB by which the rumble rises when a motor starts, at least
	slowDB        = 20.0 // dB: a motor that makes so much less than at speed has hardly begun to turn
	againN        = 12   // beats that it is as loud as it was
	againDB       = 10.0 // dB: a motor that grinds from the start is slower
	againS        = 1.0  // s after a stop in which it coasts
	overTapDB     = 4.0  // and dB over the tap
	tapWithinDB   = 2.0  // dB within which the tap stays where it was
	holdN         = 8    // beats in a row that it stays: 0.4 s, longer than a vowel or a knock
	humsDB        = 6.0  // dB under the A-level in which a motor's rumble lies at most
	tapMostDB     = 69.0 // dB(A): no tap is louder at a metre
	steadyDB      = 3.0  // dB within which water stays
	overRoomDB    = 8.0  // dB by which water must be louder than the room to be learned
	certainShare  = 0.15 // of the A-weighted exposure: less rumble than that cannot be told for sure
	keptN         = 600  // beats: 30 s
	stillN        = 200  // beats: 10 s
)

// beat is a short stretch of sound: exposures in Pa² s, and levels of what rumbles.
type beat struct {
	fromS, toS float64
	n          int
	a, c, t    float64
	r, lo, hi  float64 // dB: most likely, and within which it must be
}

// add takes a frame and says whether the beat is full.
func (b *beat) add(h Heard) bool {
	if b.n == 0 {
		b.fromS = h.StartS
	}
	b.n++
	b.toS = h.EndS
	b.a, b.c, b.t = b.a+h.EA, b.c+h.EC, b.t+h.ET
	return b.toS-b.fromS >= beatS-1e-6
}

// plain says whether only one level is known, as of a level meter.
func (b beat) plain() bool { return math.Abs(b.a-b.c) <= 1e-9*b.a }

func (b beat) levelA() float64 { return levelDB(b.a / (b.toS - b.fromS)) }
func (b beat) rumble() float64 { return b.r }
func (b beat) most() float64   { return b.hi }

// hissy returns how much lies above 4 kHz against the A-weighted exposure, dB; NaN: not known.
func (b beat) hissy() float64 { return 10 * math.Log10(b.t/max(b.a, 1e-20)) }

// certain says whether the rumble can be told from what else is heard.
func (b *beat) certain() bool {
	return b.hi-b.lo < 0.01 || b.r > 10*math.Log10(certainShare)+b.levelA()
}

// measure tells the rumble of a beat.
func (l *Listener) measure(b *beat) {
	s := b.toS - b.fromS
	of := func(share float64) float64 { return max(levelDB((b.c-share*b.a)/s), leastHeardDB) }
	k, within := l.water.share, l.water.within
	b.r, b.lo, b.hi = of(k), of(k+within), of(k-within)
	l.remeasure(b)
}

// remeasure takes the A-level for the rumble of a motor that does not.
func (l *Listener) remeasure(b *beat) {
	if l.hiss || b.plain() {
		b.r = b.levelA()
		b.lo, b.hi = b.r, b.r
	}
}

// water is what has been learned of the room and the tap.
type water struct {
	share, within    float64 // C-weighted over A-weighted exposure
	hissyDB          float64 // above 4 kHz against A-weighted; NaN: not learned
	tapDB            float64 // its A-level; -Inf: not learned
	quietDB, quietCS float64 // quietest half second so far: dB(A), and its C-weighted mean square
}

func newWater() water {
	return water{share: hissShare, within: hissWithin, hissyDB: math.NaN(), tapDB: math.Inf(-1), quietDB: math.Inf(1)}
}

// learn looks at the last second while the motor is off.
func (w *water) learn(beats []beat) {
	const n = 12
	half := beats[len(beats)-beginN:]
	a := medianOf(half, beat.levelA)
	c := medianOf(half, func(b beat) float64 { return b.c / (b.toS - b.fromS) })
	if a < w.quietDB {
		w.quietDB, w.quietCS = a, c
	}
	if len(beats) < 2*n || half[0].plain() {
		return
	}
	last := beats[len(beats)-n:]
	a = medianOf(last, beat.levelA)
	if a < w.quietDB+overRoomDB || !hisses(last) {
		return
	}
	ms := pa2(a) - pa2(w.quietDB)
	share := (medianOf(last, func(b beat) float64 { return b.c / (b.toS - b.fromS) }) - w.quietCS) / ms
	if share < hissLeast || share > hissMost {
		return
	}
	if w.within == learnedWithin {
		share = min(share, w.share) // whatever else is heard has more
	}
	w.share, w.within = share, learnedWithin
	w.hissyDB, w.tapDB = medianOf(last, beat.hissy), a
}

// tells says whether so much sound may be that of the tap.
func (w *water) tells(beats []beat, ownDB float64) bool {
	const hissWithinDB = 1.0
	if !hisses(beats) {
		return false
	}
	h := medianOf(beats, beat.hissy)
	if math.IsNaN(h) || math.IsNaN(w.hissyDB) {
		return medianOf(beats, beat.levelA) < ownDB+tapWithinDB
	}
	return math.Abs(h-w.hissyDB) < hissWithinDB
}

// mostDB is the louder of room and tap, dB(A).
func (w *water) mostDB() float64 {
	if math.IsInf(w.quietDB, 1) {
		return w.tapDB
	}
	return max(w.quietDB, w.tapDB)
}

func pa2(db float64) float64 { return 20e-6 * 20e-6 * math.Pow(10, db/10) }

// hisses says whether it hisses steadily, as water does and grinding and talk do not.
func hisses(beats []beat) bool {
	return upTo(beats, beat.levelA, 0.8)-upTo(beats, beat.levelA, 0.1) < steadyDB
}

func medianOf(beats []beat, of func(beat) float64) float64 { return upTo(beats, of, 0.5) }

func upTo(beats []beat, of func(beat) float64, q float64) float64 {
	v := make([]float64, len(beats))
	for i := range beats {
		v[i] = of(beats[i])
	}
	return quantile(v, q)
}

func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.Inf(-1)
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[int(q*float64(len(s)-1))]
}

// mean3 is the rumble about beat i.
func mean3(beats []beat, i int) float64 {
	lo, hi := max(0, i-1), min(len(beats), i+2)
	sum := 0.0
	for _, b := range beats[lo:hi] {
		sum += b.r
	}
	return sum / float64(hi-lo)
}

// rumblesDB is the rumble over the background's that may be a motor, dB.
const rumblesDB = 8.0

// rumbleDB returns the level of what the C-weighting has more than the A-weighting, dB.
func rumbleDB(la, lc float64) float64 {
	return max(levelDB(pa2(lc)-hissShare*pa2(la)), leastHeardDB+5)
}
