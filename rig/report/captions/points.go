package captions

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/report/timecode"
)

// object is one of OpenTimelineIO; encoding/json writes its keys in order.
type object map[string]any

func timeAt(r timecode.Rate, frames int64) object {
	return object{"OTIO_SCHEMA": "RationalTime.1", "rate": r.PerSecond(), "value": float64(frames)}
}

func stretch(r timecode.Rate, from, frames int64) object {
	return object{"OTIO_SCHEMA": "TimeRange.1", "start_time": timeAt(r, from), "duration": timeAt(r, frames)}
}

// Timeline writes the edit points in OpenTimelineIO's JSON: one clip, which is the footage, with a marker at
// every event, in the clip's own time code. Clip.1 is read by every version of the format's library.
func (s *Shot) Timeline(w io.Writer) error {
	_, toS := s.span()
	length := max(1, s.Rate.Nearest(toS))
	whole := stretch(s.Rate, s.Start, length)
	media := object{"OTIO_SCHEMA": "MissingReference.1", "name": "", "metadata": object{}, "available_range": whole}
	if s.File != "" {
		media["OTIO_SCHEMA"], media["target_url"] = "ExternalReference.1", s.veiled(s.File)
	}
	markers := []object{}
	for _, h := range s.happenings() {
		at := s.frameOf(h.atS)
		markers = append(markers, object{
			"OTIO_SCHEMA": "Marker.2", "name": upper(eventWords(h.Event)), "color": colour(h.Kind), "comment": s.veiled(h.Evidence),
			"marked_range": stretch(s.Rate, s.Start+at, max(1, s.frameOf(h.untilS)-at)),
			"metadata": object{"quern": object{"run": h.run, "event": h.Kind, "session_s": h.AtS, "within_s": h.WithinS, "sure": h.Sure,
				"time_code": s.Rate.Code(s.Start + at)}},
		})
	}
	item := func(schema, name string) object {
		return object{"OTIO_SCHEMA": schema, "name": name, "metadata": object{}, "source_range": nil, "effects": []any{}, "markers": []any{}, "enabled": true}
	}
	name := s.veiled(s.Result.Session)
	clip := item("Clip.1", name)
	clip["source_range"], clip["media_reference"], clip["markers"] = whole, media, markers
	track := item("Track.1", "footage")
	track["kind"], track["children"] = "Video", []object{clip}
	stack := item("Stack.1", "tracks")
	stack["children"] = []object{track}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(object{"OTIO_SCHEMA": "Timeline.1", "name": name, "global_start_time": timeAt(s.Rate, s.Start), "tracks": stack,
		"metadata": object{"quern": object{"session": name, "unit": s.veiled(s.Unit), "frame_rate": s.Rate.Name, "offset_s": s.Camera.OffsetS, "drift_ppm": s.Camera.DriftPPM}}})
}

// frameOf returns the frame that shows an instant of the camera's clock, inside the footage.
func (s *Shot) frameOf(atS float64) int64 { return max(0, s.Rate.Nearest(atS)) }

// colour is one of the format's names for colours; editors show it, and the words say the same.
func colour(k rig.Kind) string {
	switch k {
	case rig.MotorStart, rig.MotorStop:
		return "WHITE"
	case rig.StallStart, rig.StallEnd, rig.OverloadStart, rig.OverloadEnd:
		return "ORANGE"
	case rig.Trip:
		return "MAGENTA"
	case rig.LoadEnd:
		return "CYAN"
	}
	return "BLUE"
}

// PointColumns are those of the table of edit points.
var PointColumns = []string{"time_code", "frame", "frame_rate", "camera_s", "session_s", "within_s", "sure", "run", "event", "words", "until_time_code", "evidence"}

// Table writes the edit points as CSV: one row an event, frames counted from the footage's first picture, an
// absent value as an empty cell. No cell begins with what a spreadsheet takes for a formula.
func (s *Shot) Table(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write(PointColumns); err != nil {
		return err
	}
	figure := func(f rig.Figure, decimals int) string {
		if !f.OK {
			return ""
		}
		return strconv.FormatFloat(f.V, 'f', decimals, 64)
	}
	for _, h := range s.happenings() {
		at := s.frameOf(h.atS)
		until := ""
		if h.untilS > h.atS {
			until = s.Rate.Code(s.Start + s.frameOf(h.untilS))
		}
		if err := c.Write([]string{s.Rate.Code(s.Start + at), fmt.Sprint(at), s.Rate.Name, strconv.FormatFloat(h.atS, 'f', 3, 64), figure(h.AtS, 3),
			figure(h.WithinS, 3), figure(h.Sure, 2), fmt.Sprint(h.run), cell(string(h.Kind)), cell(eventWords(h.Event)), until, cell(s.veiled(h.Evidence))}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// formulas are what a spreadsheet takes for the beginning of a formula, in their wide forms too.
const formulas = "=+-@\uff1d\uff0b\uff0d\uff20"

// cell makes text one that no spreadsheet reckons with.
func cell(s string) string {
	s = plain(s)
	if r, n := utf8.DecodeRuneInString(s); n > 0 && strings.ContainsRune(formulas, r) {
		return "'" + s
	}
	return s
}
