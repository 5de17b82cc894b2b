package live

import (
	"github.com/prometheus/client_golang/prometheus"

	"quern/acquire"
	"quern/rig"
)

// metrics makes Prometheus metrics of snapshots. Names follow the Prometheus conventions: base units at
// their ends, _total for counts.
type metrics struct {
	e *Engine

	state, age, samples, rejects, gaps, xruns, missing, restarts, drift *prometheus.Desc
	queue, level, current, mass, extra, motor                           *prometheus.Desc
	runs, sessions, events, free, sync, ready, open                     *prometheus.Desc
}

// Collector returns the daemon's metrics.
func (e *Engine) Collector() prometheus.Collector {
	d := func(name, help string, labels ...string) *prometheus.Desc {
		return prometheus.NewDesc("quern_"+name, help, labels, nil)
	}
	return &metrics{e: e,
		state:    d("source_state", "1 for the state that a source is in: starting, live, late or lost.", "channel", "state"),
		age:      d("source_age_seconds", "Time since a source delivered anything; absent before it did.", "channel"),
		samples:  d("source_samples_total", "Samples or readings that a source has delivered.", "channel"),
		rejects:  d("source_rejects_total", "Frames of a source that could not be taken for readings or samples.", "channel"),
		gaps:     d("source_gaps_total", "Gaps in what a source delivered.", "channel"),
		xruns:    d("source_xruns_total", "Overruns that a sound card has told of.", "channel"),
		missing:  d("source_missing_samples_total", "Samples known to be missing.", "channel"),
		restarts: d("source_restarts_total", "Times a source was opened again.", "channel"),
		drift:    d("source_drift_ratio", "Share by which a source's clock runs faster than the system's; absent until it is known.", "channel"),
		queue:    d("queue_blocks", "Blocks on their way from the sources to the analysis."),
		level:    d("sound_level_decibels", "Sound level now: A-weighted, time weighting F, dB re 20 uPa."),
		current:  d("current_amperes", "Current now: half-cycle RMS, or the last reading."),
		mass:     d("mass_grams", "Last reading of the scale."),
		extra:    d("extra_value", "Last reading of an extra channel, in its unit.", "channel", "unit"),
		motor:    d("motor_state", "1 for the state that the motor is in.", "state"),
		runs:     d("runs_total", "Runs begun since the daemon began."),
		sessions: d("sessions_closed_total", "Sessions closed since the daemon began."),
		events:   d("events_total", "Events told since the daemon began.", "kind"),
		free:     d("disk_free_bytes", "Bytes left on the disk of the sessions."),
		sync:     d("sync_duration_seconds", "Time that one sync of the recordings took."),
		ready:    d("ready", "1 if the bench is ready for a run or recording one, else 0."),
		open:     d("session_open", "1 while a session is open."),
	}
}

// Describe implements prometheus.Collector.
func (m *metrics) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(m, ch) }

var motorStates = []rig.State{rig.Off, rig.Starting, rig.NoLoad, rig.Loaded, rig.Overloaded, rig.Stalled, rig.Tripped, rig.Unknown}

// Collect implements prometheus.Collector.
func (m *metrics) Collect(ch chan<- prometheus.Metric) {
	s := m.e.Now()
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	count := func(d *prometheus.Desc, v int64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, float64(v), labels...)
	}
	is := func(yes bool) float64 {
		if yes {
			return 1
		}
		return 0
	}
	for _, x := range s.statuses {
		c := string(x.Stream.Channel)
		for _, st := range acquire.States {
			gauge(m.state, is(x.State == st), c, string(st))
		}
		if x.AgeS >= 0 {
			gauge(m.age, x.AgeS, c)
		}
		count(m.samples, x.Samples, c)
		count(m.rejects, x.Rejects, c)
		count(m.gaps, x.Gaps, c)
		count(m.xruns, x.Xruns, c)
		count(m.missing, x.Missing, c)
		count(m.restarts, x.Restarts, c)
		if x.Drifts {
			gauge(m.drift, x.DriftPPM*1e-6, c)
		}
	}
	gauge(m.queue, float64(s.Queued))
	for d, f := range map[*prometheus.Desc]rig.Figure{m.level: s.LevelDB, m.current: s.CurrentA, m.mass: s.MassG} {
		if f.OK {
			gauge(d, f.V)
		}
	}
	for _, x := range s.Extra {
		if x.Value.OK {
			gauge(m.extra, x.Value.V, string(x.Channel), string(x.Unit))
		}
	}
	for _, st := range motorStates {
		gauge(m.motor, is(s.State == st), string(st))
	}
	count(m.runs, s.Runs)
	count(m.sessions, s.Sessions)
	for _, k := range rig.Kinds {
		count(m.events, s.eventCount[k], string(k))
	}
	gauge(m.free, float64(s.DiskFree))
	gauge(m.ready, is(s.Ready))
	gauge(m.open, is(s.Session != ""))
	m.e.mu.Lock()
	n, sum := m.e.tot.syncs, m.e.tot.syncS
	buckets := map[float64]uint64{}
	for i, b := range syncBounds {
		buckets[b] = m.e.tot.syncBuckets[i]
	}
	m.e.mu.Unlock()
	ch <- prometheus.MustNewConstHistogram(m.sync, n, sum, buckets)
}
