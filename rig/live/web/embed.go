// Package web holds the scripts and styles of the pages. Scripts are there once build.mjs has made them; the
// pages do without. Styles are there in any case.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist css
var files embed.FS

// Assets returns the files by their names: operator.js, base.css.
func Assets() fs.FS { return built{} }

type built struct{}

func (built) Open(name string) (fs.File, error) {
	f, err := files.Open("dist/" + name)
	if err == nil || name == "." {
		return f, err
	}
	if f, sourceErr := files.Open("css/" + name); sourceErr == nil {
		return f, nil // not built: as it was written
	}
	return nil, err
}

// Names returns the names of all files.
func Names() []string {
	seen := map[string]bool{".keep": true, ".stamp": true}
	var names []string
	for _, dir := range []string{"dist", "css"} {
		entries, err := files.ReadDir(dir)
		if err != nil {
			continue // embedded by the line above
		}
		for _, e := range entries {
			if !seen[e.Name()] && !e.IsDir() {
				seen[e.Name()] = true
				names = append(names, e.Name())
			}
		}
	}
	return names
}
