package acquire

import (
	"fmt"
	"math"
	"time"

	"quern/rig"
)

var _ Sink = (*running)(nil)

func (r *running) stream(c rig.Channel) *stream {
	for _, st := range r.streams {
		if st.Stream.Channel == c {
			return st
		}
	}
	return nil
}

// came notes that something came.
func (st *stream) came(now float64) {
	if st.lastS > 0 && st.State == Live {
		st.paceS += 0.05 * (now - st.lastS - st.paceS)
	}
	st.lastS = now
	st.enter(Live, "")
}

// Samples takes samples of a waveform.
func (r *running) Samples(c rig.Channel, got time.Time, lost int64, samples []float64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	st := r.stream(c)
	if st == nil || len(samples) == 0 {
		return
	}
	now := got.Sub(r.sup.epoch).Seconds()
	st.came(now)
	was := st.place.placed
	if lost += st.dropped; lost > 0 {
		st.Gaps++
		st.Missing += lost
	}
	st.dropped = 0
	if !was && st.Samples > 0 {
		st.Gaps++
	}
	at, jumped := st.place.place(now, lost, len(samples))
	if jumped {
		st.Gaps++
		st.jumpedS = now
	}
	st.repeats(samples, st.place.rateHz)
	st.floods(now, float64(len(samples)), st.place.rateHz)
	st.Status.Samples += int64(len(samples))
	b := rig.Block{Channel: c, StartS: at, Samples: append([]float64(nil), samples...)}
	if !r.sup.send(b) {
		st.dropped += int64(len(samples))
	}
}

// note says what is odd about what comes; "" while nothing is.
func (st *stream) note(now float64) string {
	switch {
	case st.stuck != "":
		return st.stuck
	case st.flooding != "":
		return st.flooding
	case st.jumpedS > 0 && now-st.jumpedS < jumpToldS:
		return "time jumped: samples were lost without being counted"
	}
	return ""
}

// repeats looks for samples that never change. Only how many of the last ones are alike matters.
func (st *stream) repeats(samples []float64, rateHz float64) {
	last, k := samples[len(samples)-1], 0
	for i := len(samples) - 1; i >= 0 && samples[i] == last; i-- {
		k++
	}
	was := st.same
	if k < len(samples) || last != st.value {
		st.same = 0
	}
	st.value = last
	st.same += float64(k) / rateHz
	switch {
	case st.same >= stuckS:
		st.stuck = fmt.Sprintf("it has sent one and the same value for %.0f s: muted, not connected, or dead", st.same)
	case was >= stuckS:
		st.stuck = ""
	}
}

// floods looks for more than the nominal rate.
func (st *stream) floods(now, n, usualHz float64) {
	if st.floodS == 0 || now-st.floodS > 3 {
		st.floodS, st.flood = now, 0
		return
	}
	st.flood += n
	if s := now - st.floodS; s >= 2 {
		st.flooding = ""
		if hz := st.flood / s; hz > floodRatio*usualHz {
			st.flooding = fmt.Sprintf("it sends %.0f a second where %.0f were expected: set its rate", hz, usualHz)
		}
		st.floodS, st.flood = now, 0
	}
}

// mostReadingsHz is more than any slow instrument sends.
const mostReadingsHz = 200.0

// Reading takes one reading.
func (r *running) Reading(c rig.Channel, got time.Time, value float64, stable rig.Mark) {
	r.mu.Lock()
	defer r.mu.Unlock()
	st := r.stream(c)
	if st == nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	now := got.Sub(r.sup.epoch).Seconds()
	st.came(now)
	st.floods(now, 1, mostReadingsHz)
	if value == st.value && st.Stream.Form != rig.Mass {
		if st.same++; st.same >= sameN {
			st.stuck = fmt.Sprintf("it has sent one and the same reading %.0f times: not connected, or dead", st.same)
		}
	} else {
		if st.same >= sameN {
			st.stuck = ""
		}
		st.value, st.same = value, 0
	}
	at := max(now-r.src.LatencyS, st.readingS, st.place.floorS)
	st.readingS = at
	st.Status.Samples++
	if !r.sup.send(rig.Block{Channel: c, Readings: []rig.Reading{{AtS: at, Value: value, Stable: stable}}}) {
		st.Missing++
	}
}

// Reject counts a frame that could not be taken.
func (r *running) Reject(c rig.Channel, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		st.Rejects++
		st.Status.Reject = why
	}
}

// Xrun counts a loss of samples.
func (r *running) Xrun(c rig.Channel) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		st.Xruns++
	}
}

// Alive notes that the device speaks without anything to deliver.
func (r *running) Alive(c rig.Channel, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		st.lastS = r.sup.NowS()
		st.enter(Live, why)
	}
}
