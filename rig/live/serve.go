package live

import (
	"encoding/json"
	"fmt"
	"net/http"
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

// Handler serves /metrics, /health, /status and acts (POST /act). lab gives the settings of a choice. Who may ask
// is for rig/live/gate to say.
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
	return http.MaxBytesHandler(mux, 64<<10)
}
