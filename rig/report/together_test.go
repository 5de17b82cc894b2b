package report

import "testing"

func TestTogether(t *testing.T) {
	const whole, end = `<span class="together">`, `</span>`
	for _, c := range []struct{ text, want string }{
		{"0:36.3 ±0.028 s", "0:36.3 ±0.028\u00a0s"},
		{"2.95 % ±0.098 % (typed)", "2.95\u00a0% ±0.098\u00a0% (typed)"},
		{"LAeq 73.9 dB ±1.1 dB, stalls 0", "LAeq 73.9\u00a0dB ±1.1\u00a0dB, stalls 0"},
		{"above 85 dB(A) and 6 L/min", "above 85\u00a0dB(A) and 6\u00a0L/min"},
		{"run 2 stopped", "run 2 stopped"}, // no unit, though it begins like one
		{"invented unit A (unit-a)", "invented unit A (" + whole + "unit-a" + end + ")"},
		{"2026-03-02-0951-unit-a-poultry-bones-1", "2026-03-02-0951-unit-a-poultry-bones-1"},
		{"on 2026-03-02 -", "on " + whole + "2026-03-02" + end + " -"},
		{"<b>unit-a</b> & 3 g", "&lt;b&gt;" + whole + "unit-a" + end + "&lt;/b&gt; &amp; 3\u00a0g"},
		{"", ""},
	} {
		if got := string(Together(c.text)); got != c.want {
			t.Errorf("%q:\n%s, expected\n%s", c.text, got, c.want)
		}
	}
}
