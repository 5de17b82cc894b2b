package pages

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"

	"quern/rig/live/web"
)

// assets are the pages' scripts and styles by name, compressed once.
type assets map[string]asset

type asset struct {
	kind         string // of its content
	hash         string
	plain, small []byte
}

var kinds = map[string]string{".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".txt": "text/plain; charset=utf-8", ".svg": "image/svg+xml"}

func readAssets() (assets, error) {
	all := assets{}
	for _, name := range web.Names() {
		kind, ok := kinds[path.Ext(name)]
		if !ok {
			continue
		}
		b, err := fs.ReadFile(web.Assets(), name)
		if err != nil {
			return nil, err
		}
		var small bytes.Buffer
		z, err := gzip.NewWriterLevel(&small, gzip.BestCompression)
		if err == nil {
			_, err = z.Write(b)
		}
		if err == nil {
			err = z.Close()
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		sum := sha256.Sum256(b)
		all[name] = asset{kind, hex.EncodeToString(sum[:6]), b, small.Bytes()}
	}
	return all, nil
}

// url returns the address of a file, which changes with its content; "": there is no such file.
func (a assets) url(name string) string {
	f, ok := a[name]
	if !ok {
		return ""
	}
	return "/assets/" + name + "?h=" + f.hash
}

func (a assets) serve(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	f, ok := a[name]
	if !ok {
		http.Error(w, "there is no such file", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("Vary", "Accept-Encoding")
	h.Set("ETag", `"`+f.hash+`"`)
	h.Set("Cache-Control", "no-cache")
	if r.URL.Query().Get("h") == f.hash || strings.HasPrefix(name, "part-") { // the name of a part has its own hash
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	if r.Header.Get("If-None-Match") == `"`+f.hash+`"` {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	b := f.plain
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		b = f.small
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("Content-Length", strconv.Itoa(len(b)))
	_, _ = w.Write(b) // whoever has gone does not need it
}
