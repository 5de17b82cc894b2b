package detect

import (
	"math"
	"testing"

	"quern/config"
	"quern/detect/sound"
	"quern/rig"
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
	if len(q.last) > 35 {
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

// TestQuietBeforeACoarseStart: of a start that is told up to a second late, what was heard of the motor by then is no
// background, and disturbs none.
func TestQuietBeforeACoarseStart(t *testing.T) {
	set := config.DetectSound{BackgroundMinS: 0.5, BackgroundOverDB: 8}
	for _, lateS := range []float64{0, 0.1, 0.5, 1} {
		q := newQuiet(0)
		for k := range int((3 + lateS) * 100) {
			at := float64(k) / 100
			ms := math.Pow(10, 4.5) * 20e-6 * 20e-6
			if at >= 3 {
				ms *= 1000 // the motor
			}
			q.add(&sound.Frame{StartS: at, EndS: at + 0.01, EA: ms * 0.01})
		}
		q.until(3)
		level, left := q.laeqDB(set)
		if !(math.Abs(level.V-45) < 0.001) || !(math.Abs(left) < 0.001) {
			t.Errorf("%g s late: %.2f dB, %.1f s left out, want 45 dB of all 3 s", lateS, level.V, left)
		}
	}
}

// TestQuietEndsBeforeTheRow: rows of RMS readings of a second tell a start half a second late or early; what the motor
// was heard by then stands out from no quiet.
func TestQuietEndsBeforeTheRow(t *testing.T) {
	set, streams, all := recorded(t, "rms-readings")
	sound, second := all[rig.Microphone].Samples, int(streams[0].RateHz)
	for k := second; k < 44*second/10; k++ { // the room alone, up to just before the start
		sound[k] = sound[k-second]
	}
	thin := cutTo(streams, all, rig.Clamp, 1e6)
	var rows []rig.Reading
	sum, n, at := 0.0, 0, 1.0
	for _, r := range all[rig.Clamp].Readings {
		if sum, n = sum+r.Value*r.Value, n+1; r.AtS >= at {
			rows = append(rows, rig.Reading{AtS: at, Value: math.Sqrt(sum / float64(n))})
			sum, n, at = 0, 0, at+1
		}
	}
	thin[rig.Clamp].Readings = rows
	fine, coarse := feed(t, set, streams, all, "", 0, 0, 0.25, 0), feed(t, set, streams, thin, "", 0, 0, 0.25, 0)
	if e, _ := eventOf(coarse.Runs[0], rig.MotorStart); e.WithinS.V < 0.4 {
		t.Fatalf("the start is within %g s", e.WithinS.V)
	}
	if a, b := told(fine, "background-disturbed"), told(coarse, "background-disturbed"); a+b != "" {
		t.Errorf("%q; rows of a second: %q", a, b)
	}
}

// TestQuietAsLoudAsAMotor: by sound alone, what was taken for the quiet may have been the motor without its load.
func TestQuietAsLoudAsAMotor(t *testing.T) {
	set, streams, all := recorded(t, "no-clamp")
	for _, db := range []float64{set.Bench.Microphone.FullScaleDB, set.Bench.Microphone.FullScaleDB + 22} {
		set.Bench.Microphone.FullScaleDB = db
		res := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
		if len(res.Runs) != 1 {
			t.Fatalf("full scale %g dB: %d runs", db, len(res.Runs))
		}
		if loud, said := res.Runs[0].Sound.BackgroundDB.V > 60, told(res, "background-loud"); loud != (said != "") {
			t.Errorf("a background of %.1f dB(A): %q", res.Runs[0].Sound.BackgroundDB.V, said)
		}
	}
}
