package run

import (
	"fmt"
	"math"
)

const (
	dipDB       = 4.0  // dB by which the rumble of an induction motor falls only when it is switched off, or locks
	slowedDB    = 6.0  // that of a motor whose speed follows the load may, but then it grinds
	aloneDB     = 2.0  // and is louder by this than at that speed without anything to grind
	quieterDB   = 4.0  // dB(A) by which an induction motor is louder than what is left when it has stopped
	goneDB      = 12.0 // dB under its level the rumble is gone
	hissGoneDB  = 8.0  // and the A-level of a motor that does not rumble
	overFloorDB = 4.0  // dB over the rumble of the room
	goneN       = 10   // beats
	backDB      = 4.0  // dB by which it rises when the motor is switched on while it coasts
	backN       = 5    // beats
	endsDB      = 6.0  // dB that are enough at a recording's end
	strikesDB   = 6.0  // dB over what is heard between blows: something strikes, and rings
	humN        = 30   // beats after which a hum would have shown itself flat
	gapN        = 5    // beats in which there is a gap in talk
	flatN       = 14   // beats
	flatDB      = 2.0  // dB within which a hum stays
	flatDBPerS  = 2.0  // what falls less is no coasting
	patienceS   = 8.0  // s that a turntable may coast
	levelIndN   = 200  // beats that give the level of an induction motor, which hardly changes
	levelN      = 120  // and of others: longer than a slow turntable takes to fall by slowedDB
	evenDB      = 3.0  // dB within which it runs at the same speed
	jogQ        = 0.9  // of the first two seconds' rumble, if nothing strikes: it may have been a jog
	overQ       = 0.1  // of what its A-level has over its rumble: when it grinds it has more
	levelQ      = 0.7  // of them: what grinds slows it down
	ownQ        = 0.2  // of the A-levels while it runs: what is left between impacts
)

// fallen is a fall of the rumble.
type fallen struct {
	from    int // beat
	leastDB float64
	least   int // its beat
	gone    int // first beat without rumble; 0: none yet
}

func (f *fallen) shift(n int) {
	f.from, f.least = max(f.from-n, 0), max(f.least-n, 0)
	if f.gone > 0 {
		f.gone = max(f.gone-n, 1)
	}
}

// remember notes the level of the running motor.
func (l *Listener) remember(i int) {
	if b := &l.beats[i]; b.certain() && !l.strikes(i) {
		l.ran = append(l.ran, b.r)
		if len(l.over) < levelIndN {
			l.over = append(l.over, b.levelA()-b.r)
		}
		if b.r > l.level()-evenDB {
			l.ranA = append(l.ranA, b.levelA())
		}
	}
	if n := len(l.ran); n > 2*levelIndN {
		l.ran = append(l.ran[:0], l.ran[n-levelIndN:]...)
	}
	if n := len(l.ranA); n > 2*levelIndN {
		l.ranA = append(l.ranA[:0], l.ranA[n-levelIndN:]...)
	}
}

// level is the rumble of the motor when it runs, dB.
func (l *Listener) level() float64 {
	n := len(l.ran)
	if n < 4*beginN { // it may have been a jog, after which it coasts
		if hisses(l.beats[max(0, len(l.beats)-beginN):]) {
			return quantile(l.ran, jogQ)
		}
		return quantile(l.ran, levelQ)
	}
	most := levelN
	if l.induction {
		most = levelIndN
	}
	return quantile(l.ran[max(0, n-most):n-beginN/2], levelQ)
}

// whileOn waits for a fall of the rumble, and tells what it was.
func (l *Listener) whileOn() {
	n := len(l.beats)
	if l.fall == nil {
		if !l.fell(n - 1) {
			l.remember(n - 1)
			l.decided = max(l.decided, l.beats[max(0, n-beginN)].fromS)
			return
		}
		l.fall = &fallen{from: n - 2, leastDB: mean3(l.beats, n-2), least: n - 2}
	}
	f := l.fall
	level := l.level()
	if m := mean3(l.beats, n-2); m < f.leastDB {
		f.leastDB, f.least = m, n-2
	}
	switch {
	case n-f.from >= goneN && f.gone == 0 && l.grinds(l.beats[n-goneN:]):
		l.fall = nil
	case l.comesBack(f, level):
	case f.gone > 0 && l.locks(f) && l.loudAgain() >= 0:
		// It grinds at once, and that drowns the rumble.
		if at := l.beats[l.loudAgain()].fromS; at-l.beats[f.from].fromS < freedS {
			l.fall = nil
		} else {
			l.stopHeld(f, level)
		}
	case l.gone(f, level):
		if f.gone == 0 {
			f.gone = n - goneN
		}
		if !l.locks(f) {
			l.stop(l.knee(f.from, n-1), 0.5, 0.6, fmt.Sprintf("the rumble fell from %.0f to %.0f dB(C) as of a motor that coasts; no current was recorded", level, medianOf(l.beats[n-goneN:], beat.most)))
		} else if n-f.gone >= heldN {
			l.stopHeld(f, level)
		}
	case f.gone == 0 && n-f.from > flatN && l.flat():
		// The rotor is held, and hums on: what it hums now is the level of the motor.
		l.ran, l.ranA = l.ran[:0], l.ranA[:0]
		for i := n - flatN; i < n; i++ {
			l.remember(i)
		}
		l.fall = nil
	case f.gone == 0 && float64(n-f.from)*beatS > patienceS:
		l.fall = nil
	}
}

// grinds says whether more is heard than a motor that coasts would make.
func (l *Listener) grinds(beats []beat) bool {
	return !l.induction && upTo(beats, beat.levelA, 0.15) > l.alone(upTo(beats, beat.rumble, 0.3)) && !l.water.tells(beats, l.own())
}

// struck says whether in any beat more is heard than of a motor that coasts.
func (l *Listener) struck(beats []beat) bool {
	for i := range beats {
		if beats[i].levelA() > l.alone(beats[i].lo)+aloneDB {
			return true
		}
	}
	return len(beats) < backN
}

// fell says whether beat i and one shortly before it lie where a motor's rumble only lies when it stops; between
// them somebody may have spoken.
func (l *Listener) fell(i int) bool {
	if i < 2 || len(l.ran) < 2 {
		return false
	}
	if last := l.beats[max(0, i+1-goneN):]; len(last) == goneN && upTo(last, beat.most, 1) < l.level()-goneDB && l.water.tells(last, l.own()) {
		return true
	}
	if !l.falls(i) {
		return false
	}
	for j := max(0, i-gapN); j < i; j++ {
		if l.beats[j].fromS >= l.onS && l.falls(j) {
			return true
		}
	}
	return false
}

// falls says whether beat i lies where a motor's rumble falls only when it stops.
func (l *Listener) falls(i int) bool {
	b := &l.beats[i]
	by, a := slowedDB, b.levelA()
	coasts := b.certain() && (a < l.alone(b.r) || l.induction && a < l.own()+tapWithinDB)
	switch {
	case l.hiss || b.plain():
		by, coasts = hissGoneDB, true
	case coasts:
		by = dipDB
	}
	if b.hi > l.level()-by {
		return false
	}
	return coasts || a < l.water.mostDB()+tapWithinDB || a < l.own()-l.lessDB()
}

// alone returns the most that a motor makes that coasts with so much rumble, dB(A): grinding slows it too, but is
// heard, whereas what coasts makes no more than its own sound at that speed.
func (l *Listener) alone(r float64) float64 {
	if len(l.over) < 2*beginN {
		return math.Inf(1) // nobody feeds in the first second
	}
	return levelDB(pa2(r+min(l.overDB, quantile(l.over[beginN:], overQ)))+pa2(l.water.mostDB())) + aloneDB
}

// lessDB is by how much what is left is quieter than the motor, dB(A).
func (l *Listener) lessDB() float64 {
	if l.induction {
		return quieterDB
	}
	return goneDB
}

// own is what the motor alone makes, dB(A), and the tap if it is open.
func (l *Listener) own() float64 {
	if n := len(l.ranA); n > 2*beginN { // without the run-up
		return quantile(l.ranA[beginN:], ownQ)
	}
	return quantile(l.ranA, ownQ)
}

// strikes says whether something strikes in a beat.
func (l *Listener) strikes(i int) bool {
	return l.beats[i].levelA() > upTo(l.beats[max(0, i-beginN+1):i+1], beat.levelA, 0.3)+strikesDB
}

// comesBack says whether the motor was switched on again while it coasted, and notes it.
func (l *Listener) comesBack(f *fallen, level float64) bool {
	n := len(l.beats)
	if n-f.least < backN || n-f.from < backN {
		return false
	}
	rise := max(backDB, (level-f.leastDB)/2)
	for i := n - backN; i < n; i++ {
		if l.beats[i].lo < f.leastDB+rise {
			return false
		}
	}
	l.fall = nil
	if l.grinds(l.beats[f.from : f.least+1]) {
		return true
	}
	i := n - backN
	for i-1 > f.least && l.beats[i-1].lo > f.leastDB+backDB/2 {
		i--
	}
	if held := l.beats[min(f.from+lockN, i):i]; len(held) > backN && !l.magnet {
		if rate, ok := slope(held); ok && math.Abs(rate) < 2*flatDBPerS && upTo(held, beat.rumble, 0.9)-upTo(held, beat.rumble, 0.1) < flatDB {
			return true // the rotor was held, and hummed
		}
	}
	if !l.induction && l.struck(l.beats[f.from:i]) {
		return true // under load its speed goes up and down
	}
	at := l.beats[i].fromS
	switch locked := l.locks(f); {
	case locked && at-l.beats[f.from].fromS < freedS:
		return true
	case locked && f.gone > 0:
		l.stopHeld(f, level)
	default:
		l.stop(l.knee(f.from, f.least), 0.3, 0.5, fmt.Sprintf("the rumble fell from %.0f to %.0f dB(C) as of a motor that coasts, and rose again; no current was recorded", level, f.leastDB))
	}
	l.start(max(at, l.offS()), 0.5, fmt.Sprintf("the rumble rose again from %.0f dB(C); no current was recorded", f.leastDB))
	return true
}

// gone says whether the rumble has gone and what is left may be the room or the tap.
func (l *Listener) gone(f *fallen, level float64) bool {
	n := len(l.beats)
	if n-f.from < goneN {
		return false
	}
	last := l.beats[n-goneN:]
	by := goneDB
	if l.hiss || last[0].plain() {
		by = hissGoneDB
	}
	if upTo(last, beat.most, 0.3) > max(level-by, l.floor+overFloorDB) {
		return false
	}
	if !l.magnet && n-f.from < humN && upTo(last, beat.rumble, 0.3) > max(l.floor+2*overFloorDB, leastRumbleDB-risesDB) {
		return false // a locked rotor may hum on
	}
	if !hisses(last) {
		return false // what strikes is turning
	}
	a := upTo(last, beat.levelA, 0.3)
	return a < l.water.mostDB()+tapWithinDB || a < l.own()-l.lessDB() || l.water.tells(last, l.own())
}
