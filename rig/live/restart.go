package live

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"quern/rig"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// RecoverAll recovers, seals and analyses every session of a folder that a loss of power or a crash cut
// off, and returns their results; the analyses are kept under the name of the tool. A session that cannot be
// recovered is told and left as it is.
func RecoverAll(dir, tool string, log *slog.Logger) ([]rig.Result, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the sessions' folder: %w", err)
	}
	var out []rig.Result
	for _, en := range entries {
		at := filepath.Join(dir, en.Name())
		if !en.IsDir() || en.Name()[0] == '.' {
			continue
		}
		m, err := session.ReadManifest(at)
		if err != nil {
			log.Error("a session cannot be read; it is left as it is", "session", en.Name(), "err", err)
			continue
		}
		if m.State == session.Sealed {
			continue
		}
		res, err := recoverOne(at, tool)
		if session.Recorded(err) {
			log.Error("another program records a session here at this moment; it is left alone", "session", en.Name())
			continue
		}
		if err != nil {
			log.Error("an interrupted session cannot be recovered; it is left as it is", "session", en.Name(), "err", err)
			continue
		}
		log.Warn("an interrupted session was recovered and sealed", "session", en.Name(), "runs", len(res.Runs))
		out = append(out, res)
	}
	return out, nil
}

func recoverOne(dir, tool string) (rig.Result, error) {
	endS, err := lengthS(dir)
	if err != nil {
		return rig.Result{}, err
	}
	if err := session.Seal(dir, rig.Warning{Code: "cut-off", Text: fmt.Sprintf("the recording was cut off at %.2f s, by a loss of power or a crash", endS)}); err != nil {
		return rig.Result{}, err
	}
	s, err := session.Open(dir)
	if err != nil {
		return rig.Result{}, err
	}
	return replay.Keep(dir, s.Setup().ForAnalysis(), tool, time.Now)
}

// lengthS is the instant of the last thing that was kept.
func lengthS(dir string) (float64, error) {
	s, err := session.Open(dir)
	if err != nil {
		return 0, err
	}
	src, err := s.Source()
	if err != nil {
		return 0, err
	}
	defer src.Close()
	rates := map[rig.Channel]float64{}
	for _, st := range src.Streams() {
		rates[st.Channel] = st.RateHz
	}
	end := 0.0
	for {
		b, err := src.Next()
		if err != nil {
			if err == io.EOF {
				return end, nil
			}
			return 0, err
		}
		at := endOf(b)
		if n := len(b.Samples); n > 0 {
			at += float64(n) / rates[b.Channel]
		}
		end = max(end, at)
	}
}
