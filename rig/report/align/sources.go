package align

import (
	"fmt"
	"io"

	"quern/rig"
	"quern/rig/wave"
)

// OfWAV returns one channel, counted from 1, of a file that nothing has been read of. Its clock begins at 0.
func OfWAV(r *wave.Reader, channel int) Sound {
	return &ofWAV{r: r, channel: channel, buf: make([]float64, 1<<14)}
}

type ofWAV struct {
	r       *wave.Reader
	channel int
	buf     []float64
	frames  int64
}

func (w *ofWAV) RateHz() float64 { return float64(w.r.Format().RateHz) }

func (w *ofWAV) Next() (float64, []float64, error) {
	n, err := w.r.Read(w.buf, w.channel)
	if err != nil {
		return 0, nil, err
	}
	atS := float64(w.frames) / w.RateHz()
	w.frames += int64(n)
	return atS, w.buf[:n], nil
}

// OfSession returns the microphone of a session's source, which is read to its end. A session without samples
// of a microphone is refused.
func OfSession(src rig.Source) (Sound, error) {
	for _, s := range src.Streams() {
		if s.Channel != rig.Microphone {
			continue
		}
		if s.Form != rig.Waveform {
			return nil, &Refusal{Silent, "the session holds a meter's readings, not the sound itself", "line the footage up by hand, with --at"}
		}
		return &ofSession{src: src, rateHz: s.RateHz}, nil
	}
	return nil, &Refusal{Silent, "the session has no microphone", "line the footage up by hand, with --at"}
}

type ofSession struct {
	src    rig.Source
	rateHz float64
}

func (s *ofSession) RateHz() float64 { return s.rateHz }

func (s *ofSession) Next() (float64, []float64, error) {
	for {
		b, err := s.src.Next()
		switch {
		case err == io.EOF:
			return 0, nil, err
		case err != nil:
			return 0, nil, fmt.Errorf("align: %w", err)
		case b.Channel == rig.Microphone && len(b.Samples) > 0:
			return b.StartS, b.Samples, nil
		}
	}
}
