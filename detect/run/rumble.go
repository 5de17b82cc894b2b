package run

import (
	"fmt"
	"math"
)

// A motor hums and rumbles; water hisses, and impacts crack. C-weighting lets through what A-weighting takes away
// below some 500 Hz, so what a C-weighted exposure has more than an A-weighted one is rumble.
const (
	hissShare   = 0.75 // C-weighted over A-weighted exposure of what hisses and cracks above 1 kHz, at most about
	silentDB    = 25.0 // dB, least rumble that is reckoned with
	rumblesDB   = 8.0  // dB of rumble over the background's that may be a motor
	lowerDB     = 3.0  // dB that the C-level must rise by then
	rumbleN     = 5    // blocks in a row that make a rumble
	togetherS   = 0.35 // s after a start within which the rumble has come with it
	hissS       = 15.0 // s after which water alone is no longer thought of
	steadyDB    = 3.0  // dB within which water stays
	ceasedDB    = 8.0  // dB by which the rumble falls when a motor stops
	leftDB      = 6.0  // and dB of the background's that may be left of it
	leastFallDB = 1.5  // dB that the C-level falls at least, whatever else is heard
	humLessDB   = 14.0 // dB that may be missing of it in a stall
	coastN      = 25   // blocks
	coastingS   = 6.0  // s that a turntable may coast
)

// rumbleDB returns the level of what the C-weighting has more than the A-weighting, dB.
func rumbleDB(la, lc float64) float64 {
	return max(levelDB((math.Pow(10, lc/10)-hissShare*math.Pow(10, la/10))*20e-6*20e-6), silentDB)
}

func (l *Listener) overRumble(lr float64) bool {
	return lr > max(quantile(l.lr, 0.8), silentDB)+rumblesDB
}

// hissed says whether what was taken for a start hissed steadily without any rumble, and now rumbles.
func (l *Listener) hissed(fromS, la, lc, lr float64) bool {
	if l.rumbled || fromS-l.onS > hissS {
		return false
	}
	if lr <= l.bgDB+rumblesDB {
		l.rumbleN = 0
		return false
	}
	if l.rumbleN++; l.rumbleN < rumbleN {
		return false
	}
	l.rumbled = true
	var was, wasC []float64
	rumbleS := fromS + listenS
	for t := rumbleS; t-listenS > l.onS+listenS/2; t -= listenS {
		a, c, ok := l.ear.levels(t-listenS, t)
		if !ok {
			break
		}
		if len(was) == 0 && rumbleDB(a, c) > l.bgDB+rumblesDB {
			rumbleS = t - listenS
			continue
		}
		was, wasC = append(was, a), append(wasC, c)
	}
	if rumbleS-l.onS < togetherS || len(was) < 3 || quantile(was, 0.9)-quantile(was, 0.2) > steadyDB || lc < quantile(wasC, 0.5)+lowerDB/2 {
		return false
	}
	low := quantile(wasC, 0.5) + lowerDB/2
	at := l.rose(rumbleS, func(f Heard) bool { return levelDB(f.EC/(f.EndS-f.StartS)) > low })
	l.restart(at, fmt.Sprintf("it hissed at %.0f dB(A) without any rumble, which will have been the tap, and rumbled from here on; no current was recorded", quantile(was, 0.5)))
	return true
}

// calm says whether the last second hisses steadily, as water does and grinding does not.
func (l *Listener) calm(toS float64) bool {
	var las []float64
	for k := range calmN {
		t := toS - listenS*float64(k)
		if la, _, ok := l.ear.levels(t-listenS, t); ok {
			las = append(las, la)
		}
	}
	return quantile(las, 0.8)-quantile(las, 0.1) < steadyDB
}

// settled leaves out the last blocks, in which the turntable may have coasted already.
func settled(v []float64) []float64 {
	if n := len(v) - coastN; n >= 2*coastN {
		return v[:n]
	}
	return v
}

// ceased says whether a block is what is left when the motor has stopped: its sound has fallen, and its hum is not
// left as in a stall; or its rumble has gone, whatever else is heard.
func (l *Listener) ceased(la, lc, lr float64) bool {
	ran := quantile(settled(l.lr), 0.5)
	rumbles := ran > l.bgDB+rumblesDB+leftDB
	if rumbles && lr < ran-ceasedDB && lr < l.bgDB+leftDB && lc < quantile(settled(l.lc), 0.2)-leastFallDB {
		return true
	}
	hums := rumbles && lr > l.bgDB+ceasedDB && lr > ran-humLessDB
	return la < quantile(settled(l.la), 0.2)-hushedDB && lc < quantile(settled(l.lc), 0.2)-humDB && !hums
}

// fell places the stop before the pending blocks: where what is heard of the motor began to fall for good.
func (l *Listener) fell() float64 {
	from, to := max(l.pending[0]-coastingS, l.onS), l.pending[0]+listenS
	at := l.ear.fell(from, to, quantile(settled(l.la), 0.2)-hushedDB/2)
	ran := quantile(settled(l.lr), 0.5)
	if ran <= l.bgDB+rumblesDB+leftDB {
		return at
	}
	// In a jam it had hummed on, steadily and less loud.
	if n := len(l.lr); n >= 2*calmN {
		if last := l.lr[n-calmN:]; quantile(last, 0.9)-quantile(last, 0.1) < steadyDB/2 {
			ran = min(ran, quantile(last, 0.5))
		}
	}
	for t := to; t-listenS > from; t -= listenS {
		if la, lc, ok := l.ear.levels(t-listenS, t); ok && rumbleDB(la, lc) > ran-hushedDB/2 {
			return t
		}
	}
	return at
}
