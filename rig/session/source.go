package session

import (
	"io"

	"quern/rig"
	"quern/rig/line"
)

// blockS is how much of a stream one block holds at most, in seconds.
const blockS = 0.25

// Source delivers what a session recorded, in order of time, in blocks of at most a quarter of a
// second. It holds one block a stream, however long the session is. It is a rig.Source.
type Source struct {
	streams []rig.Stream
	feeds   []feed
	ahead   []next
}

var _ rig.Source = (*Source)(nil)

// feed is one stream being read.
type feed interface {
	// startS returns the instant of the block that comes next, or false at the end.
	startS() (atS float64, ok bool, err error)
	// block returns it; its slices are valid until the next call.
	block() (rig.Block, error)
	Close() error
}

// next is when a feed goes on.
type next struct {
	atS   float64
	known bool
	ended bool
}

// Source opens the recordings and the journal for an analysis. It is closed at its end, or by Close.
func (s *Session) Source() (*Source, error) {
	src := &Source{}
	for _, e := range s.manifest.Streams {
		f, err := s.feed(e)
		if err != nil {
			src.Close()
			return nil, err
		}
		src.streams = append(src.streams, e.Stream())
		src.feeds = append(src.feeds, f)
	}
	src.ahead = make([]next, len(src.feeds))
	return src, nil
}

func (s *Session) feed(e StreamEntry) (feed, error) {
	if e.Form == rig.Waveform {
		return s.openWaveform(e)
	}
	field, err := readingField(e.Stream())
	if err != nil {
		return nil, err
	}
	p, err := s.points(string(e.Channel))
	if err != nil {
		return nil, err
	}
	return &readingFeed{channel: e.Channel, field: field, points: p, usual: newStamper(s.manifest).beginning(e.Stream(), field)}, nil
}

// Streams returns the streams of the session, those without any data too.
func (s *Source) Streams() []rig.Stream { return s.streams }

// Next returns the block that begins earliest, and io.EOF after the last.
func (s *Source) Next() (rig.Block, error) {
	first := -1
	for i := range s.ahead {
		a := &s.ahead[i]
		if !a.known {
			atS, ok, err := s.feeds[i].startS()
			if err != nil {
				return rig.Block{}, err
			}
			*a = next{atS: atS, known: true, ended: !ok}
		}
		if !a.ended && (first < 0 || a.atS < s.ahead[first].atS) {
			first = i
		}
	}
	if first < 0 {
		s.Close()
		return rig.Block{}, io.EOF
	}
	s.ahead[first].known = false
	return s.feeds[first].block()
}

// Close closes the files; Next must not be called afterwards.
func (s *Source) Close() error {
	var first error
	for _, f := range s.feeds {
		if err := f.Close(); first == nil {
			first = err
		}
	}
	s.feeds, s.ahead = nil, nil
	return first
}

// Journal calls yield with every point of the journal that proves itself, in the order in which they
// were written. An error of yield ends the reading and is returned.
func (s *Session) Journal(yield func(line.Point) error) error {
	j, err := s.openJournal()
	if err != nil {
		return err
	}
	defer j.Close()
	return j.points(yield)
}

// points calls yield with every point of every good batch.
func (j *journal) points(yield func(line.Point) error) error {
	return j.each(func(b batch) error {
		for {
			text, number, ok := b.cut()
			if !ok {
				return nil
			}
			p, err := line.Parse(text)
			if err == nil {
				err = yield(p)
			} else if err == line.ErrNoPoint {
				err = nil
			} else {
				err = line.Fault(j.name, number, err)
			}
			if err != nil {
				return err
			}
		}
	})
}
