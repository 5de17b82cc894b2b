package session

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"

	"quern/rig"
	"quern/rig/line"
)

// points reads the points of one measurement, one after the other.
type points struct {
	journal     *journal
	measurement string
	batch       batch
}

func (s *Session) points(measurement string) (*points, error) {
	j, err := s.openJournal()
	if err != nil {
		return nil, err
	}
	return &points{journal: j, measurement: measurement}, nil
}

// text returns the next line of the measurement and its number, and io.EOF after the last.
func (p *points) text() ([]byte, int, error) {
	for {
		text, number, ok := p.batch.cut()
		if !ok {
			var err error
			if p.batch, err = p.journal.next(); err != nil {
				return nil, 0, err
			}
			continue
		}
		if isOf(text, p.measurement) {
			return text, number, nil
		}
	}
}

// next returns the point of the next line.
func (p *points) next() (line.Point, int, error) {
	text, number, err := p.text()
	if err != nil {
		return line.Point{}, 0, err
	}
	pt, err := p.parse(text, number)
	return pt, number, err
}

func (p *points) parse(text []byte, number int) (line.Point, error) {
	pt, err := line.Parse(text)
	if err != nil {
		return pt, line.Fault(p.journal.name, number, err)
	}
	return pt, nil
}

// isOf tells whether a line of the journal is of the measurement, without reading all of it.
func isOf(text []byte, measurement string) bool {
	n := len(measurement)
	return len(text) > n && string(text[:n]) == measurement && (text[n] == ',' || text[n] == ' ')
}

// readingFeed reads the readings of a channel from the journal.
type readingFeed struct {
	channel  rig.Channel
	field    string
	points   *points
	usual    []byte // how a line of this channel begins, up to the value
	ahead    rig.Reading
	waiting  bool // ahead holds one
	ended    bool
	readings []rig.Reading
}

func (f *readingFeed) peek() error {
	if f.waiting || f.ended {
		return nil
	}
	text, number, err := f.points.text()
	if err == io.EOF {
		f.ended = true
		return nil
	}
	if err != nil {
		return err
	}
	if f.ahead, f.waiting = quickReading(text, f.usual); f.waiting {
		return nil
	}
	p, err := f.points.parse(text, number)
	if err != nil {
		return err
	}
	if f.ahead, err = readReading(p, f.field); err != nil {
		return line.Fault(f.points.journal.name, number, err)
	}
	f.waiting = true
	return nil
}

// quickReading reads a line as the writer writes it, an order of magnitude faster than the codec;
// false: it is written otherwise. Readings are most of a journal, and a replay waits for them.
func quickReading(text, usual []byte) (rig.Reading, bool) {
	var r rig.Reading
	rest, ok := bytes.CutPrefix(text, usual)
	if !ok {
		return r, false
	}
	value, rest, ok := bytes.Cut(rest, []byte(","))
	if !ok {
		return r, false
	}
	if after, yes := bytes.CutPrefix(rest, []byte("stable=true,")); yes {
		r.Stable, rest = rig.Yes, after
	} else if after, no := bytes.CutPrefix(rest, []byte("stable=false,")); no {
		r.Stable, rest = rig.No, after
	}
	rest, ok = bytes.CutPrefix(rest, []byte(timeField+"="))
	if !ok {
		return r, false
	}
	atS, _, ok := bytes.Cut(rest, []byte(" "))
	if !ok {
		return r, false
	}
	var err1, err2 error
	r.Value, err1 = strconv.ParseFloat(string(value), 64)
	r.AtS, err2 = strconv.ParseFloat(string(atS), 64)
	// What is no finite number is for the codec to refuse.
	return r, err1 == nil && err2 == nil && !math.IsNaN(r.Value-r.Value) && !math.IsNaN(r.AtS-r.AtS)
}

func (f *readingFeed) startS() (float64, bool, error) {
	err := f.peek()
	return f.ahead.AtS, f.waiting, err
}

func (f *readingFeed) block() (rig.Block, error) {
	f.readings = f.readings[:0]
	for {
		if err := f.peek(); err != nil {
			return rig.Block{}, err
		}
		if !f.waiting || len(f.readings) > 0 && f.ahead.AtS >= f.readings[0].AtS+blockS || len(f.readings) >= maxReadings {
			return rig.Block{Channel: f.channel, Readings: f.readings}, nil
		}
		f.readings = append(f.readings, f.ahead)
		f.waiting = false
	}
}

// maxReadings bounds a block of readings that share one instant; real ones are a handful.
const maxReadings = 4096

func (f *readingFeed) Close() error { return f.points.journal.Close() }

// anchors reads the anchors of one channel.
type anchors struct {
	channel string
	points  *points
}

// next returns the next anchor, or false at the end.
func (a *anchors) next() (anchor, bool, error) {
	for {
		p, number, err := a.points.next()
		if err == io.EOF {
			return anchor{}, false, nil
		}
		if err != nil {
			return anchor{}, false, err
		}
		if p.Tag("channel") != a.channel {
			continue
		}
		frame, counted := p.Field("frame").Int()
		atS, timed := p.Field(timeField).Float()
		if !counted || !timed || frame < 0 {
			return anchor{}, false, line.Fault(a.points.journal.name, number, fmt.Errorf("an anchor without frame or %s", timeField))
		}
		return anchor{frame: frame, atS: atS}, true, nil
	}
}
