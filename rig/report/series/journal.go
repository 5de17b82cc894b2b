package series

import (
	"math"

	"quern/detect/sound"
	"quern/rig"
	"quern/rig/line"
	"quern/rig/session"
)

// journal is what a journal holds of the streams.
type journal struct {
	anchors  map[rig.Channel][]part
	readings map[rig.Channel]*readings
}

// readings are those of one channel, in order of time.
type readings struct{ at, v []float64 }

// readJournal reads anchors and readings.
func readJournal(ses *session.Session) (journal, error) {
	j := journal{map[rig.Channel][]part{}, map[rig.Channel]*readings{}}
	for _, e := range ses.Manifest().Streams {
		if e.Form != rig.Waveform {
			j.readings[e.Channel] = &readings{}
		}
	}
	err := ses.Journal(func(p line.Point) error {
		if p.Measurement == "anchor" {
			frame, _ := p.Field("frame").Int()
			atS, ok := p.Field("t_s").Float()
			if c := rig.Channel(p.Tag("channel")); ok {
				j.anchors[c] = append(j.anchors[c], part{frame, atS})
			}
			return nil
		}
		r := j.readings[rig.Channel(p.Measurement)]
		if r == nil {
			return nil
		}
		atS, timed := p.Field("t_s").Float()
		for _, f := range p.Fields { // the one that is neither time nor mark is the value
			if v, ok := f.Value.Float(); ok && timed && f.Key != "t_s" {
				if k := len(r.at) - 1; k < 0 || atS >= r.at[k] {
					r.at, r.v = append(r.at, atS), append(r.v, v)
				}
				break
			}
		}
		return nil
	})
	return j, err
}

// leastSilenceS is the least time without a reading that counts as a gap, whatever the pace, s. It is that
// of the analysis, as is ten times the usual step.
const leastSilenceS = 2.5

// points makes a series of readings. Levels become mean squares.
func (r *readings) points(level bool) points {
	var p points
	usual := 0.0 // s between two
	for i, atS := range r.at {
		if d := atS - r.at[max(i-1, 0)]; i > 1 && d-usual > max(leastSilenceS, 10*usual) {
			p.gap(r.at[i-1]+usual, atS)
		} else if i > 0 {
			usual += (d - usual) / float64(min(i, 20))
		}
		v := r.v[i]
		if level {
			v = sound.MeanSquarePa2(v)
		}
		if !math.IsNaN(v) {
			p.add(atS, float32(v), float32(v), float32(v))
		}
	}
	return p
}

func milli(v float64) float64 { return math.Round(v*1000) / 1000 }
