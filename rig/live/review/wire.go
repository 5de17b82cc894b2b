package review

import (
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
)

func matches(r *http.Request, tag string) bool {
	for _, t := range strings.Split(r.Header.Get("If-None-Match"), ",") {
		if t = strings.TrimPrefix(strings.TrimSpace(t), "W/"); t == tag || t == "*" {
			return true
		}
	}
	return false
}

func unchanged(w http.ResponseWriter, tag, keep string) error {
	w.Header().Set("ETag", tag)
	w.Header().Set("Cache-Control", keep)
	w.Header().Add("Vary", "Accept-Encoding")
	w.WriteHeader(http.StatusNotModified)
	return nil
}

func bodyOf(w http.ResponseWriter, r *http.Request) ([]byte, error) {
	b, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return nil, fault(http.StatusRequestEntityTooLarge, "found a body of more than %d bytes, expected a fact or some lines", mostBody)
	}
	if err != nil {
		return nil, fault(http.StatusBadRequest, "the body could not be read: %s", err)
	}
	return b, nil
}

// sendJSON answers with JSON, compressed where that is wanted and worth it.
func sendJSON(w http.ResponseWriter, r *http.Request, status int, b []byte, tag, keep string) error {
	head := w.Header()
	head.Set("Content-Type", "application/json")
	head.Set("Cache-Control", keep)
	head.Add("Vary", "Accept-Encoding")
	if tag != "" {
		head.Set("ETag", tag)
	}
	if len(b) >= gzipFrom && takesGzip(r) {
		head.Set("Content-Encoding", "gzip")
		w.WriteHeader(status)
		z, _ := gzip.NewWriterLevel(w, gzip.BestSpeed) // the level is right
		_, _ = z.Write(b)                              // whoever has gone does not need it
		_ = z.Close()
		return nil
	}
	head.Set("Content-Length", fmt.Sprint(len(b)))
	w.WriteHeader(status)
	_, _ = w.Write(b) // ditto
	return nil
}

func takesGzip(r *http.Request) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(part, ";")
		if strings.TrimSpace(name) == "gzip" {
			q = strings.ReplaceAll(q, " ", "")
			return q != "q=0" && q != "q=0.0" && q != "q=0.00" && q != "q=0.000"
		}
	}
	return false
}
