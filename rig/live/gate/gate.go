// Package gate decides who may ask the daemon for what. On the machine itself everybody is an operator; over
// the network a pairing code, which stands on the daemon's console, makes one. It knows nothing of the bench.
//
// Handler comes first and holds for every request: the name the daemon was called by, requests that other
// pages send, headers, bounds. Allow stands before each page and asks what the one who asks may do.
package gate

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"
)

// Role is what somebody may do, from nothing up.
type Role int

const (
	Anyone   Role = iota // has shown nothing
	Viewer               // may watch
	Operator             // may act
	Console              // sits at the machine, or was let in to it: may pair others
)

// Options is what a gate needs.
type Options struct {
	LoopbackOnly    bool     // nobody else is answered
	PairAtConsole   bool     // requests of this machine have to pair as well: a proxy passes others' on
	ViewersMayWatch bool     // whoever has not paired may look, but not act
	Hosts           []string // further names of this machine; addresses, localhost and these with .local are known
	TLS             *tls.Config
	Dir             string // folder in which pairings are kept over a restart; "": they are not
	Log             *slog.Logger
}

// Refusal answers a request that is refused.
type Refusal func(w http.ResponseWriter, r *http.Request, status int, text string)

// Gate is the daemon's front door.
type Gate struct {
	opts  Options
	says  Refusal
	hosts map[string]bool
	store *store
	codes codes
	posts rates // requests that change something, by peer
	tries rates // of codes, by peer
}

// New returns a gate with the pairings of earlier runs. A file of pairings that cannot be read is an error:
// going on without it would forget them all.
func New(o Options) (*Gate, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	plain := func(w http.ResponseWriter, _ *http.Request, status int, text string) { http.Error(w, text, status) }
	g := &Gate{opts: o, says: plain, hosts: map[string]bool{"localhost": true},
		posts: rates{perS: 5, burst: 30}, tries: rates{perS: 1.0 / 15, burst: 5}}
	for _, h := range o.Hosts {
		h = strings.ToLower(strings.TrimSuffix(h, "."))
		g.hosts[h] = true
		if !strings.Contains(h, ".") {
			g.hosts[h+".local"] = true
		}
	}
	var err error
	if g.store, err = openStore(o.Dir); err != nil {
		return nil, err
	}
	return g, nil
}

// Visitor is who asks.
type Visitor struct {
	Role Role
	Name string // as it is to stand in a record; "" of who has not paired
	// Firm says that the name was given when pairing: a request cannot say otherwise.
	Firm bool
}

type visitorKey struct{}

// Who returns who asks.
func Who(ctx context.Context) Visitor {
	v, _ := ctx.Value(visitorKey{}).(Visitor)
	return v
}

// atConsole is the name of who acts at the machine itself and does not say who it is.
const atConsole = "console"

// visitor finds out who asks; ended ends when what makes them that does.
func (g *Gate) visitor(r *http.Request) (v Visitor, ended <-chan struct{}) {
	if g.local(r) && !g.opts.PairAtConsole {
		return Visitor{Role: Console, Name: atConsole}, nil
	}
	if c, err := r.Cookie(g.cookieName()); err == nil {
		if p, ok := g.store.find(c.Value, time.Now()); ok {
			return Visitor{Role: Operator, Name: p.Who, Firm: true}, p.ended
		}
	}
	if g.local(r) || g.opts.ViewersMayWatch {
		return Visitor{Role: Viewer}, nil
	}
	return Visitor{}, nil
}

// RefuseBy has refusals answered by f in place of plain text. It comes before the first request.
func (g *Gate) RefuseBy(f Refusal) { g.says = f }

// Handler stands before everything.
func (g *Gate) Handler(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		g.says(w, r, http.StatusForbidden, "this request comes from a page of somebody else")
	}))
	inner := cross.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !changesNothing(r.Method) && !g.posts.take(peer(r), time.Now()) {
			w.Header().Set("Retry-After", "1")
			g.says(w, r, http.StatusTooManyRequests, "too many acts at once: wait a second")
			return
		}
		if !g.bound(w, r) {
			return
		}
		v, ended := g.visitor(r)
		ctx, cancel := context.WithCancel(context.WithValue(r.Context(), visitorKey{}, v))
		defer cancel()
		if ended != nil { // a stream that was let in ends with the pairing
			go func() {
				select {
				case <-ended:
					cancel()
				case <-ctx.Done():
				}
			}()
		}
		next.ServeHTTP(w, r.WithContext(ctx))
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		setHeaders(w.Header())
		switch {
		case g.opts.LoopbackOnly && !loopback(r.RemoteAddr):
			g.says(w, r, http.StatusForbidden, "this daemon answers only its own machine")
		case !g.known(r.Host):
			g.opts.Log.Warn("called by a name that is not the daemon's", "host", r.Host, "peer", r.RemoteAddr)
			g.says(w, r, http.StatusForbidden, "this name is not one of the daemon's: use its address, or name it with --host")
		default:
			inner.ServeHTTP(w, r)
		}
	})
}

// Allow lets those pass that have at least the role.
func (g *Gate) Allow(least Role, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := Who(r.Context())
		switch {
		case v.Role >= least:
			next.ServeHTTP(w, r)
		case least == Console:
			g.says(w, r, http.StatusForbidden, "this is for the machine of the daemon alone: run quern pair there")
		case changesNothing(r.Method) && strings.Contains(r.Header.Get("Accept"), "text/html"):
			http.Redirect(w, r, "/pair", http.StatusSeeOther)
		case least == Operator:
			g.says(w, r, http.StatusForbidden, "only an operator may do this: pair first, at /pair")
		default:
			g.says(w, r, http.StatusUnauthorized, "nobody may watch before pairing, at /pair")
		}
	})
}

func changesNothing(method string) bool {
	return method == http.MethodGet || method == http.MethodHead || method == http.MethodOptions
}

// local says that a request was sent on this machine, to this machine, by nobody who passes it on.
func (g *Gate) local(r *http.Request) bool {
	host := hostOf(r.Host)
	ip := net.ParseIP(host)
	for _, h := range []string{"Forwarded", "X-Forwarded-For", "X-Real-Ip", "Via"} {
		if r.Header.Get(h) != "" {
			return false
		}
	}
	return loopback(r.RemoteAddr) && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// known says whether a name is one of the daemon's, so that no page elsewhere can reach it by pointing its
// own name here. An address needs no name service and cannot be pointed elsewhere.
func (g *Gate) known(hostport string) bool {
	host := hostOf(hostport)
	return net.ParseIP(host) != nil || g.hosts[strings.ToLower(strings.TrimSuffix(host, "."))]
}

func hostOf(hostport string) string {
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		return h
	}
	return strings.Trim(hostport, "[]")
}

func loopback(remote string) bool {
	ip := net.ParseIP(peerOf(remote))
	return ip != nil && ip.IsLoopback()
}

// peer is who is counted as one: an address, or the 64 bits of IPv6 that one subscriber has to himself.
func peer(r *http.Request) string { return peerOf(r.RemoteAddr) }

func peerOf(remote string) string {
	host := hostOf(remote)
	host, _, _ = strings.Cut(host, "%") // the zone of a link-local address
	ip := net.ParseIP(host)
	if ip != nil && ip.To4() == nil && !ip.IsLoopback() {
		return ip.Mask(net.CIDRMask(64, 128)).String()
	}
	if v4 := ip.To4(); v4 != nil {
		return v4.String()
	}
	return host
}

// String names a role.
func (r Role) String() string {
	switch r {
	case Anyone:
		return "anyone"
	case Viewer:
		return "viewer"
	case Operator:
		return "operator"
	case Console:
		return "console"
	}
	return fmt.Sprintf("Role(%d)", int(r))
}
