package review

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"quern/rig/report/series"
)

// Bounds of what is asked for.
const (
	mostColumns   = 4000
	usualColumns  = 1000
	mostSoundS    = 120      // s of sound given at once
	mostViewS     = 1e7      // s; an instant that is asked for
	leastViewS    = 1e-6     // s; a view
	mostBody      = 64 << 10 // bytes
	gzipFrom      = 1400     // bytes: less than one packet is not worth it
	keepFor       = "private, max-age=86400"
	askAgain      = "private, no-cache"
	notKept       = "no-store"
	retryAfter    = "3" // s
	beyondWhatIfS = 10  // s left to write the answer
)

// Handler serves
//
//	GET  /sessions/{name}/series     an envelope: channel, from, to, points; offset or run shift both instants
//	GET  /sessions/{name}/result     Result
//	GET  /sessions/{name}/sound.wav  a stretch of the microphone: from, to
//	POST /sessions/{name}/facts      Addition; answers Added
//	POST /sessions/{name}/what-if    lines of TOML; answers WhatIf
//
// Errors are one line of text. Who may ask at all is for whoever stands before it.
func (h *Shelf) Handler() http.Handler {
	mux := http.NewServeMux()
	serve := func(pattern string, f func(http.ResponseWriter, *http.Request, string) error) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if err := f(w, r, r.PathValue("name")); err != nil {
				h.refuse(w, r, err)
			}
		})
	}
	serve("GET /sessions/{name}/series", h.getSeries)
	serve("GET /sessions/{name}/result", h.getResult)
	serve("GET /sessions/{name}/sound.wav", h.getSound)
	serve("POST /sessions/{name}/facts", h.postFact)
	serve("POST /sessions/{name}/what-if", h.postWhatIf)
	return mux
}

// refuse answers with an error. What is not the asker's is told in the log as well.
func (h *Shelf) refuse(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // nobody listens any more
	}
	if errors.Is(err, context.Canceled) {
		err = fault(http.StatusServiceUnavailable, "the session was closed meanwhile: ask again")
	}
	status := statusOf(err)
	if status == http.StatusInternalServerError {
		h.o.Log.Error("a session could not be told of", "path", r.URL.Path, "err", err)
	}
	head := w.Header()
	for _, k := range []string{"ETag", "Content-Encoding", "Content-Length", "Content-Type"} {
		head.Del(k)
	}
	head.Set("Cache-Control", notKept)
	if status == http.StatusServiceUnavailable {
		head.Set("Retry-After", retryAfter)
	}
	http.Error(w, err.Error(), status)
}

func (h *Shelf) getSeries(w http.ResponseWriter, r *http.Request, name string) error {
	a := ask(r, "channel", "from", "to", "points", "offset", "run")
	channel := a.values.Get("channel")
	if !a.has("channel") {
		a.fail("found no channel, expected channel=level or another of those that the session's result lists")
	}
	points := a.whole("points", 1, mostColumns, usualColumns)
	if a.err != nil {
		return a.err
	}
	return h.with(r.Context(), name, func(s *Session) error {
		fromS, toS, offsetS, err := h.view(r.Context(), a, name, max(s.Seconds(), leastViewS))
		if err != nil {
			return err
		}
		tag := s.tag("series")
		if matches(r, tag) && s.Over() && slices.Contains(s.Channels(), channel) {
			return unchanged(w, tag, keepFor)
		}
		var b []byte
		var progress float64
		if channel == series.ThirdOctaves {
			o, err := s.Octaves(r.Context(), fromS, toS, points)
			if err != nil {
				return err
			}
			o.FromS -= offsetS
			b, progress = appendOctaves(nil, o), o.Progress
		} else {
			e, err := s.Envelope(r.Context(), channel, fromS, toS, points)
			if err != nil {
				return err
			}
			e.FromS -= offsetS
			b, progress = appendEnvelope(nil, e), e.Progress
		}
		if progress < 1 {
			return sendJSON(w, r, http.StatusOK, b, "", notKept)
		}
		return sendJSON(w, r, http.StatusOK, b, tag, keepFor)
	})
}

// tag is the validator of what cannot change while the session is what it is. The address holds the rest.
func (s *Session) tag(what string) string { return `"` + what + "-" + s.Key() + `"` }

func (h *Shelf) getResult(w http.ResponseWriter, r *http.Request, name string) error {
	if a := ask(r); a.err != nil {
		return fault(http.StatusBadRequest, "found parameters, expected none")
	}
	res, err := h.Result(r.Context(), name)
	if err != nil {
		return err
	}
	b, err := encode(res)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(b)
	tag := `"result-` + hex.EncodeToString(sum[:8]) + `"`
	if matches(r, tag) {
		return unchanged(w, tag, askAgain)
	}
	return sendJSON(w, r, http.StatusOK, b, tag, askAgain)
}

func (h *Shelf) getSound(w http.ResponseWriter, r *http.Request, name string) error {
	a := ask(r, "from", "to", "offset", "run")
	for _, p := range []string{"from", "to"} {
		if !a.has(p) {
			a.fail("found no %s, expected the stretch that is to be heard: from=12&to=20", p)
		}
	}
	return h.with(r.Context(), name, func(s *Session) error {
		fromS, toS, _, err := h.view(r.Context(), a, name, s.Seconds())
		if err != nil {
			return err
		}
		switch {
		case !s.Sampled(series.Waveform):
			_, err := s.Clip(series.Waveform, fromS, toS) // it says why not
			return err
		case toS-fromS > mostSoundS+1e-6:
			return fault(http.StatusBadRequest, "found %g s of sound, expected at most %d: ask for a shorter stretch", toS-fromS, mostSoundS)
		case fromS < 0 || toS > s.Seconds()+1:
			return fault(http.StatusBadRequest, "found a stretch from %g to %g s, expected one within the session, 0 to %.3f s", fromS, toS, s.Seconds())
		}
		clip, err := s.Clip(series.Waveform, fromS, toS)
		if err != nil {
			return err
		}
		head := w.Header()
		head.Set("Content-Type", "audio/wav")
		head.Set("Cache-Control", keepFor)
		head.Set("ETag", s.tag("sound"))
		http.ServeContent(w, r, "", time.Time{}, clip)
		return nil
	})
}

func (h *Shelf) postFact(w http.ResponseWriter, r *http.Request, name string) error {
	if h.o.Operator == nil || !h.o.Operator(r) {
		return fault(http.StatusForbidden, "only an operator may put facts on record: pair first, at /pair")
	}
	if t, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); strings.TrimSpace(t) != "application/json" {
		return fault(http.StatusUnsupportedMediaType, "found content type %q, expected application/json", clip40(t))
	}
	body, err := bodyOf(w, r)
	if err != nil {
		return err
	}
	var add Addition
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(&add); err != nil {
		return fault(http.StatusBadRequest, "the body is no fact (%s), expected such as {\"remark\":{\"at_s\":12.5,\"text\":\"a spoon fell in\"}}", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return fault(http.StatusBadRequest, "found something behind the fact, expected one JSON object")
	}
	if h.o.Who != nil {
		if who, firm := h.o.Who(r); firm || add.Who == "" {
			add.Who = who
		}
	}
	done, err := h.Append(r.Context(), name, add)
	if err != nil {
		return err
	}
	b, err := encode(done)
	if err != nil {
		return err
	}
	return sendJSON(w, r, http.StatusCreated, b, "", notKept)
}

func (h *Shelf) postWhatIf(w http.ResponseWriter, r *http.Request, name string) error {
	body, err := bodyOf(w, r)
	if err != nil {
		return err
	}
	// A server's own limits are meant for quick answers; not all writers have one.
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(h.o.WhatIfWithin + beyondWhatIfS*time.Second))
	out, err := h.WhatIf(r.Context(), name, string(body))
	if err != nil {
		return err
	}
	b, err := encode(out)
	if err != nil {
		return err
	}
	return sendJSON(w, r, http.StatusOK, b, "", notKept)
}
