package pages

import (
	"context"
	"net/http"
	"time"

	"quern/rig/live/gate"
	"quern/rig/live/review"
)

// record is what the site shows of what was recorded: the list and the standings by the catalogue, a session
// from within by the shelf.
type record struct {
	catalogue *Catalogue
	shelf     *review.Shelf
}

// newRecord opens the record. It has to run, and to be closed once nobody asks any more.
func newRecord(s *Site) *record {
	o := s.opts
	c := NewCatalogue(o.Dir, o.LabDir, o.Tool, o.Zone, time.Now, o.Log)
	c.site = s
	return &record{c, review.New(review.Options{Dir: o.Dir, Tool: o.Tool, Log: o.Log, Lab: c.Lab, Campaign: c.Campaign, Changed: c.Changed,
		Who: func(r *http.Request) (string, bool) {
			v := gate.Who(r.Context())
			return v.Name, v.Firm
		},
		Operator: func(r *http.Request) bool { return gate.Who(r.Context()).Role >= gate.Operator }})}
}

// run reads sessions when asked to, until ctx ends.
func (d *record) run(ctx context.Context) error { return d.catalogue.Run(ctx) }

func (d *record) close() error { return d.shelf.Close() }

func (d *record) pages() []page {
	h := d.shelf.Handler()
	return []page{
		watch("GET /sessions", d.catalogue.Sessions),
		watch("GET /sessions/{name}", d.catalogue.Session),
		watch("GET /sessions/{name}/picture.svg", d.catalogue.Picture),
		watch("GET /sessions/{name}/series", h.ServeHTTP),
		watch("GET /sessions/{name}/result", h.ServeHTTP),
		watch("GET /sessions/{name}/sound.wav", h.ServeHTTP),
		operate("POST /sessions/{name}/facts", h.ServeHTTP),
		operate("POST /sessions/{name}/what-if", h.ServeHTTP), // it takes a core for a while, which may be needed
		watch("GET /standings", d.catalogue.Standings),
	}
}
