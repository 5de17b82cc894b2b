package run_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"quern/detect/run"
)

// spectrum is a level in each octave from 63 Hz to 8 kHz, dB.
type spectrum [8]float64

// plus returns it some dB louder.
func (s spectrum) plus(db float64) spectrum {
	for b := range s {
		s[b] += db
	}
	return s
}

// Rough shapes. A room murmurs; a tap hisses above 1 kHz; a grinder does both and hums at twice the mains; a stalled
// one only hums; a voice has its fundamental and formants between 125 Hz and 4 kHz (common practice).
var (
	aRoom   = spectrum{38, 38, 38, 38, 37, 36, 34, 32}
	aTap    = spectrum{20, 20, 22, 28, 42, 50, 55, 56}
	aMotor  = spectrum{60, 62, 60, 58, 62, 62, 60, 56}
	aGush   = spectrum{20, 20, 50, 54, 58, 58, 56, 54} // a tap that drums on the sink, too
	aJet    = spectrum{20, 24, 44, 56, 62, 65, 67, 66} // one that is wide open
	hisser  = spectrum{20, 22, 25, 30, 55, 72, 62, 50}
	aLoad   = spectrum{50, 58, 58, 58, 60, 60, 58, 55} // what is ground
	aWhine  = spectrum{20, 20, 20, 30, 45, 72, 50, 30}
	aDryer  = spectrum{20, 20, 34, 38, 52, 49, 36, 26}   // what hums no louder than the room
	aDrone  = spectrum{20, 20, 20, 22, 46.5, 30, 20, 20} // what is heard in one octave only
	aShrill = spectrum{20, 20, 20, 30, 40, 52, 41, 30}   // what hisses, but nowhere as at its pitch
	aHum    = spectrum{36, 66, 48, 36, 20, 15, 10, 10}
	aVoice  = spectrum{30, 60, 66, 68, 62, 56, 48, 40}
	dead    = spectrum{-100, -100, -100, -100, -100, -100, -100, -100} // an input that does not change at all
	aBang   = spectrum{70, 75, 80, 82, 84, 84, 82, 78}
)

// sounding is a sound from one instant to another.
type sounding struct {
	fromS, toS float64
	what       spectrum
	how        func(t, lastsS float64) float64 // dB on top at t seconds into it; nil: 0
}

// words come and go: a fifth of a second of sound and a tenth of silence.
func words(t, _ float64) float64 {
	if math.Mod(t, 0.3) < 0.2 {
		return 0
	}
	return -60
}

// dies away as a bang does, by 60 dB in 0.4 s, once a second.
func dies(t, _ float64) float64 { return -150 * math.Mod(t, 1) }

// rings as dishes that are stacked do: struck twice a second, by 25 dB less in a third of one.
func rings(t, _ float64) float64 { return -75 * math.Mod(t, 0.5) }

// clatters likewise for 1.2 s in every 3, the strokes so close together that the floor is lifted.
func clatters(t, _ float64) float64 {
	if math.Mod(t, 3) > 1.2 {
		return -60
	}
	return -60 * math.Mod(t, 0.2)
}

// opens is a tap being opened, its sound pressure growing evenly.
func opens(t, lastsS float64) float64 { return 20 * math.Log10((t+0.005)/lastsS) }

// coasts falls by 12 dB a second.
func coasts(t, _ float64) float64 { return -12 * t }

// hear feeds a listener with a scene in frames of some seconds and returns it and the events.
func hear(t *testing.T, endS, frameS float64, octaves bool, scene []sounding, each func(l *run.Listener, atS float64)) (*run.Listener, string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, 8))
	l := run.NewListener(setup())
	for k := range int(math.Round(endS / frameS)) {
		at := float64(k) * frameS
		var p, tone spectrum
		for _, s := range append(scene, sounding{0, endS, aRoom, nil}) {
			if at < s.fromS-1e-9 || at >= s.toS-1e-9 {
				continue
			}
			for b, db := range s.what {
				if s.how != nil {
					db += s.how(at-s.fromS, s.toS-s.fromS)
				}
				if s.what == aWhine {
					tone[b] += math.Pow(10, db/10)
				} else {
					p[b] += math.Pow(10, db/10)
				}
			}
		}
		h := run.Heard{StartS: at, EndS: at + frameS, ET: math.NaN()}
		for b := range p {
			// Noise in an octave of width w has about 2 w t degrees of freedom in t seconds.
			dof := max(1, math.Round(2*44*math.Pow(2, float64(b))*frameS))
			p[b] = (p[b]*math.Max(0.05, 1+rng.NormFloat64()*math.Sqrt(2/dof)) + tone[b]) * 20e-6 * 20e-6 * frameS
			h.EA += p[b] * math.Pow(10, []float64{-26, -16, -9, -3, 0, 1, 1, -1}[b]/10) // IEC 61672-1, Annex E, rounded
			if octaves {
				h.Octave[b] = float32(p[b])
			}
		}
		h.EC = h.EA
		if slices.ContainsFunc(scene, func(s sounding) bool { return s.what == dead && at >= s.fromS && at < s.toS }) {
			h = run.Heard{StartS: h.StartS, EndS: h.EndS, Dead: true}
		}
		l.Heard(h)
		if each != nil {
			each(l, at)
		}
	}
	var got []string
	for _, r := range l.Finish(endS) {
		for _, e := range r.Events {
			got = append(got, fmt.Sprintf("%s@%.2f", strings.TrimPrefix(string(e.Kind), "motor_"), e.AtS.V))
		}
	}
	return l, strings.Join(got, " ")
}

// alike says whether the events are those wanted, to a quarter of a second.
func alike(got, want string) bool {
	g, w := strings.Fields(got), strings.Fields(want)
	if len(g) != len(w) {
		return false
	}
	for i := range g {
		a, at, _ := strings.Cut(g[i], "@")
		b, bt, _ := strings.Cut(w[i], "@")
		x, _ := strconv.ParseFloat(at, 64)
		y, _ := strconv.ParseFloat(bt, 64)
		if a != b || math.Abs(x-y) > 0.25 {
			return false
		}
	}
	return true
}

// TestListen: the floor of most octaves tells a motor from all else that is heard at a sink.
func TestListen(t *testing.T) {
	motor := func(a, b float64) sounding { return sounding{a, b, aMotor, nil} }
	for _, c := range []struct {
		name  string
		scene []sounding
		want  string
		warn  string
	}{
		{"motor", []sounding{motor(5, 20)}, "start@5.0 stop@20.0", ""},
		{"nothing", nil, "", ""},
		{"a loud room", []sounding{{0, 30, aRoom.plus(30), nil}}, "", ""},
		{"a motor in a loud room", []sounding{{0, 30, aRoom.plus(20), nil}, {5, 20, aMotor.plus(18), nil}}, "start@5.0 stop@20.0", ""},
		{"talk before, at and after it", []sounding{{1, 4, aVoice, words}, motor(5, 20), {20.3, 24, aVoice, words}}, "start@5.0 stop@20.0", ""},
		{"talk alone", []sounding{{3, 20, aVoice, words}}, "", ""},
		{"bangs alone", []sounding{{3, 20, aBang, dies}}, "", ""},
		{"dishes alone", []sounding{{3, 20, aBang, rings}}, "", ""},
		{"dishes clatter alone", []sounding{{3, 20, aBang, clatters}}, "", ""},
		{"dishes clatter before and after it", []sounding{{2, 4, aVoice, clatters}, motor(8, 20), {22, 28, aVoice, clatters}}, "start@8.0 stop@20.0", ""},
		{"the tap alone", []sounding{{5, 25, aTap.plus(-5), nil}}, "", ""},
		{"nothing but a jog", []sounding{{5, 6.2, aMotor.plus(6), nil}}, "start@5.0 stop@6.2", ""},
		{"nothing but a short even sound, nearer to the room", []sounding{{5, 6.2, aMotor, nil}}, "", ""},
		{"bangs in it, and one in the quiet", []sounding{{2, 3, aBang, dies}, motor(5, 20), {7, 15, aBang, dies}}, "start@5.0 stop@20.0", ""},
		{"the tap before it and after it", []sounding{{2, 25, aTap, nil}, motor(5, 20)}, "start@5.0 stop@20.0", ""},
		{"a loud motor, and the sink drums under the tap all the time", []sounding{{6, 30, aGush, nil}, {4, 11, aMotor.plus(22), nil}, {17, 25, aMotor.plus(22), nil}},
			"start@4.0 stop@11.0 start@17.0 stop@25.0", ""},
		{"a loud tap, a pause under it", []sounding{{2, 28, aJet, nil}, {7, 14, aMotor.plus(14), nil}, {18, 25, aMotor.plus(14), nil}},
			"start@7.0 stop@14.0 start@18.0 stop@25.0", ""},
		{"a loud tap, opened slowly just before it, which coasts down", []sounding{{2.2, 3, aJet, opens}, {3, 28, aJet, nil}, {5, 20, aMotor.plus(14), nil}, {20, 22.5, aMotor.plus(14), coasts}},
			"start@5.0 stop@20.0", ""},
		{"a tap that drowns its hiss", []sounding{{2, 25, aTap.plus(8), nil}, motor(5, 20)}, "start@5.0 stop@20.0", ""},
		{"a motor that only hisses", []sounding{{5, 20, hisser, nil}}, "start@5.0 stop@20.0", ""},
		{"the same with the tap", []sounding{{2, 25, aTap, nil}, {5, 20, hisser, nil}}, "start@5.0 stop@20.0", ""},
		{"bangs in one that only hisses", []sounding{{5, 20, hisser, nil}, {7, 15, aBang, dies}}, "start@5.0 stop@20.0", ""},
		{"one that stands out of a loud room little, but for its load", []sounding{{0, 30, aRoom.plus(20), nil}, {5, 20, hisser, nil}, {9, 14, aLoad.plus(7), nil}}, "start@5.0 stop@20.0", ""},
		{"one that only whines, but for its load", []sounding{{5, 20, aWhine, nil}, {9, 13, aLoad, nil}}, "start@5.0 stop@20.0", ""},
		{"the same, and applause after it", []sounding{{5, 20, aWhine, nil}, {9, 13, aLoad, nil}, {22, 25, aTap.plus(-12), nil}}, "start@5.0 stop@20.0", ""},
		{"one that is quiet and does not hum", []sounding{{5, 20, aDryer, nil}}, "start@5.0 stop@20.0", ""},
		{"one that is heard in one octave", []sounding{{5, 20, aDrone, nil}}, "start@5.0 stop@20.0", ""},
		{"one that is shrill, and its load louder by far", []sounding{{5, 20, aShrill, nil}, {9, 14, aLoad.plus(-8), nil}}, "start@5.0 stop@20.0", ""},
		{"a whine under the tap", []sounding{{0, 30, aTap.plus(6), nil}, {5, 20, aWhine, nil}}, "start@5.0 stop@20.0", ""},
		{"a tap that is half as loud as a motor", []sounding{{2, 25, aTap.plus(4), nil}, motor(5, 20)}, "start@5.0 stop@20.0", ""},
		{"a jam", []sounding{motor(5, 12), {12, 15, aHum, nil}}, "start@5.0 stop@15.0", ""},
		{"a refrigerator hums in a pause", []sounding{motor(3, 10), {10.5, 22, aHum.plus(-12), nil}, motor(16, 25)}, "start@3.0 stop@10.0 start@16.0 stop@25.0", ""},
		{"a jam beside the tap, and a refrigerator that hums louder than the motor runs", []sounding{{2, 28, aTap, nil}, {0, 30, aHum.plus(-14), nil},
			{5, 12, spectrum{60, 40, 60, 58, 62, 62, 60, 56}, nil}, {12, 15, spectrum{20, 66, 30, 20, 20, 15, 10, 10}, nil}}, "start@5.0 stop@15.0", ""},
		{"a jam that clears", []sounding{motor(5, 12), {12, 14, aHum, nil}, motor(14, 20)}, "start@5.0 stop@20.0", ""},
		{"jammed from the start", []sounding{{5, 7, aHum, nil}, motor(12, 20)}, "start@5.0 stop@7.0 start@12.0 stop@20.0", ""},
		{"coasting down", []sounding{motor(5, 20), {20, 24, aMotor, coasts}}, "start@5.0 stop@20.0", ""},
		{"its load gone some seconds before it coasts down", []sounding{motor(5, 20), {5, 17, aMotor.plus(3), nil}, {20, 21.5, aMotor, coasts}}, "start@5.0 stop@20.0", ""},
		{"the tap turned off before it", []sounding{{2, 17.5, aTap.plus(8), nil}, motor(5, 20), {20, 21.5, aMotor, coasts}}, "start@5.0 stop@20.0", ""},
		{"coasting down to the recording's end", []sounding{motor(5, 29.3), {29.3, 30, aMotor, coasts}}, "start@5.0 stop@29.3", ""},
		{"switched on again while it coasts", []sounding{motor(5, 10), {10, 11, aMotor, coasts}, motor(11, 20)}, "start@5.0 stop@10.0 start@11.0 stop@20.0", ""},
		{"the input is dead before and after it", []sounding{{0, 5, dead, nil}, motor(5, 20), {20, 30, dead, nil}}, "start@5.0 stop@20.0", ""},
		{"the input dies with it", []sounding{motor(5, 20), {20, 30, dead, nil}}, "start@5.0 stop@20.0", ""},
		{"the input is dead before a quiet room", []sounding{{0, 5, dead, nil}}, "", ""},
		{"a jog", []sounding{motor(3, 3.6), motor(8, 20)}, "start@3.0 stop@3.6 start@8.0 stop@20.0", ""},
		{"running from the beginning", []sounding{motor(0, 20)}, "start@0.0 stop@20.0", "began-running"},
		{"running to the end", []sounding{motor(5, 30)}, "start@5.0 stop@30.0", "ended-running"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, got := hear(t, 30, 0.01, true, c.scene, nil)
			if !alike(got, c.want) {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
			warned := ""
			for _, w := range l.Warnings() {
				warned += w.Code
			}
			if warned != c.warn {
				t.Errorf("warned of %q, want %q", warned, c.warn)
			}
		})
	}
}

// TestListenToAHeavyTurntable: it rumbles on for seconds, far below the motor.
func TestListenToAHeavyTurntable(t *testing.T) {
	rumble := spectrum{58, 63, 52, 51, 53, 53, 40, 36}
	slows := func(t, _ float64) float64 { return -2 * t }
	_, got := hear(t, 60, 0.01, true, []sounding{{3, 40, aMotor.plus(8), nil}, {40, 44.5, rumble, slows}, {44.5, 46, rumble.plus(-9), coasts}}, nil)
	if want := "start@3.0 stop@40.0"; !alike(got, want) {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestListenToALongCoast: it is switched on again before it stands. A rotor that locks falls silent at once, and has not
// stopped.
func TestListenToALongCoast(t *testing.T) {
	loud := aMotor.plus(16)
	for _, c := range []struct {
		name, want string
		onS        float64
		how        func(t, lastsS float64) float64
	}{
		{"coasts", "start@3.0 stop@20.0 start@27.0 stop@50.0", 27, func(t, _ float64) float64 { return -4 * t }},
		{"coasts, and is faint for long", "start@3.0 stop@20.0 start@31.0 stop@50.0", 31, func(t, _ float64) float64 { return max(-4*t, -27.5) }},
		{"locks", "start@3.0 stop@50.0", 24, func(t, _ float64) float64 { return -27.5 }},
	} {
		_, got := hear(t, 60, 0.01, true, []sounding{{3, 20, loud, nil}, {20, c.onS, loud, c.how}, {c.onS, 50, loud, nil}}, nil)
		if !alike(got, c.want) {
			t.Errorf("%s: got  %s\nwant %s", c.name, got, c.want)
		}
	}
}

// TestListenToASlowStart: a motor that takes a third of a second to run up, by 50 dB a decade of its speed (common practice of
// fans), is heard late in a loud room, but by no more than the start says.
func TestListenToASlowStart(t *testing.T) {
	rises := func(t, _ float64) float64 { return 50 * math.Log10((t+0.005)/0.33) }
	for _, roomDB := range []float64{0, 10} {
		l, got := hear(t, 30, 0.01, true, []sounding{{0, 30, aRoom.plus(roomDB), nil}, {5, 5.33, aMotor, rises}, {5.33, 20, aMotor, nil}}, nil)
		e := l.Finish(30)[0].Events[0]
		if late := e.AtS.V - 5; !(math.Abs(late) <= e.WithinS.V) || late < 0.1 {
			t.Errorf("%s: late by %.2f s, within %.2f s", got, late, e.WithinS.V)
		}
	}
}

// TestListenToALevelMeter: one level of an eighth of a second at a time tells less, and a motor all the same.
func TestListenToALevelMeter(t *testing.T) {
	for _, frameS := range []float64{0.1, 0.125, 0.5} {
		scene := []sounding{{5, 20, aMotor, nil}}
		if frameS < 0.2 { // or words run into each other
			scene = append(scene, sounding{25, 27, aVoice, words})
		}
		if _, got := hear(t, 40, frameS, false, scene, nil); !alike(got, "start@5.0 stop@20.0") {
			t.Errorf("frames of %g s: %s", frameS, got)
		}
	}
}

// TestListenLong: what lies far enough back is decided, soon enough and for good, and what is shown in the meantime
// follows within two seconds.
func TestListenLong(t *testing.T) {
	scene := []sounding{{50, 380, aTap, nil}, {60, 260, aMotor, nil}, {300, 370, aMotor, nil}}
	decided, lag, late := 0.0, 0.0, 0
	_, got := hear(t, 500, 0.01, true, scene, func(l *run.Listener, atS float64) {
		if d := l.DecidedS(); d < decided {
			t.Fatalf("at %.2f s: decided until %.2f s, was %.2f", atS, d, decided)
		} else {
			decided = d
		}
		lag = max(lag, atS-decided)
		if k := int(math.Round(atS * 100)); k%50 == 0 && k > 0 {
			on := atS > 62 && atS < 260 || atS > 302 && atS < 370
			off := atS < 50 || atS > 262 && atS < 300 || atS > 372
			if n := l.Now(); on && !n.Running || off && n.Running {
				late++
				t.Logf("at %.1f s: running %v", atS, n.Running)
			}
		}
	})
	if !alike(got, "start@60.0 stop@260.0 start@300.0 stop@370.0") {
		t.Error(got)
	}
	if _, alone := hear(t, 500, 0.01, true, scene, nil); alone != got {
		t.Errorf("looked at in between: %s, else %s", got, alone)
	}
	if lag > 135 {
		t.Errorf("the decision lags by %.0f s", lag)
	}
	if late > 0 {
		t.Errorf("what is shown was wrong %d times", late)
	}
}

// TestListenFromTheBeginning: a motor that ran from the recording's beginning shows by its stop, however late.
func TestListenFromTheBeginning(t *testing.T) {
	if _, got := hear(t, 330, 0.01, true, []sounding{{0, 300, aMotor, nil}}, nil); !alike(got, "start@0.0 stop@300.0") {
		t.Error(got)
	}
	if _, got := hear(t, 330, 0.01, true, []sounding{{0, 330, aMotor, nil}}, nil); got != "" {
		t.Errorf("nothing but a loud room was heard: %s", got)
	}
}

// TestListenToTheTap: a tap that runs for minutes before the motor is taken neither for one that only hisses nor, if it is
// wide open, for one that hums.
func TestListenToTheTap(t *testing.T) {
	for _, scene := range [][]sounding{
		{{20, 230, aTap, nil}, {200, 225, aMotor, nil}},
		{{20, 230, aJet, nil}, {200, 225, aMotor.plus(14), nil}},
	} {
		if _, got := hear(t, 240, 0.01, true, scene, nil); !alike(got, "start@200.0 stop@225.0") {
			t.Error(got)
		}
	}
}
