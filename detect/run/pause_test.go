package run_test

import "testing"

// TestListenToPauses: a motor that is switched off for a moment coasts, and grows less loud by some 40 to 60 dB a decade of
// its speed (common practice of fans), evenly in all octaves; it is back at once. What is ground away, or strikes the cutters
// again and again, is no pause.
func TestListenToPauses(t *testing.T) {
	motor := func(a, b float64) sounding { return sounding{a, b, aMotor, nil} }
	falls := func(by float64) func(t, _ float64) float64 { return func(t, _ float64) float64 { return -by * t } }
	high := spectrum{20, 20, 20, 20, 66, 66, 64, 60}
	for _, c := range []struct {
		name  string
		scene []sounding
		want  string
	}{
		{"0.8 s, by 5 dB", []sounding{motor(5, 10), {10, 10.8, aMotor, falls(6)}, motor(10.8, 20)}, "start@5.0 stop@10.0 start@10.8 stop@20.0"},
		{"0.6 s, by 4 dB, and bangs", []sounding{motor(5, 10), {10, 10.6, aMotor, falls(6.7)}, motor(10.6, 20), {3.7, 24, aBang.plus(-10), dies}},
			"start@5.0 stop@10.0 start@10.6 stop@20.0"},
		{"twice within 3 s", []sounding{motor(5, 8), {8, 9, aMotor, falls(8)}, motor(9, 10.5), {10.5, 11.3, aMotor, falls(8)}, motor(11.3, 20)},
			"start@5.0 stop@8.0 start@9.0 stop@10.5 start@11.3 stop@20.0"},
		{"ground away, and fed again", []sounding{motor(5, 20), {8, 9.2, high, falls(6)}, {9.2, 10.4, high, falls(6)}, {10.4, 16, high, nil}}, "start@5.0 stop@20.0"},
		{"louder and louder, and then at once less", []sounding{motor(5, 10), {10, 11, aMotor, falls(-6)}, motor(11, 20)}, "start@5.0 stop@20.0"},
		{"less, and back by and by", []sounding{motor(5, 10), {10, 11, aMotor, falls(6)}, {11, 11.6, aMotor.plus(-6), falls(-10)}, motor(11.6, 20)}, "start@5.0 stop@20.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, got := hear(t, 30, 0.01, true, c.scene, nil); !alike(got, c.want) {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}
