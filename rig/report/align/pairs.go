package align

import (
	"fmt"
	"strconv"
	"strings"

	"quern/rig/report/timecode"
)

// ReadPairs reads instants that a person read off the footage, each as CAMERA=SESSION: seconds or a clock's time on both
// sides; of the camera also time code at a frame rate, of which start is the first picture's frame; of the session
// also "slate", "slate.2" and so on, instants that slates hold, s. Errors tell what was found and what may stand there.
func ReadPairs(texts []string, rate timecode.Rate, start int64, slates []float64) ([]Pair, error) {
	pairs := make([]Pair, 0, len(texts))
	for _, text := range texts {
		camera, at, ok := strings.Cut(text, "=")
		if !ok {
			return nil, fmt.Errorf("found %q, expected CAMERA=SESSION, such as 0:12.40=slate", text)
		}
		var p Pair
		var err error
		if p.CameraS, err = cameraTime(camera, rate, start); err != nil {
			return nil, err
		}
		if which, slate := strings.CutPrefix(at, "slate"); slate {
			p.SessionS, err = slateTime(text, which, slates)
		} else {
			p.SessionS, err = timecode.ParseTime(at)
		}
		if err != nil {
			return nil, err
		}
		pairs = append(pairs, p)
	}
	return pairs, nil
}

func cameraTime(s string, rate timecode.Rate, start int64) (float64, error) {
	if strings.Count(s, ":")+strings.Count(s, ";") != 3 {
		return timecode.ParseTime(s)
	}
	frame, err := rate.ParseCode(s)
	return float64(frame-start) / rate.PerSecond(), err
}

// slateTime returns the instant of the slate that text names by what stands after the word.
func slateTime(text, which string, slates []float64) (float64, error) {
	n := 1
	if which != "" {
		var err error
		if n, err = strconv.Atoi(strings.TrimPrefix(which, ".")); err != nil || which[0] != '.' {
			return 0, fmt.Errorf("found %q, expected slate, slate.2 and so on", text)
		}
	}
	if len(slates) == 0 {
		return 0, fmt.Errorf("found %q, but the session has no slate: give the session's time instead, such as 84.2; a slate is the flash and tone of the on-camera page", text)
	}
	if n < 1 || n > len(slates) {
		return 0, fmt.Errorf("found %q, but the session has %d slate(s)", text, len(slates))
	}
	return slates[n-1], nil
}
