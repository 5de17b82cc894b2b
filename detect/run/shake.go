package run

import (
	"fmt"
	"math"
	"slices"

	"quern/config"
	"quern/rig"
)

const (
	shakeS = 4.0 // s a pan must shake to be shaken by a motor: a bowl set down settles in 1 to 3 s
	stillS = 2.0 // s it must stand still before the motor is said to be off

	breakS = 0.4 // s: shorter calm does not break the shaking; between two bowls set down it is longer

	lineS     = 1.0 // s over which the indications are held against a straight line
	lineN     = 3   // and so many readings at least
	calmS     = 2.0 // s: the calmest such stretches show how still the pan can be
	calmLeast = 12  // and so many readings at least
	calmShare = 0.005
	overMany  = 2.5 // a motor shakes the pan by so many times that of its calmest stretches
	overSome  = 3.2 // where fewer than ten readings fall into lineS
	overFew   = 4.0 // where fewer than five do
	overRest  = 2.0 // and by so many times its usual unrest outside of runs
	divisions = 1.5 // an indication that flickers between two neighbours strays from a line by up to so many
	shakeN    = 8   // readings in a row that a slow scale must shake
	slowS     = 0.6 // s from reading to reading from which shaking hardly shows
	slowN     = 6   // readings in a row that a slow scale must stand still before the motor is said to be off
)

// Shaker finds starts and stops from a scale alone, by the shaking of its pan. That is coarse: a
// second or so at each end. How still the pan can be is learned from the whole recording; so the
// shaker decides at its end.
type Shaker struct {
	pauseS    float64
	divisionG float64
	recent    []Pan
	pans      []unrest
	marked    bool    // the scale has shown its stability mark at least once
	leastG    float64 // smallest step of its indication
	runs      []Found
	warnings  []rig.Warning
}

// unrest is how the indications strayed round one reading.
type unrest struct {
	fromS, atS float64 // the stretch looked at
	g          float64 // range about the straight line that fits best: a steady pour is no shaking
	rangeG     float64 // of the indications themselves
	unstable   bool    // by the scale's own mark
}

// NewShaker returns a shaker for a session.
func NewShaker(set config.Setup) *Shaker {
	return &Shaker{pauseS: set.Procedure.LongestPauseS, divisionG: set.Bench.Scale.DivisionG, leastG: set.Bench.Scale.DivisionG}
}

// Pan takes the next reading.
func (k *Shaker) Pan(p Pan) {
	k.marked = k.marked || p.Stable == rig.Yes
	k.recent = append(k.recent, p)
	first := 0
	for len(k.recent)-first > lineN && k.recent[first].AtS < p.AtS-lineS*1.001 {
		first++
	}
	k.recent = append(k.recent[:0], k.recent[first:]...)
	if len(k.recent) < lineN {
		return
	}
	u := unrest{fromS: k.recent[0].AtS, atS: p.AtS, g: strayG(k.recent)}
	lo, hi := p.MassG, p.MassG
	for _, q := range k.recent {
		lo, hi = min(lo, q.MassG), max(hi, q.MassG)
	}
	u.rangeG, u.unstable = hi-lo, p.Stable == rig.No
	if step := math.Abs(p.MassG - k.recent[len(k.recent)-2].MassG); step > 0 {
		k.leastG = min(k.leastG, step)
	}
	k.pans = append(k.pans, u)
}

// strayG is the range of readings about the straight line that fits them best, g.
func strayG(ps []Pan) float64 {
	var t, m, tt, tm float64
	n := float64(len(ps))
	for _, p := range ps {
		t += p.AtS / n
		m += p.MassG / n
	}
	for _, p := range ps {
		tt += (p.AtS - t) * (p.AtS - t)
		tm += (p.AtS - t) * (p.MassG - m)
	}
	slope := 0.0
	if tt > 0 {
		slope = tm / tt
	}
	var lo, hi float64
	for _, p := range ps {
		r := p.MassG - m - slope*(p.AtS-t)
		lo, hi = min(lo, r), max(hi, r)
	}
	return hi - lo
}

// calmG is the mean unrest over the calmest stretches of the recording, g. The very calmest of a long
// one are calm by chance: a small share of them is passed over.
func (k *Shaker) calmG() float64 {
	var means []float64
	first, sum := 0, 0.0
	for i, u := range k.pans {
		sum += u.g
		for i-first >= calmLeast && k.pans[first].atS < u.atS-calmS*1.001 {
			sum -= k.pans[first].g
			first++
		}
		if i-first+1 >= calmLeast && u.atS-k.pans[first].fromS >= calmS {
			means = append(means, sum/float64(i-first+1))
		}
	}
	if len(means) == 0 {
		return 0
	}
	slices.Sort(means)
	return means[int(calmShare*float64(len(means)))]
}

// stretches returns where the pan shook for long enough, as pieces of k.pans from one index to before
// another.
func (k *Shaker) stretches() [][2]int {
	step := k.stepS()
	overG := max(divisions*k.divisionG, k.calmG()*k.overCalm())
	needS, breakS, restS := max(shakeS, shakeN*step), max(breakS, 1.5*step), max(stillS, slowN*step)
	var out [][2]int
	on, since, last := false, -1, -1
	for i, u := range k.pans {
		switch shaky := u.g > overG || k.marks(u); {
		case shaky:
			if since < 0 || !on && u.atS-k.pans[last].atS > breakS {
				since = i
			}
			if last = i; !on && u.atS-k.begins(since) >= needS {
				out, on = append(out, [2]int{since, len(k.pans)}), true
			}
		case on && u.atS-k.pans[last+1].atS >= restS:
			out[len(out)-1][1] = last + 1
			on, since = false, -1
		}
	}
	if n := len(k.pans) - 1; on && k.pans[n].atS-k.pans[last].atS > breakS {
		out[len(out)-1][1] = last + 1
	}
	return out
}

// marks says whether the scale's mark shows a shaking that its indication is too coarse for. Where the
// indication moves, the mark says nothing that it does not; one that never comes says nothing at all.
func (k *Shaker) marks(u unrest) bool {
	return u.unstable && k.marked && u.rangeG <= k.leastG*1.001
}

// mostlyMarked says whether a stretch was told by the scale's mark.
func (k *Shaker) mostlyMarked(s [2]int) bool {
	n := 0
	for _, u := range k.pans[s[0]:s[1]] {
		if k.marks(u) {
			n++
		}
	}
	return 2*n > s[1]-s[0]
}

// stepS is the median time from reading to reading.
func (k *Shaker) stepS() float64 {
	var steps []float64
	for i := 1; i < len(k.pans); i++ {
		steps = append(steps, k.pans[i].atS-k.pans[i-1].atS)
	}
	return ranked(steps, 0.5)
}

// overCalm is by how many times the calmest unrest must be passed: few readings stray by very different
// amounts from their line by chance.
func (k *Shaker) overCalm() float64 {
	switch step := k.stepS(); {
	case step > lineS/4*1.01:
		return overFew
	case step > lineS/9*1.01:
		return overSome
	}
	return overMany
}

// ranked returns the value that a share of all lies below, 0 if there is none.
func ranked(v []float64, share float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[int(share*float64(len(v)-1))]
}

// begins is when the shaking that shows from the reading i on began: with the first reading, if the
// stretch looked at still reaches there.
func (k *Shaker) begins(i int) float64 {
	if k.fromFirst(i) {
		return k.pans[0].fromS
	}
	return k.pans[i].atS
}

func (k *Shaker) fromFirst(i int) bool { return k.pans[i].fromS == k.pans[0].fromS }

// usualG is a quantile of the unrest outside of stretches, or inside of one, g.
func (k *Shaker) usualG(q float64, in func(i int) bool) float64 {
	var g []float64
	for i, u := range k.pans {
		if in(i) {
			g = append(g, u.g)
		}
	}
	return ranked(g, q)
}

// Finish ends the session and returns its runs.
func (k *Shaker) Finish(float64) []Found {
	if len(k.pans) == 0 {
		return nil
	}
	if step := k.stepS(); step > slowS {
		k.warnings = append(k.warnings, rig.Warning{Code: "scale-slow", Text: fmt.Sprintf(
			"the scale was read every %.2g s: the shaking of its pan hardly shows in so few readings, and runs may be missed or cut short; record at least 5 readings a second", step)})
	}
	floorG := divisions * k.divisionG
	found := k.stretches()
	restG := k.usualG(0.5, func(i int) bool {
		return !slices.ContainsFunc(found, func(s [2]int) bool { return i >= s[0] && i < s[1] })
	})
	for _, s := range found {
		if g := k.usualG(0.3, func(i int) bool { return i >= s[0] && i < s[1] }); g < overRest*restG && !k.mostlyMarked(s) {
			continue // no more than the pan's own unrest
		}
		k.take(s)
	}
	if len(k.runs) > 0 {
		return k.runs
	}
	if restG = k.usualG(0.5, func(int) bool { return true }); restG > floorG {
		k.warnings = append(k.warnings, rig.Warning{Code: "pan-never-still", Text: fmt.Sprintf(
			"the pan of the scale strayed by about %.2g g most of the time, and no stretch of shaking stands out from the rest: a motor cannot be told from an unsteady pan, and no run is taken; put the scale on a firm base, and record a few seconds before the start and after the stop", restG)})
	}
	return k.runs
}

// take books one stretch of shaking.
func (k *Shaker) take(s [2]int) {
	fromS := k.begins(s[0])
	if n := len(k.runs); n == 0 || fromS-k.runs[n-1].EndS() > k.pauseS {
		k.runs = append(k.runs, Found{IdleA: rig.Absent("no-current"), Inrush: rig.Absent("no-current"), NoiseA: rig.Absent("no-current")})
	}
	began, ended := "the pan of the scale began to shake; neither current nor sound was recorded", "the pan of the scale came to rest; neither current nor sound was recorded"
	if k.fromFirst(s[0]) {
		began = "the pan of the scale shook when the recording began"
		k.warnings = append(k.warnings, rig.Warning{Code: rig.BeganRunning,
			Text: "the pan of the scale shook from the first reading on and came to rest later: the motor is taken to be running when the recording began; its start is not known"})
	}
	var toS float64
	if s[1] < len(k.pans) {
		toS = max(k.pans[s[1]].fromS, fromS)
	} else {
		toS, ended = k.pans[len(k.pans)-1].atS, "the recording ended while the pan of the scale shook"
		k.warnings = append(k.warnings, rig.Warning{Code: rig.EndedRunning, Text: "the recording ended while the pan still shook: the stop is the recording's end"})
	}
	withinS := max(1.5, slowN*k.stepS())
	f := &k.runs[len(k.runs)-1]
	f.On = append(f.On, Interval{fromS, toS})
	f.Events = append(f.Events, event(rig.MotorStart, fromS, withinS, 0.4, began), event(rig.MotorStop, toS, withinS, 0.4, ended))
	f.States = append(f.States, rig.Span{State: rig.Unknown, FromS: rig.Fig(fromS), ToS: rig.Fig(toS)})
}

// Warnings returns what was wrong with the scale's readings.
func (k *Shaker) Warnings() []rig.Warning { return k.warnings }
