package align

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"quern/rig"
)

// JSON writes an alignment as one object: times to 0.1 ms, drift to 0.01 millionths.
func JSON(w io.Writer, a Alignment) error {
	to := func(v, by float64) float64 { return math.Round(v*by)/by + 0 } // no negative zero
	a.OffsetS, a.DriftPPM, a.WithinS = to(a.OffsetS, 1e4), to(a.DriftPPM, 1e2), math.Ceil(a.WithinS*1e4)/1e4
	a.Overlap = [2]float64{to(a.Overlap[0], 1e3), to(a.Overlap[1], 1e3)}
	a.CameraS = to(a.CameraS, 1e3)
	if a.Confidence != nil {
		c := math.Floor(*a.Confidence*1e4) / 1e4
		a.Confidence = &c
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(a)
}

// Read reads what JSON wrote; name is what errors call the file. Errors are *rig.FileError.
func Read(text []byte, name string) (Alignment, error) {
	var a Alignment
	fail := func(found, want string, err error) (Alignment, error) {
		return Alignment{}, &rig.FileError{File: name, Byte: -1, Found: found, Want: want, Do: "make it with 'quern align CAMERA.wav SESSION --out FILE.json'", Err: err}
	}
	d := json.NewDecoder(bytes.NewReader(text))
	if err := d.Decode(&a); err != nil {
		return fail(fmt.Sprintf("no JSON object (%v)", err), "an alignment", err)
	}
	if d.More() {
		return fail("more than one JSON value", "one alignment", nil)
	}
	switch {
	case a.Method != BySound && a.Method != ByHand:
		return fail(fmt.Sprintf("method %q", a.Method), "an alignment, whose method is sound or hand", nil)
	case !(math.Abs(a.OffsetS) < 1e7):
		return fail(fmt.Sprintf("offset_s %g", a.OffsetS), "seconds of a session", nil)
	case !(math.Abs(a.DriftPPM) <= MostDriftPPM):
		return fail(fmt.Sprintf("drift_ppm %g", a.DriftPPM), fmt.Sprintf("at most %g either way", MostDriftPPM), nil)
	case !(a.CameraS >= 0 && a.CameraS < 1e7):
		return fail(fmt.Sprintf("camera_s %g", a.CameraS), "the length of a recording", nil)
	}
	a.OffsetS, a.DriftPPM = a.OffsetS+0, a.DriftPPM+0 // no negative zero
	return a, nil
}
