package overlay

import (
	"fmt"
	"math"

	"quern/rig"
)

// use is one run as its clock and its ribbon need it.
type use struct {
	run          rig.Run
	final        Final
	startS, endS float64
	on           [][2]float64 // stretches in which the motor was on
	elapsed      bool         // the clock counts pauses
	limitS       float64      // 0: none
	idleA, mostA float64      // of load: no load, and the greatest above it; mostA 0: not known
}

// usesOf returns the runs whose beginning and end are known.
func usesOf(sc *Scene) []use {
	var out []use
	for i, r := range sc.Result.Runs {
		start, ok := r.StartS.Value()
		end, okEnd := r.EndS.Value()
		if !ok || !okEnd || end < start {
			continue
		}
		u := use{run: r, final: FinalOf(r), startS: start, endS: end, elapsed: sc.Clock == "elapsed"}
		if i < len(sc.Final) {
			u.final = sc.Final[i]
		}
		if sc.LimitS > 0 && !math.IsInf(sc.LimitS, 0) {
			u.limitS = sc.LimitS
		}
		since, running := start, true
		for _, e := range r.Events {
			at, ok := e.AtS.Value()
			switch {
			case !ok:
			case e.Kind == rig.MotorStart && !running:
				since, running = at, true
			case (e.Kind == rig.MotorStop || e.Kind == rig.Trip) && running && at >= since:
				u.on, running = append(u.on, [2]float64{since, at}), false
			}
		}
		if running {
			u.on = append(u.on, [2]float64{since, end})
		}
		u.learn(&sc.Current)
		out = append(out, u)
	}
	return out
}

// learn finds the measure of load: the current above no load, against its greatest.
func (u *use) learn(current *Track) {
	u.idleA, _ = u.run.Motor.IdleA.Value()
	for _, s := range u.run.States {
		from, ok := s.FromS.Value()
		to, okTo := s.ToS.Value()
		if !ok || !okTo || s.State != rig.Loaded && s.State != rig.Overloaded {
			continue
		}
		// The tenths at either end hold some of the neighbouring state, maybe a stall.
		for k := int(math.Ceil(from/tenthS)) + 1; float64(k+1)*tenthS < to; k++ {
			if v := current.at(k) - u.idleA; v > u.mostA {
				u.mostA = v
			}
		}
	}
}

// used returns what the run clock has counted up to an instant, s.
func (u *use) used(atS float64) float64 {
	if u.elapsed {
		return max(min(atS, u.endS)-u.startS, 0)
	}
	total := 0.0
	for _, o := range u.on {
		if atS > o[0] {
			total += min(atS, o[1]) - o[0]
		}
	}
	return total
}

// limitAt returns where the limit stands, as far as it is known at an instant: in a pause of a clock that
// stands it moves on with time. Infinite: there is none.
func (u *use) limitAt(atS float64) float64 {
	if u.limitS == 0 {
		return math.Inf(1)
	}
	if u.elapsed || len(u.on) == 0 || atS <= u.startS {
		return u.startS + u.limitS
	}
	total := 0.0
	for i, o := range u.on {
		reach := o[0] + u.limitS - total
		if atS < o[1] || reach <= o[1] {
			return reach
		}
		total += o[1] - o[0]
		if i+1 == len(u.on) || atS < u.on[i+1][0] {
			return max(atS, o[1]) + u.limitS - total
		}
	}
	return math.Inf(1)
}

// clockWords is m:ss, cut off, as clocks show it.
func clockWords(s float64) string {
	t := int64(math.Floor(max(s, 0) + 1e-9)) // an instant written in decimals must not fall short of its second
	return fmt.Sprintf("%d:%02d", t/60, t%60)
}
