package detect

import (
	"math"

	"quern/detect/sound"
	"quern/rig"
)

// tally is the sound of one run over the time its motor was on.
type tally struct {
	quiet        quiet
	onS          float64
	ea, ec       float64 // Pa² s
	fmax, smax   float64 // Pa²
	cpeak        float64 // Pa
	levels       []int32 // F-weighted levels every 10 ms in steps of 0.05 dB
	n            int
	bands, bandS [len(sound.NominalHz)]float64
	clipped      int
	stillS       float64
	goneS        float64 // the microphone was gone: not in onS
}

const (
	levelStepDB = 0.05
	levelLowDB  = -30.0
	levelSteps  = 4000
)

func newTally() *tally { return &tally{levels: make([]int32, levelSteps)} }

// add books s seconds of a frame.
func (t *tally) add(f *sound.Frame, s float64) {
	if f.Still {
		t.stillS += s // told, and counted as the silence that it claims to be
	}
	share := min(s/(f.EndS-f.StartS), 1)
	t.onS += s
	t.ea += f.EA * share
	t.ec += f.EC * share
	t.fmax, t.smax = max(t.fmax, f.FMax), max(t.smax, f.SMax)
	t.cpeak = max(t.cpeak, f.CPeak)
	t.clipped += f.Clipped
	if share > 0.5 {
		i := int((sound.LevelDB(f.FEnd) - levelLowDB) / levelStepDB)
		t.levels[min(max(i, 0), levelSteps-1)]++
		t.n++
	}
}

// addBands books a share of the energy of a frame, and s seconds.
func (t *tally) addBands(f *sound.BandFrame, share, s float64) {
	for i, e := range f.E {
		t.bands[f.First+i] += e * share
		t.bandS[f.First+i] += s
	}
}

func (t *tally) laeqDB() rig.Figure {
	if t.onS == 0 || t.ea <= 0 {
		return rig.Absent("microphone-silent")
	}
	return rig.Fig(sound.LevelDB(t.ea / t.onS))
}

// exceededDB is the F-weighted level exceeded for a share of the time.
func (t *tally) exceededDB(share float64) rig.Figure {
	if t.n == 0 {
		return rig.Absent("microphone-silent")
	}
	left := share * float64(t.n)
	for i := levelSteps - 1; i >= 0; i-- {
		c := float64(t.levels[i])
		if c > 0 && left <= c {
			return rig.Fig(levelLowDB + levelStepDB*(float64(i)+1-left/c))
		}
		left -= c
	}
	return rig.Absent("microphone-silent")
}

func levelOf(ms float64) rig.Figure {
	if ms <= 0 {
		return rig.Absent("microphone-silent")
	}
	return rig.Fig(sound.LevelDB(ms))
}

// figures turns a tally into the figures of the contract.
func (t *tally) figures(m *sound.Meter) rig.Sound {
	s := rig.Sound{
		LAeqDB: t.laeqDB(), LAFmaxDB: levelOf(t.fmax), LASmaxDB: levelOf(t.smax), LCpeakDB: levelOf(t.cpeak * t.cpeak),
		LA10DB: t.exceededDB(0.1), LA50DB: t.exceededDB(0.5), LA90DB: t.exceededDB(0.9),
	}
	s.LCeqDB, s.LAEDB = rig.Absent("microphone-silent"), rig.Absent("microphone-silent")
	if t.onS > 0 && t.ea > 0 {
		s.LCeqDB = levelOf(t.ec / t.onS)
		s.LAEDB = rig.Fig(s.LAeqDB.V + 10*math.Log10(t.onS))
	}
	s.ThirdOctaves = noBands("microphone-silent")
	for i := range s.ThirdOctaves {
		switch {
		case m == nil:
			s.ThirdOctaves[i].LeqDB = rig.Absent("level-meter")
		case !m.Measurable(i):
			s.ThirdOctaves[i].LeqDB = rig.Absent("band-above-sample-rate")
		case t.bandS[i] > 0:
			s.ThirdOctaves[i].LeqDB = levelOf(t.bands[i] / t.bandS[i])
		}
	}
	if m == nil { // a level meter's readings hold nothing of these
		x := rig.Absent("level-meter")
		s.LCeqDB, s.LCpeakDB, s.LASmaxDB = x, x, x
	}
	return s
}

// noBands returns the third-octave list with every level absent.
func noBands(why string) []rig.Band {
	out := make([]rig.Band, len(sound.NominalHz))
	for i, hz := range sound.NominalHz {
		out[i] = rig.Band{NominalHz: rig.Fig(hz), LeqDB: rig.Absent(why)}
	}
	return out
}

// noSound returns sound figures that are all absent for one reason.
func noSound(why string) rig.Sound {
	x := rig.Absent(why)
	return rig.Sound{LAeqDB: x, LAFmaxDB: x, LASmaxDB: x, LCpeakDB: x, LCeqDB: x, LAEDB: x, LA10DB: x, LA50DB: x,
		LA90DB: x, BackgroundDB: x, LAeqCorrectedDB: x, ThirdOctaves: noBands(why)}
}
