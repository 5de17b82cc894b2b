package main

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"quern/config"
	"quern/rig/live/gate"
)

// front is how the daemon is reached, and by whom.
type front struct {
	listen            string
	certFile, keyFile string
	viewers           bool
	given             *pflag.FlagSet
	pairAll           bool
	hosts             []string
}

func (f *front) flags(s *pflag.FlagSet) {
	s.StringVar(&f.listen, "listen", "127.0.0.1:8750", "address to answer on; loopback unless you trust your network")
	s.StringVar(&f.certFile, "tls-cert", "", "certificate, PEM: answer by TLS; with --tls-key")
	s.StringVar(&f.keyFile, "tls-key", "", "its key, PEM")
	s.BoolVar(&f.viewers, "viewers", false, "on the network, whoever has not paired may watch, but not act (default: as [pages] of the lab has it)")
	f.given = s
	s.BoolVar(&f.pairAll, "pair-all", false, "this machine has to pair as well: a proxy on it passes others' requests on")
	s.StringArrayVar(&f.hosts, "host", nil, "a further name by which this machine is called; its own name is known")
}

// of takes over what the lab says and the command line does not; nil: there is no lab.
func (f *front) of(lab *config.Lab) {
	if lab != nil && !f.given.Changed("viewers") {
		f.viewers = lab.Bench.Pages.Viewers
	}
}

// open opens the port and the gate before it. A folder of sessions belongs to one daemon; pages that nobody can pair with
// may be open beside it, and keep no pairings.
func (f *front) open(out string, daemon bool, log *slog.Logger) (net.Listener, *gate.Gate, error) {
	o := gate.Options{PairAtConsole: f.pairAll, ViewersMayWatch: f.viewers, Hosts: f.hosts, Log: log}
	if own, err := os.Hostname(); err == nil {
		o.Hosts = append(o.Hosts, own)
	}
	if (f.certFile == "") != (f.keyFile == "") {
		return nil, nil, usageError{fmt.Errorf("--tls-cert and --tls-key go together; one is missing")}
	}
	if f.certFile != "" {
		pair, err := tls.LoadX509KeyPair(f.certFile, f.keyFile)
		if err != nil {
			return nil, nil, usageError{fmt.Errorf("--tls-cert %s, --tls-key %s: %w", f.certFile, f.keyFile, err)}
		}
		o.TLS = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	}
	l, err := net.Listen("tcp", f.listen)
	if err != nil {
		do := "expected an address such as 127.0.0.1:8750 or :8750"
		if errors.Is(err, syscall.EADDRINUSE) {
			do = "is another daemon running? choose another port with --listen"
		}
		return nil, nil, usageError{fmt.Errorf("--listen %s: %w: %s", f.listen, err, do)}
	}
	if at, ok := l.Addr().(*net.TCPAddr); ok {
		o.LoopbackOnly = at.IP.IsLoopback()
	}
	if daemon || !o.LoopbackOnly || o.PairAtConsole || len(f.hosts) > 0 {
		o.Dir = out
		held, err := gate.Hold(out, l)
		if err != nil {
			_ = l.Close() // the first error tells more
			return nil, nil, usageError{err}
		}
		l = held
	}
	g, err := gate.New(o)
	if err != nil {
		_ = l.Close() // the first error tells more
		return nil, nil, usageError{err}
	}
	if !o.LoopbackOnly || o.PairAtConsole {
		code, until := g.Code()
		log.Info("to act from another device, open /pair there and type the code", "code", code, "until", until.Format(time.TimeOnly))
		if o.TLS == nil && !o.LoopbackOnly {
			log.Warn("whoever listens in on this network can act as an operator does: give --tls-cert and --tls-key where it is not your own")
		}
	}
	return l, g, nil
}
