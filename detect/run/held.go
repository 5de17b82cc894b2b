package run

import (
	"fmt"
	"math"
)

// A rotor that is caught stands within some hundredths of a second, faster than any turntable coasts. Most motors then
// hum on. A permanent-magnet motor hardly does, and its electronics open by themselves.
const (
	lockDB     = 15.0 // dB that the rumble falls within lockN beats when the rotor locks, not when it coasts
	lockOwnDB  = 3.0  // dB within which a motor makes its own sound
	lockN      = 3    // beats
	freedS     = 4.0  // s: nobody opens the switch, frees a jam and closes it in less
	heldN      = 170  // beats after which the electronics of a motor that is held have opened
	heldS      = 1.2  // s: they do in 0.5 to 2
	heldAboutS = 1.0  // s
	hushN      = 8    // beats on either side of the end of a hum, at least
	hushMost   = 4.0  // times the median: louder is a knock or a word
	hushSure   = 6.0  // standard deviations
	hushRatio  = 1.4
)

// locks says whether the sound broke off faster than any turntable coasts, as when the rotor is caught. Only a
// permanent-magnet motor is asked: others hum on.
func (l *Listener) locks(f *fallen) bool {
	if !l.magnet || l.hiss || l.beats[f.from].plain() {
		return false
	}
	to := f.from
	if f.gone > 0 {
		to = f.gone
	}
	between := 0
	for i := f.from; i < to; i++ {
		if b := &l.beats[i]; b.certain() && b.r < l.level()-lockOwnDB && b.r > l.level()-lockDB {
			between++
		}
	}
	if between > lockN {
		return false
	}
	own, least := l.own()-lockOwnDB, max(l.water.mostDB()+tapWithinDB, l.own()-goneDB)
	for i := max(lockN+1, f.from-2*lockN); i < min(to+2*lockN, len(l.beats)); i++ {
		was, b := &l.beats[i-lockN], &l.beats[i]
		if was.certain() && was.r > l.level()-lockDB/2 && was.r-b.hi > lockDB {
			return true
		}
		if was.levelA() > own && l.beats[i-lockN-1].levelA() > own && b.levelA() < least {
			return true
		}
	}
	return false
}

// stopHeld stops a motor whose rotor was caught and does not hum, or hardly: where the last of its hum ends, or when
// its electronics will have opened.
func (l *Listener) stopHeld(f *fallen, level float64) {
	if i, ok := l.hush(f); ok {
		l.stop(l.beats[i].fromS, 0.3, 0.5, fmt.Sprintf("the rumble broke off from %.0f dB(C) as when the rotor locks, and a faint hum ended here; no current was recorded", level))
		return
	}
	l.stop(l.beats[f.gone].fromS+heldS, heldAboutS, 0.3, fmt.Sprintf("the rumble broke off from %.0f dB(C) as when the rotor locks; a locked motor that does not hum cannot be heard: it is taken to have been switched off within some 2 s; no current was recorded", level))
}

// hush finds the beat at which a faint hum ended after the rotor was caught.
func (l *Listener) hush(f *fallen) (at int, ok bool) {
	v := make([]float64, 0, heldN)
	for _, b := range l.beats[f.gone:] {
		v = append(v, (b.c-l.water.share*b.a)/(b.toS-b.fromS))
	}
	best := hushSure
	for s := hushN; s+hushN <= len(v); s++ {
		m1, v1 := about(v[max(0, s-2*heldN):s])
		m2, v2 := about(v[s:min(len(v), s+2*hushN)])
		if t := (m1 - m2) / math.Sqrt(v1+v2+1e-30); t > best && m1 > hushRatio*m2 {
			best, at, ok = t, f.gone+s, true
		}
	}
	return at, ok
}

// about returns the mean of values, of which none is taken for much more than the median, and the variance of that mean.
func about(v []float64) (mean, variance float64) {
	most := hushMost * max(quantile(v, 0.5), pa2(leastHeardDB))
	var sum, sq float64
	for _, x := range v {
		x = min(x, most)
		sum, sq = sum+x, sq+x*x
	}
	n := float64(len(v))
	mean = sum / n
	return mean, max(0, sq/n-mean*mean) / n
}
