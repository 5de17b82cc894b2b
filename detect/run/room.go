package run

import (
	"fmt"
	"slices"

	"quern/rig"
)

const (
	earlyS     = 2.0  // s from the recording's beginning within which a start may be the room's own sound
	roomS      = 60.0 // s within which that may show
	roomDB     = 8.0  // dB(A) that a motor stands above the room, if it brings rumble with it as grinding does not
	roomLowDB  = 3.0  // dB of that rumble
	roomFarDB  = 12.0 // dB(A) that no grinding stands above an empty motor
	roomEvenDB = 4.0  // dB(A) within which a room stays, or half of the step
)

// early says whether the motor was taken to run from the recording's beginning, or nearly.
func (l *Listener) early() bool {
	return l.on && len(l.runs) == 1 && len(l.runs[0].On) == 1 && l.onS < earlyS
}

// wasRoom says whether what was taken for a motor at the recording's beginning was a loud room, or a recording that
// sets in quietly: it stayed even, and now a motor stands out of it for a second.
func (l *Listener) wasRoom(fromS, la, lr float64) bool {
	if !l.early() || fromS > roomS || len(l.la) < 2*calmN {
		return false
	}
	// Its first half second may be the recording's own setting in.
	was, wasLow := l.la[calmN/2:], l.lr[calmN/2:]
	plateau := quantile(was, 0.5)
	up := la - plateau
	if up < roomDB || up < roomFarDB && lr < quantile(wasLow, 0.5)+roomLowDB || quantile(was, 0.9)-quantile(was, 0.1) > max(roomEvenDB, up/2) {
		l.above = 0
		return false
	}
	if l.above++; l.above < calmN {
		return true
	}
	l.above = 0
	at := l.rose(fromS-calmN*listenS, func(f Heard) bool { return levelDB(f.EA/(f.EndS-f.StartS)) > plateau+roomDB/2 })
	l.bgDB = max(quantile(wasLow, 0.8), silentDB)
	l.restart(at, fmt.Sprintf("the sound rose from %.0f dB(A), which it had been from the beginning, to %.0f; no current was recorded", plateau, la))
	l.warnings = slices.DeleteFunc(l.warnings, func(w rig.Warning) bool { return w.Code == "began-running" })
	return true
}
