package review

import (
	"encoding/json"
	"math"
	"strconv"

	"quern/rig"
	"quern/rig/report/series"
)

// appendEnvelope writes an envelope as JSON. Levels have two decimals, all else six digits: more than any
// screen shows.
func appendEnvelope(b []byte, e series.Envelope) []byte {
	b = append(b, `{"channel":`...)
	b = appendString(b, e.Channel)
	b = append(b, `,"unit":`...)
	b = appendString(b, e.Unit)
	b = appendTimes(b, e.FromS, e.FromS+float64(len(e.Min))*e.StepS, e.StepS)
	for _, v := range []struct {
		name   string
		values []float32
	}{{"min", e.Min}, {"max", e.Max}, {"mean", e.Mean}} {
		b = append(b, `,"`...)
		b = append(b, v.name...)
		b = append(b, `":`...)
		b = appendList(b, v.values, e.Unit == string(rig.Decibel), 100)
	}
	return appendProgress(b, e.Progress)
}

// appendOctaves writes a spectrogram as JSON, levels with one decimal.
func appendOctaves(b []byte, o series.Octaves) []byte {
	b = append(b, `{"channel":"`+series.ThirdOctaves+`","unit":"dB","bands_hz":[`...)
	for i, hz := range o.BandsHz {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendFloat(b, hz, 'f', -1, 64)
	}
	b = append(b, ']')
	b = appendTimes(b, o.FromS, o.FromS+float64(len(o.DB))*o.StepS, o.StepS)
	b = append(b, `,"db":[`...)
	for i, column := range o.DB {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendList(b, column, true, 10)
	}
	b = append(b, ']')
	return appendProgress(b, o.Progress)
}

func appendTimes(b []byte, fromS, toS, stepS float64) []byte {
	b = append(b, `,"from_s":`...)
	b = strconv.AppendFloat(b, fromS, 'g', 14, 64)
	b = append(b, `,"to_s":`...)
	b = strconv.AppendFloat(b, toS, 'g', 14, 64)
	b = append(b, `,"step_s":`...)
	return strconv.AppendFloat(b, stepS, 'g', 14, 64)
}

func appendProgress(b []byte, share float64) []byte {
	b = append(b, `,"progress":`...)
	b = strconv.AppendFloat(b, math.Floor(share*1000)/1000, 'f', -1, 64)
	return append(b, "}\n"...)
}

func appendString(b []byte, s string) []byte {
	text, err := json.Marshal(s)
	if err != nil { // no string fails
		return append(b, `""`...)
	}
	return append(b, text...)
}

// appendList writes numbers, null for those that are none; fixed ones in steps of 1/per.
func appendList(b []byte, v []float32, fixed bool, per float64) []byte {
	b = append(b, '[')
	for i, x := range v {
		if i > 0 {
			b = append(b, ',')
		}
		switch {
		case x-x != 0:
			b = append(b, "null"...)
		case x == 0:
			b = append(b, '0')
		case fixed:
			b = appendFixed(b, float64(x), per)
		default:
			b = strconv.AppendFloat(b, float64(x), 'g', 6, 32)
		}
	}
	return append(b, ']')
}

// appendFixed writes a number with the decimals of per, 10 or 100, several times as fast as strconv.
func appendFixed(b []byte, x, per float64) []byte {
	n := int64(math.Round(x * per))
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	p := int64(per)
	b = strconv.AppendInt(b, n/p, 10)
	if n %= p; n != 0 {
		b = append(b, '.')
		if p == 100 {
			b = append(b, byte('0'+n/10))
			n %= 10
			if n == 0 {
				return b
			}
		}
		b = append(b, byte('0'+n))
	}
	return b
}
