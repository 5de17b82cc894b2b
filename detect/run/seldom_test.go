package run

import (
	"math"
	"testing"

	"quern/config"
)

// Beside a current that shows a run, what the motor sounds like is learned a few times in an hour, and not every minute:
// it takes as long as all that has been heard. A stop is heard all the same.
func TestLearnedSeldom(t *testing.T) {
	for _, seen := range []bool{false, true} {
		l := NewListener(config.Setup{Bench: config.DefaultBench(), Procedure: config.Procedure{LongestPauseS: 900}})
		if seen {
			l.Seen()
		}
		times, last := 0, 0
		for k := range 40 * 60 * 100 {
			h := Heard{StartS: float64(k) / 100, EndS: float64(k+1) / 100}
			db := 40.0
			if int(h.StartS)%200 >= 30 && int(h.StartS)%200 < 130 {
				db = 65
			}
			for b := range h.Octave {
				h.Octave[b] = float32(4e-10 * math.Pow(10, db/10) / 100)
			}
			h.EA, h.EC = 1e-9*math.Pow(10, db/10)/100, 2e-9*math.Pow(10, db/10)/100
			l.Heard(h)
			if l.learnedN != last {
				times, last = times+1, l.learnedN
			}
		}
		if seen && times > 9 || !seen && times < 20 {
			t.Errorf("seen %v: learned %d times, want 9 at most if it was, else about every minute", seen, times)
		}
		on := 0
		for _, r := range l.Finish(2400) {
			on += len(r.On)
			for _, i := range r.On {
				if !(math.Abs(math.Mod(i.FromS, 200)-30) <= 0.5) || !(math.Abs(math.Mod(i.ToS, 200)-130) <= 1) {
					t.Errorf("seen %v: heard from %.1f to %.1f s", seen, i.FromS, i.ToS)
				}
			}
		}
		if on != 12 {
			t.Errorf("seen %v: the motor was heard %d times, want 12", seen, on)
		}
	}
}
