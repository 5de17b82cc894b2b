package session

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"quern/rig"
	"quern/rig/line"
)

// Measurements of the journal beside the channels' own names.
const (
	anchorName     = "anchor"     // frame FRAME of a waveform is at t_s; a stream without one begins at 0 s
	eventName      = "event"      // what happened, tag kind
	markName       = "mark"       // what a person had to say
	weighingName   = "weighing"   // a mass with its evidence, tags role, item and vessel
	checkName      = "check"      // an instrument or a condition against what it should be, tag kind
	correctionName = "correction" // what a person says against the record
)

func reserved(measurement string) bool {
	switch measurement {
	case anchorName, eventName, markName, weighingName, checkName, correctionName:
		return true
	}
	return false
}

// timeField holds the exact time in seconds from the session's start. The line's own time is the
// same in nanoseconds of wall time, which is what engines want, but rounded.
const timeField = "t_s"

// Named is a figure with its name, which ends in its unit: "laeq_db".
type Named struct {
	Name   string
	Figure rig.Figure
}

// stamper makes points that belong to one session.
type stamper struct {
	startNs int64
	tags    []line.Tag // of every point, sorted
}

func newStamper(m Manifest) stamper {
	s := stamper{startNs: m.Started.UnixNano()}
	for _, t := range []line.Tag{{Key: "bench", Value: m.Bench}, {Key: "procedure", Value: m.Procedure}, {Key: "unit", Value: m.Unit}} {
		if t.Value != "" {
			s.tags = append(s.tags, t)
		}
	}
	return s
}

// point returns a point at atS with the session's tags and those of extra that are not empty.
func (s stamper) point(measurement string, atS float64, extra []line.Tag, fields []line.Field) (line.Point, error) {
	if !(atS >= 0 && atS < maxAtS) || s.startNs > math.MaxInt64-int64(math.Round(atS*1e9)) {
		return line.Point{}, fmt.Errorf("%s at %v s, expected a time from the session's start", measurement, atS)
	}
	return s.stamped(measurement, s.startNs+int64(math.Round(atS*1e9)), atS, extra, fields), nil
}

// stamped returns a point at an instant, ns since 1970 and s from the session's start.
func (s stamper) stamped(measurement string, ns int64, atS float64, extra []line.Tag, fields []line.Field) line.Point {
	p := line.Point{Measurement: measurement, Tags: s.tags, Time: ns, Timed: true}
	for _, t := range extra {
		if t.Value != "" {
			p.Tags = append(slices.Clip(p.Tags), t)
		}
	}
	if len(p.Tags) > len(s.tags) {
		slices.SortFunc(p.Tags, func(a, b line.Tag) int { return cmp.Compare(a.Key, b.Key) })
	}
	p.Fields = append(fields, line.Field{Key: timeField, Value: line.FloatValue(atS)})
	return p
}

func runTag(run int) line.Tag {
	if run <= 0 {
		return line.Tag{}
	}
	return line.Tag{Key: "run", Value: strconv.Itoa(run)}
}

// readingField returns the name of the field that holds a reading of the stream.
func readingField(s rig.Stream) (string, error) {
	switch {
	case s.Form == rig.RMS && s.Unit == rig.Ampere:
		return "rms_a", nil
	case s.Form == rig.Mass && s.Unit == rig.Gram:
		return "mass_g", nil
	case s.Form == rig.Level && s.Unit == rig.Decibel:
		return "laf_db", nil
	case s.Form == rig.Value:
		if end := valueEnd(s.Unit); end != "" {
			return "value_" + end, nil
		}
	}
	return "", fmt.Errorf("form %q in unit %q of %q, which no session holds", s.Form, s.Unit, s.Channel)
}

// valueEnd is how a unit stands at the end of a field's name.
func valueEnd(u rig.Unit) string {
	switch u {
	case "degC", "V", "A", "W", "Hz", "kPa", "percent", "rpm":
		return strings.ToLower(string(u))
	case "L/min":
		return "l_per_min"
	}
	return ""
}

func (s stamper) reading(stream rig.Stream, field string, r rig.Reading) (line.Point, error) {
	fields := make([]line.Field, 0, 3)
	fields = append(fields, line.Field{Key: field, Value: line.FloatValue(r.Value)})
	if r.Stable != rig.Unsaid {
		fields = append(fields, line.Field{Key: "stable", Value: line.BoolValue(r.Stable == rig.Yes)})
	}
	return s.point(string(stream.Channel), r.AtS, nil, fields)
}

// beginning returns how the lines of a stream's readings begin, up to the value.
func (s stamper) beginning(stream rig.Stream, field string) []byte {
	p, err := s.reading(stream, field, rig.Reading{})
	var text []byte
	if err == nil {
		text, err = line.Append(nil, p)
	}
	// The space before the fields is the only one that no backslash precedes, but that of the time.
	mark := []byte(" " + field + "=")
	i := bytes.Index(text, mark)
	if err != nil || i < 0 {
		return nil
	}
	return text[:i+len(mark)]
}

// readReading is the inverse of reading.
func readReading(p line.Point, field string) (rig.Reading, error) {
	var r rig.Reading
	var timed, valued bool
	r.AtS, timed = p.Field(timeField).Float()
	r.Value, valued = p.Field(field).Float()
	if !timed || !valued {
		return r, fmt.Errorf("a reading without %s or %s", field, timeField)
	}
	if yes, ok := p.Field("stable").Bool(); ok && yes {
		r.Stable = rig.Yes
	} else if ok {
		r.Stable = rig.No
	}
	return r, nil
}

func (s stamper) anchor(c rig.Channel, frame int64, atS float64) (line.Point, error) {
	return s.point(anchorName, atS, []line.Tag{{Key: "channel", Value: string(c)}},
		[]line.Field{{Key: "frame", Value: line.IntValue(frame)}})
}

func (s stamper) event(run int, e rig.Event) (line.Point, error) {
	if !e.AtS.OK {
		return line.Point{}, errors.New("an event without its instant")
	}
	fields := figures(Named{"within_s", e.WithinS}, Named{"sure", e.Sure})
	if e.Evidence != "" {
		fields = append(fields, line.Field{Key: "evidence", Value: line.StringValue(e.Evidence)})
	}
	return s.point(eventName, e.AtS.V, []line.Tag{{Key: "kind", Value: string(e.Kind)}, runTag(run)}, fields)
}

// figures returns the fields of the figures that are present.
func figures(all ...Named) []line.Field {
	var out []line.Field
	for _, n := range all {
		if n.Figure.OK {
			out = append(out, line.Field{Key: n.Name, Value: line.FloatValue(n.Figure.V)})
		}
	}
	return out
}

// heading is the comment on top of a journal, for whoever opens it without this program.
func heading(m Manifest) string {
	return fmt.Sprintf("# Journal of one session in line protocol. 0 s is %s.\n"+
		"# t_s counts seconds from there; the last number of a line is the same in nanoseconds since 1970.\n",
		m.Started.UTC().Format(time.RFC3339Nano))
}
