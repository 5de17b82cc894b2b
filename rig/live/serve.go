package live

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"quern/config"
)

// stuckAfterS is how long the engine may be busy with one thing before /health says that it hangs, s of
// the sources' time.
const stuckAfterS = 5.0

// healthy says whether the engine still turns.
func (e *Engine) healthy() error {
	e.mu.Lock()
	at := e.tot.publishedS
	e.mu.Unlock()
	if age := e.sup.NowS() - at; age > stuckAfterS {
		return fmt.Errorf("the analysis has not turned for %.1f s", age)
	}
	return nil
}

// Handler serves /metrics, /health, /status and acts (POST /act). lab gives the settings of a choice.
func (e *Engine) Handler(lab *config.Lab) http.Handler {
	reg := prometheus.NewRegistry()
	reg.MustRegister(e.Collector(), collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(reg, promhttp.HandlerOpts{MaxRequestsInFlight: 4, Timeout: 5 * time.Second}))
	mux.HandleFunc("GET /health", func(w http.ResponseWriter, _ *http.Request) {
		if err := e.healthy(); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
		fmt.Fprintln(w, "ok")
	})
	mux.HandleFunc("GET /status", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Cache-Control", "no-store")
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		_ = enc.Encode(e.Now()) // whoever has gone does not need it
	})
	mux.HandleFunc("POST /act", func(w http.ResponseWriter, r *http.Request) { e.act(lab, w, r) })
	guard := http.NewCrossOriginProtection()
	return onlyLocal(guard.Handler(http.MaxBytesHandler(mux, 64<<10)))
}

// Asked is the body of POST /act.
type Asked struct {
	Act       Act    `json:"act"`
	Text      string `json:"text,omitempty"`
	Unit      string `json:"unit,omitempty"`
	Procedure string `json:"procedure,omitempty"`
}

// longestMark is the longest text of a mark, bytes.
const longestMark = 1000

func (e *Engine) act(lab *config.Lab, w http.ResponseWriter, r *http.Request) {
	var a Asked
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&a); err != nil {
		http.Error(w, "the body is no act: "+err.Error(), http.StatusBadRequest)
		return
	}
	ask := Ask{Act: a.Act, Text: strings.Join(strings.Fields(a.Text), " ")}
	switch {
	case a.Act == Mark && ask.Text == "", len(ask.Text) > longestMark:
		http.Error(w, fmt.Sprintf("a mark needs a text of 1 to %d bytes", longestMark), http.StatusBadRequest)
		return
	case a.Act == Choose:
		now := e.Now()
		if a.Unit == "" {
			a.Unit = now.Unit
		}
		if a.Procedure == "" {
			a.Procedure = now.Procedure
		}
		if lab == nil {
			http.Error(w, "the simulated bench chooses its unit itself", http.StatusConflict)
			return
		}
		set, err := lab.Setup(a.Unit, a.Procedure)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		ask.Setup = set
	}
	ctx, cancel := context.WithTimeout(r.Context(), 5*time.Second)
	defer cancel()
	if err := e.Do(ctx, ask); err != nil {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	fmt.Fprintln(w, "done")
}

// onlyLocal refuses names of other hosts, so that no page elsewhere can reach the daemon by pointing its
// own name here.
func onlyLocal(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		host = strings.Trim(host, "[]")
		if ip := net.ParseIP(host); ip == nil && host != "localhost" && !strings.HasSuffix(host, ".local") {
			http.Error(w, "this name is not one of the daemon's", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// Listen serves until ctx ends.
func (e *Engine) Listen(ctx context.Context, l net.Listener, lab *config.Lab) error {
	s := &http.Server{Handler: e.Handler(lab), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 20 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
	done := make(chan struct{})
	go func() {
		defer close(done)
		<-ctx.Done()
		stop, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		_ = s.Shutdown(stop) // what still hangs is cut off
	}()
	err := s.Serve(l)
	<-done
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
