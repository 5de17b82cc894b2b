package export

import (
	"fmt"
	"io"

	"quern/detect"
	"quern/rig"
	"quern/rig/intact"
	"quern/rig/report/series"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// Stretch is what of a session is to be heard.
type Stretch struct {
	Dir     string
	Run     int     // from 1; 0: the whole session
	Channel string  // of series: series.Waveform, series.Current, series.Extra and a channel
	MarginS float64 // before and after the run, as far as there is something
}

// WAV writes a stretch of a recording into the file out, in the encoding of the recording, bit for bit; gaps are
// silent. The file appears whole or not at all. It returns from when to when the stretch lasts.
func WAV(out string, o Stretch) (fromS, toS float64, err error) {
	s, err := series.OpenRecordings(o.Dir)
	if err != nil {
		return 0, 0, err
	}
	defer s.Close()
	fromS, toS = 0, s.Seconds()
	if o.Run > 0 {
		res, err := detected(s)
		if err != nil {
			return 0, 0, err
		}
		if o.Run > len(res.Runs) {
			return 0, 0, &rig.FileError{File: o.Dir, Byte: -1, Found: rig.Count(len(res.Runs), "run"), Want: fmt.Sprintf("run %d", o.Run), Do: "see its runs with 'quern replay'"}
		}
		r := res.Runs[o.Run-1]
		if !r.StartS.OK || !r.EndS.OK {
			return 0, 0, &rig.FileError{File: o.Dir, Byte: -1, Found: fmt.Sprintf("run %d without a start or an end", o.Run), Want: "both", Do: "take the whole session"}
		}
		fromS, toS = max(0, r.StartS.V-o.MarginS), min(toS, r.EndS.V+o.MarginS)
	}
	c, err := s.Excerpt(o.Channel, fromS, toS)
	if err != nil {
		return 0, 0, err
	}
	return fromS, toS, intact.File(out, 0o644, func(w io.Writer) error {
		_, err := io.Copy(w, c)
		return err
	})
}

// detected returns the runs of a session under its own settings: as they were kept, or found again.
func detected(s *series.Session) (rig.Result, error) {
	set := s.Setup().ForAnalysis()
	if a, err := session.LoadAnalysis(s.Dir(), session.AnalysisKey(set)); err == nil {
		return a.Result, nil
	}
	return replay.Analyse(s.Recorded(), set, detect.Trace{}, nil)
}
