package score

import (
	"errors"
	"fmt"
	"math"

	"quern/rig/score/rank"
)

// Chart is the control chart of one measure of the bench's control runs.
type Chart struct {
	Measure  string
	Points   []ChartPoint
	Chart    rank.Chart
	Why      string // why there are no limits; "" if there are
	Baseline int    // how many of the first points with a value make them
}

// ChartPoint is one control run.
type ChartPoint struct {
	Run *Run
	Value
	rank.Verdict // of those after the baseline; the zero Verdict before
}

// charted are the measures of a control run that a bench that has moved would change.
var charted = []string{"laeq_db", "idle_a", "mean_a", "run_time_s", "left_share"}

// Control charts the control runs. A measure that no run has is left out.
func (c *Campaign) Control() []Chart {
	var out []Chart
	for _, name := range charted {
		ch := Chart{Measure: name, Baseline: c.Lab.Bench.Control.Baseline}
		var values []float64
		for _, r := range c.Runs {
			if r.Status != ControlRun {
				continue
			}
			v := r.Measure(name)
			x := v.V
			if !v.OK {
				x = math.NaN()
			}
			values = append(values, x)
			ch.Points = append(ch.Points, ChartPoint{Run: r, Value: v})
		}
		if none(values) {
			continue
		}
		ch.limits(values)
		out = append(out, ch)
	}
	return out
}

func none(values []float64) bool {
	for _, v := range values {
		if !math.IsNaN(v) {
			return false
		}
	}
	return true
}

// limits takes the limits from the first runs that have a value, and judges those after them.
func (ch *Chart) limits(values []float64) {
	n, have := 0, 0
	for ; n < len(values) && have < ch.Baseline; n++ {
		if !math.IsNaN(values[n]) {
			have++
		}
	}
	if have < ch.Baseline {
		ch.Why = fmt.Sprintf("%d of %d control runs for a baseline", have, ch.Baseline)
		return
	}
	chart, err := rank.NewChart(values[:n])
	switch {
	case errors.Is(err, rank.ErrShortBaseline):
		ch.Why = fmt.Sprintf("%d control runs are too few for a baseline", have)
		return
	case err != nil:
		ch.Why = err.Error()
		return
	}
	ch.Chart = chart
	for i, v := range chart.Judge(values[n:]) {
		ch.Points[n+i].Verdict = v
	}
}

// flag puts a remark on every run of a day on which its bench was out of control.
func (c *Campaign) flag() {
	moved := map[benchDay]string{}
	for _, ch := range c.Control() {
		for _, p := range ch.Points {
			if p.State == rank.Out {
				moved[benchDay{p.Run.Record.Bench, p.Run.Day()}] = fmt.Sprintf("the bench had moved on %s: %s of the control run %s is out (%s)", p.Run.Day(), ch.Measure, p.Run.Name(), p.Rule)
			}
		}
	}
	for _, r := range c.Runs {
		if why := moved[benchDay{r.Record.Bench, r.Day()}]; why != "" {
			r.Remarks = append(r.Remarks, why)
		}
	}
}
