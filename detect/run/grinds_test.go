package run_test

import (
	"math"
	"testing"
)

// strikes is a piece that strikes the cutters five times a second, or so: each dies away within a tenth.
func strikes(t, _ float64) float64 { return -200 * math.Mod(t, 0.2) }

// creeps up as what loads a motor goes.
func creeps(t, lastsS float64) float64 { return 30 * (t/lastsS - 1) }

// TestListenToGrinding: a motor that load slows down so far that a tap hides it is heard by what it grinds. What is said meanwhile, or falls down once or twice, does not turn it.
func TestListenToGrinding(t *testing.T) {
	tap := sounding{3, 29, aTap, nil}
	motor := func(a, b float64) sounding { return sounding{a, b, aMotor, nil} }
	piece := aBang.plus(-12)
	for _, c := range []struct {
		name  string
		scene []sounding
		want  string
	}{
		{"it grinds", []sounding{tap, motor(5, 9), {9, 15, piece, strikes}, motor(15, 20)}, "start@5.0 stop@20.0"},
		{"it grinds, and is heard again by and by", []sounding{tap, motor(5, 9), {9, 13, piece, strikes}, {13, 17, aMotor, creeps}, motor(17, 20)}, "start@5.0 stop@20.0"},
		{"it grinds, and starts again later", []sounding{tap, motor(5, 9), {9, 13, piece, strikes}, motor(17, 20)}, "start@5.0 stop@13.0 start@17.0 stop@20.0"},
		{"it grinds, stops, and starts by and by", []sounding{tap, motor(5, 9), {9, 13, piece, strikes}, {9, 13, aMotor.plus(-16), nil}, {15, 18, aMotor, creeps}, motor(18, 22)}, "start@5.0 stop@13.0 start@16.9 stop@22.0"},
		{"what is said meanwhile drowns it", []sounding{tap, motor(5, 9), {9, 13, piece, strikes}, {13, 15, aVoice.plus(30), words}, {15, 18, piece, strikes}, motor(18, 22)}, "start@5.0 stop@22.0"},
		{"it grinds, and is switched off", []sounding{tap, motor(5, 9), {9, 19, piece, strikes}, motor(25, 28)}, "start@5.0 stop@19.0 start@25.0 stop@28.0"},
		{"nothing", []sounding{tap, motor(5, 9), motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
		{"a voice", []sounding{tap, motor(5, 9), {9, 15, aVoice, words}, motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
		{"a voice at the microphone", []sounding{tap, motor(5, 9), {9, 15, aVoice.plus(25), words}, motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
		{"thumps", []sounding{tap, motor(5, 9), {9, 15, spectrum{60, 80, 80, 76, 70, 60, 50, 40}, strikes}, motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
		{"dishes", []sounding{tap, motor(5, 9), {9, 15, piece, rings}, motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
		{"strikes for a second", []sounding{tap, motor(5, 9), {9, 10.2, piece, strikes}, motor(12, 20)}, "start@5.0 stop@9.0 start@12.0 stop@20.0"},
		{"strikes later", []sounding{tap, motor(5, 9), {11, 15, piece, strikes}, motor(15, 20)}, "start@5.0 stop@9.0 start@15.0 stop@20.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, got := hear(t, 30, 0.01, true, c.scene, nil); !alike(got, c.want) {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}
