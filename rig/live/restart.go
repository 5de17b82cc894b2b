package live

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"

	"quern/rig"
	"quern/rig/session"
)

// RecoverAll recovers and seals every session of a folder that a loss of power or a crash cut off, and returns their
// folders. A session that cannot be recovered is told and left as it is. They are not analysed: that takes many times
// longer, a bench that has its power back must not wait for it, and the pages see to it in the meantime.
func RecoverAll(dir string, log *slog.Logger) ([]string, error) {
	for _, name := range session.ClearUnfinished(dir) {
		log.Warn("removed what an import that was cut off had left; what it was copying is where it was", "folder", name)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("the sessions' folder: %w", err)
	}
	var out []string
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
		err = recoverOne(at)
		if session.Recorded(err) {
			log.Error("another program records a session here at this moment; it is left alone", "session", en.Name())
			continue
		}
		if err != nil {
			log.Error("an interrupted session cannot be recovered; it is left as it is", "session", en.Name(), "err", err)
			continue
		}
		log.Warn("an interrupted session was recovered and sealed", "session", en.Name())
		out = append(out, at)
	}
	return out, nil
}

func recoverOne(dir string) error {
	endS, err := lengthS(dir)
	if err != nil {
		return err
	}
	return session.Seal(dir, rig.Warning{Code: "cut-off", Text: fmt.Sprintf("the recording was cut off at %.2f s, by a loss of power or a crash", endS)})
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
