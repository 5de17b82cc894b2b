package sound

// Fault is an interval in which the input was overloaded or dead.
type Fault struct {
	Kind       string // "clipped" or "silent"
	FromS, ToS float64
	Samples    int // clipped or unchanging samples in it
}

// clipGapS joins clips: peaks of one loud sound are one fault, s (a tenth: two events that a
// listener tells apart stay apart; the project's own choice).
const clipGapS = 0.1

// clipFinder finds runs of samples near full scale.
type clipFinder struct {
	at    float64 // magnitude
	least int     // samples in a row
	gap   int     // samples between two intervals that stay apart
	run   int     // samples near full scale up to now
	told  int     // of these, what is counted already
	open  bool
	fault struct{ from, to, samples int }
}

// past is the magnitude from which one sample alone counts as clipped: no converter gives it, so a float recording holds
// more than its full scale (a hundredth of a decibel beyond: what rounding makes of a sine that just reaches it).
const past = 1.001

// look takes the frame x, whose first sample has the number from; it returns the clipped samples.
func (c *clipFinder) look(out []Fault, x []float64, from int, rate float64) (int, []Fault) {
	n := 0
	at, run, told := c.at, c.run, c.told
	for i, v := range x {
		if v < at && v > -at {
			if told > 0 {
				out = c.add(out, from+i-run, from+i, rate)
			}
			run, told = 0, 0
			continue
		}
		if run++; told > 0 || run >= c.least || v > past || v < -past {
			n += run - told
			told = run
		}
	}
	c.run, c.told = run, told
	return n, out
}

// add joins the samples from..to to the open interval, or ends that and opens one.
func (c *clipFinder) add(out []Fault, from, to int, rate float64) []Fault {
	if c.open && from-c.fault.to > c.gap {
		out = c.close(out, rate)
	}
	if !c.open {
		c.open, c.fault.from, c.fault.to, c.fault.samples = true, from, from, 0
	}
	c.fault.from, c.fault.to = min(c.fault.from, from), max(c.fault.to, to)
	c.fault.samples += to - from
	return out
}

func (c *clipFinder) close(out []Fault, rate float64) []Fault {
	c.open = false
	return append(out, Fault{Kind: "clipped", FromS: float64(c.fault.from) / rate, ToS: float64(c.fault.to) / rate, Samples: c.fault.samples})
}

// pass ends the open interval once nothing before the sample end can join it.
func (c *clipFinder) pass(out []Fault, end int, rate float64) []Fault {
	if c.open && end-c.run-c.fault.to > c.gap {
		out = c.close(out, rate)
	}
	return out
}

func (c *clipFinder) finish(out []Fault, end int, rate float64) []Fault {
	if c.told > 0 {
		out = c.add(out, end-c.run, end, rate)
	}
	if c.open {
		out = c.close(out, rate)
	}
	return out
}

// stillFinder finds stretches in which the input does not change.
type stillFinder struct {
	least int     // samples
	value float64 // of the last sample
	run   int     // how many of the last samples have it; 0: none yet
}

// look takes the frame x. It returns whether the frame and the run it ends in are one, and the length
// of that run. A stretch that is long enough contains whole frames: most frames cost two comparisons.
func (s *stillFinder) look(out []Fault, x []float64, from int, rate float64) (constant bool, run int, _ []Fault) {
	lead := 0
	if s.run > 0 {
		for lead < len(x) && x[lead] == s.value {
			lead++
		}
	}
	if s.run > 0 && lead == len(x) {
		s.run += lead
		return true, s.run, out
	}
	out = s.end(out, s.run+lead, from+lead, rate)
	s.value, s.run = x[len(x)-1], 1
	for i := len(x) - 2; i >= 0 && x[i] == s.value; i-- {
		s.run++
	}
	return s.run == len(x), s.run, out
}

func (s *stillFinder) end(out []Fault, run, to int, rate float64) []Fault {
	if run < s.least {
		return out
	}
	return append(out, Fault{Kind: "silent", FromS: float64(to-run) / rate, ToS: float64(to) / rate, Samples: run})
}

func (s *stillFinder) finish(out []Fault, end int, rate float64) []Fault {
	return s.end(out, s.run, end, rate)
}
