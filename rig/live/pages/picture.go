package pages

import (
	"bytes"
	"fmt"
	"net/http"
	"path/filepath"
	"strconv"

	"quern/detect"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// keptPictures is how many drawn sessions are kept.
const keptPictures = 8

// Picture serves the ribbon picture of a session, or of one run (?run=2), as SVG.
func (c *Catalogue) Picture(w http.ResponseWriter, req *http.Request) {
	r, _ := c.current(req.Context())
	var rec *rig.Record
	if r != nil {
		rec = r.record(req.PathValue("name"))
	}
	if rec == nil || rec.Origin == rig.ByHand {
		http.Error(w, "there is no recording of that name to draw", http.StatusNotFound)
		return
	}
	run := 0
	if s := req.URL.Query().Get("run"); s != "" {
		var err error
		if run, err = strconv.Atoi(s); err != nil || run < 1 || run > len(rec.Result.Runs) {
			http.Error(w, "there is no such run", http.StatusNotFound)
			return
		}
	}
	svg, err := c.picture(rec, run-1)
	if err != nil {
		c.log.Warn("a session could not be drawn", "session", rec.Session, "err", err)
		http.Error(w, "the session could not be drawn", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "private, max-age=60")
	_, _ = w.Write(svg) // whoever has gone does not need it
}

func (c *Catalogue) picture(rec *rig.Record, run int) ([]byte, error) {
	key := fmt.Sprint(rec.Session, " ", rec.Settings, " ", run)
	if svg, ok := c.pictures.get(key); ok {
		return svg, nil
	}
	c.drawing.Lock() // one at a time: each goes through a whole recording
	defer c.drawing.Unlock()
	if svg, ok := c.pictures.get(key); ok {
		return svg, nil
	}
	ses, err := session.Open(filepath.Join(c.dir, rec.Session))
	if err != nil {
		return nil, err
	}
	set := ses.Setup()
	var level, top, current, mass report.Thin
	if _, err := replay.Analyse(ses, set, detect.Trace{
		Level:   func(at, la, lf float64) { level.Add(at, la); top.Add(at, lf) },
		Current: current.Add, Mass: mass.Add,
	}, nil); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = report.Draw(&b, "svg", report.Picture{Result: *c.result(rec), Run: run, Level: level.Series(), LevelMax: top.Series(),
		Current: current.Series(), Mass: mass.Series(), LimitS: set.Procedure.TimeLimitS})
	if err != nil {
		return nil, err
	}
	c.pictures.put(key, b.Bytes(), keptPictures)
	return b.Bytes(), nil
}
