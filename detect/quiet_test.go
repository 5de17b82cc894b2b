package detect

import (
	"math"
	"testing"

	"quern/config"
	"quern/detect/sound"
)

// quietOf returns the background of some seconds of a sound of which the level over the room's is told, in frames of 10 ms,
// and what was left out.
func quietOf(t *testing.T, lastsS, roomDB float64, overDB func(atS float64) float64) (laeqDB, leftOutS float64) {
	t.Helper()
	q := newQuiet(0)
	for k := range int(lastsS * 100) {
		at := float64(k) / 100
		// What comes on top is no part of the room: powers add.
		ms := (1 + math.Pow(10, overDB(at)/10)) * math.Pow(10, roomDB/10) * 20e-6 * 20e-6
		q.add(&sound.Frame{StartS: at, EndS: at + 0.01, EA: ms * 0.01})
	}
	if len(q.last) > 25 {
		t.Errorf("%d stretches are kept of %g s", len(q.last), lastsS)
	}
	level, left := q.laeqDB(config.DetectSound{BackgroundMinS: 0.5, BackgroundOverDB: 8})
	if again, _ := q.laeqDB(config.DetectSound{BackgroundMinS: 0.5, BackgroundOverDB: 8}); again != level || !level.OK {
		t.Errorf("%v, asked again %v", level, again)
	}
	return level.V, left
}

// TestBackgroundBesideDisturbances: the background is that of the room, also where what disturbs it comes and goes slowly.
func TestBackgroundBesideDisturbances(t *testing.T) {
	const roomDB, none = 45.0, -200.0
	// opened is a tap that is turned on from one instant on for some time, its sound pressure growing evenly.
	opened := func(at, fromS, overS, toDB float64) float64 {
		return toDB + 20*math.Log10(min(max(at-fromS, 1e-9)/overS, 1))
	}
	for _, c := range []struct {
		name               string
		lastsS             float64
		overDB             func(at float64) float64
		withinDB, leftOutS float64
	}{
		{"a quiet room", 20, func(float64) float64 { return none }, 0.001, 0},
		{"a tap opened at once", 6, func(at float64) float64 { return opened(at, 3.5, 0.01, 12) }, 0.001, 3.5},
		{"a tap opened slowly", 6, func(at float64) float64 { return opened(at, 3.5, 0.9, 12) }, 0.02, 2.8},
		{"a tap closed slowly", 6, func(at float64) float64 { return opened(6-at, 3.5, 0.9, 12) }, 0.02, 2.8},
		{"a clap that echoes", 6, func(at float64) float64 {
			if at < 3 {
				return none
			}
			return 30 - 60*(at-3)
		}, 0.02, 2.4},
		{"somebody talks all the time", 20, func(at float64) float64 {
			if math.Mod(at, 0.5) < 0.2 {
				return 20
			}
			return none
		}, 0.3, 10.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, left := quietOf(t, c.lastsS, roomDB, c.overDB)
			if !(math.Abs(got-roomDB) <= c.withinDB) {
				t.Errorf("%.3f dB, want %g", got, roomDB)
			}
			if !(math.Abs(left-c.leftOutS) <= 0.35) {
				t.Errorf("%.1f s are left out, want about %g", left, c.leftOutS)
			}
		})
	}
}
