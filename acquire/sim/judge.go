package sim

import (
	"math"

	"quern/rig"
)

// span is a stretch of steps, [from, to).
type span struct{ from, to int }

// judge makes the truth of a tale.
type judge struct {
	sc    *Scenario
	tale  *tale
	sum   []float64 // running sum of the squared motor current, A²
	plain []float64 // and of the current
	cycle float64   // steps a mains cycle
	rms   []float64 // noiseless RMS of the motor's current over the cycle about each step, A
	truth Truth
}

func newJudge(sc *Scenario, t *tale) *judge {
	j := &judge{sc: sc, tale: t, sum: make([]float64, len(t.points)+1), plain: make([]float64, len(t.points)+1), cycle: 1 / (sc.Supply.FrequencyHz + sc.Supply.OffsetHz) / stepS}
	for i := range t.points {
		p := &t.points[i]
		j.sum[i+1], j.plain[i+1] = j.sum[i], j.plain[i]
		if p.flags&flagOn != 0 {
			f := flow{re: float64(p.re), im: float64(p.im), third: float64(p.third), dc: float64(p.dc), pulse: float64(p.pulse), width: float64(p.width)}
			x := f.at(2 * math.Pi * p.turns)
			j.sum[i+1] += x * x
			j.plain[i+1] += x
		}
	}
	j.rms = make([]float64, len(t.points))
	for _, s := range t.stretches {
		for k := s.from; k < s.to; k++ {
			c := float64(k) + 0.5
			j.rms[k] = math.Sqrt(math.Max(0, upTo(j.sum, c+j.cycle/2)-upTo(j.sum, c-j.cycle/2)) / j.cycle)
		}
	}
	return j
}

// upTo returns a running sum at a fractional step.
func upTo(sum []float64, x float64) float64 {
	x = math.Min(math.Max(x, 0), float64(len(sum)-1))
	i := min(int(x), len(sum)-2)
	return sum[i] + (sum[i+1]-sum[i])*(x-float64(i))
}

// swing is the RMS about the mean: without the d.c. of a start's first cycles.
func (j *judge) swing(k int) float64 {
	c := float64(k) + 0.5
	mean := (upTo(j.plain, c+j.cycle/2) - upTo(j.plain, c-j.cycle/2)) / j.cycle
	return math.Sqrt(math.Max(0, j.rms[k]*j.rms[k]-mean*mean))
}

func seconds(step int) float64 { return float64(step) * stepS }

// judgement returns the truth but for the levels.
func (j *judge) judgement() Truth {
	for i, s := range j.tale.stretches {
		n := len(j.truth.Runs)
		if i > 0 {
			j.pause(seconds(j.tale.stretches[i-1].to), seconds(s.from))
		}
		if i == 0 || seconds(s.from)-j.truth.Runs[n-1].EndS > j.sc.Procedure.LongestPauseS {
			j.truth.Runs = append(j.truth.Runs, TruthRun{StartS: seconds(s.from)})
			n++
		}
		r := &j.truth.Runs[n-1]
		r.EndS = seconds(s.to)
		r.MotorOnS += seconds(s.to - s.from)
		j.stretch(r, s)
	}
	for i := range j.truth.Runs {
		r := &j.truth.Runs[i]
		j.load(r)
		j.motor(r)
		r.Events = inOrder(r.Events)
		j.truth.Events = append(j.truth.Events, r.Events...)
	}
	for _, h := range j.sc.Mishaps {
		if h.Kind == DeadClamp && j.sc.Current.RateHz > 0 {
			j.doubt(h.AtS-0.1, h.AtS+h.LastsS+1, "", "the clamp was dead")
		}
	}
	return j.truth
}

func (j *judge) doubt(from, to float64, k rig.Kind, why string) {
	j.truth.Ambiguous = append(j.truth.Ambiguous, Doubt{from, to, k, why})
}

func (r *TruthRun) tell(k rig.Kind, atS float64) {
	r.Events = append(r.Events, rig.Event{Kind: k, AtS: rig.Fig(atS), WithinS: rig.Fig(0), Sure: rig.Fig(1)})
}

func (j *judge) pause(from, to float64) {
	if to-from < closeRestart {
		j.doubt(from-0.1, to+0.1, "", "the pause is hardly longer than a contact's bounce")
	}
	if l := j.sc.Procedure.LongestPauseS; to-from > 0.9*l && to-from < 1.1*l {
		j.doubt(from, to, "", "the pause is about as long as the longest allowed")
	}
}

// stretch tells the starts, stalls, overloads and the stop of one time with current.
func (j *judge) stretch(r *TruthRun, s stretch) {
	r.tell(rig.MotorStart, seconds(s.from))
	stop := rig.MotorStop
	if d := seconds(s.to - s.from); d < 0.1 {
		j.doubt(seconds(s.from)-0.1, seconds(s.to)+0.1, "", "current flowed for a few cycles only")
	}
	stalls := j.stalls(s)
	for _, x := range stalls {
		r.tell(rig.StallStart, seconds(x.from))
		r.tell(rig.StallEnd, seconds(x.to))
		if x.to == s.to && seconds(x.to-x.from) >= tripAfterS {
			stop = rig.Trip
		}
		if d := seconds(x.to - x.from); x.to == s.to && math.Abs(d-tripAfterS) < 0.3 {
			j.doubt(seconds(x.to)-0.1, seconds(x.to)+0.1, "", "the stall lasted about as long as one that makes a trip")
		}
		if j.sc.Unit.Pulsing {
			j.doubt(seconds(x.from)-0.1, seconds(x.to)+0.1, "", "the electronics try again and again")
		}
	}
	over := j.overloads(s, stalls, overRatio, overLeave, overHoldS)
	for _, x := range over {
		r.tell(rig.OverloadStart, seconds(x.from))
		r.tell(rig.OverloadEnd, seconds(x.to))
		if x.to == s.to && seconds(x.to-x.from) >= tripAfterS {
			stop = rig.Trip
		}
		if d := seconds(x.to - x.from); x.to == s.to && math.Abs(d-tripAfterS) < 0.3 {
			j.doubt(seconds(x.to)-0.1, seconds(x.to)+0.1, "", "the overload lasted about as long as one that makes a trip")
		}
	}
	j.narrow(s, stalls, over)
	r.tell(stop, seconds(s.to))
}

// stalls finds where the rotor stood.
func (j *judge) stalls(s stretch) []span {
	var out []span
	from := -1
	for k := s.from; k <= s.to; k++ {
		still := k < s.to && j.tale.points[k].speed < lockedShare
		switch {
		case still && from < 0:
			from = k
		case !still && from >= 0:
			d := seconds(k - from)
			if d >= stallHoldS {
				out = append(out, span{from, k})
			}
			if d > 0.12 && d < 0.45 {
				j.doubt(seconds(from)-0.2, seconds(k)+0.2, "", "the rotor stood hardly long enough for a stall, or hardly too short")
			}
			from = -1
		}
	}
	for i := 1; i < len(out); i++ {
		if seconds(out[i].from-out[i-1].to) < 0.5 {
			j.doubt(seconds(out[i-1].from)-0.2, seconds(out[i].to)+0.2, "", "the rotor slipped and stood again")
		}
	}
	return out
}

// overloads finds where the current passed enter times the rated one and stayed above leave times it
// for hold seconds. A stall is not also an overload: it ends one.
func (j *judge) overloads(s stretch, stalls []span, enter, leave, hold float64) []span {
	var out []span
	enter *= j.sc.Unit.RatedCurrentA
	leave *= j.sc.Unit.RatedCurrentA
	from := -1
	end := func(k int) {
		if from >= 0 && seconds(k-from) >= hold {
			out = append(out, span{from, k})
		}
		from = -1
	}
	for k := s.from; k < s.to; k++ {
		if len(stalls) > 0 && k == stalls[0].from {
			end(k)
			k = stalls[0].to - 1
			stalls = stalls[1:]
			continue
		}
		v := j.rms[k]
		switch {
		case from < 0 && v > enter:
			from = k
		case from >= 0 && v < leave && k < s.to-int(j.cycle/2)-1:
			end(k)
		}
	}
	end(s.to)
	return out
}

// narrow marks overloads that a slightly different reading of the definition would see otherwise, and
// the rotor's crawling.
func (j *judge) narrow(s stretch, stalls, over []span) {
	for _, v := range [][3]float64{{1.21, 1.11, overHoldS}, {1.29, 1.19, overHoldS}, {overRatio, overLeave, 1.7}, {overRatio, overLeave, 2.4}} {
		other := j.overloads(s, stalls, v[0], v[1], v[2])
		same := len(other) == len(over)
		for i := 0; same && i < len(over); i++ {
			same = math.Abs(seconds(other[i].from-over[i].from)) < 0.2 && math.Abs(seconds(other[i].to-over[i].to)) < 0.2
		}
		if same {
			continue
		}
		for _, x := range append(append([]span(nil), over...), other...) {
			j.doubt(seconds(x.from)-0.3, seconds(x.to)+0.3, "", "an overload that a ratio or hold a little different would see otherwise")
		}
		break
	}
	for _, x := range over {
		if x.from < max(s.upAt, s.from+1) {
			j.doubt(seconds(s.from), seconds(x.from)+1, rig.OverloadStart, "the run-up went straight over into an overload")
		}
	}
	crawl := 0
	for k := s.from; k < s.to; k++ {
		n := float64(j.tale.points[k].speed)
		if n >= lockedShare && n < 0.35 {
			crawl++
		} else if crawl > int(0.5/stepS) {
			j.doubt(seconds(k-crawl)-0.3, seconds(k)+0.3, "", "the rotor crept, neither turning nor locked")
			crawl = 0
		} else {
			crawl = 0
		}
	}
}
