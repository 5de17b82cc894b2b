package detect

import (
	"fmt"
	"strings"

	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

const (
	// mostFaults of a kind are told one by one; a microphone that clips all the time would drown the rest.
	mostFaults = 5
	// keptFaults of a kind are kept to be told with the run they lie in; more are only counted.
	keptFaults = 1000
)

// faultBook keeps the faults of the microphone until the runs are known: a fault inside a run is told
// with it, and only there.
type faultBook struct {
	kept []sound.Fault
	more int
}

func (a *Analysis) fault(f sound.Fault) {
	if a.faults == nil {
		a.faults = map[string]*faultBook{}
	}
	b := a.faults[f.Kind]
	if b == nil {
		b = &faultBook{}
		a.faults[f.Kind] = b
	}
	if len(b.kept) == keptFaults {
		b.more++
		return
	}
	b.kept = append(b.kept, f)
}

// faultsIn takes out the faults of a kind that lie in a run, at least in part, and says where they were.
func (a *Analysis) faultsIn(kind string, on []run.Interval) string {
	b := a.faults[kind]
	if b == nil {
		return ""
	}
	var in, rest []sound.Fault
	for _, f := range b.kept {
		out := true
		for _, o := range on {
			out = out && (f.ToS < o.FromS || f.FromS > o.ToS)
		}
		if out {
			rest = append(rest, f)
		} else {
			in = append(in, f)
		}
	}
	b.kept = rest
	if len(in) == 0 {
		return ""
	}
	var at []string
	for _, f := range in[:min(len(in), mostFaults)] {
		at = append(at, fmt.Sprintf("%.2f to %.2f s", f.FromS, f.ToS))
	}
	if n := len(in) - mostFaults; n > 0 {
		at = append(at, fmt.Sprintf("%d more stretches", n))
	}
	return " (" + strings.Join(at, ", ") + ")"
}

// faultsLeft tells the faults that lie in no run.
func (a *Analysis) faultsLeft() {
	for _, kind := range []string{"clipped", "silent"} {
		b := a.faults[kind]
		if b == nil {
			continue
		}
		for _, f := range b.kept[:min(len(b.kept), mostFaults)] {
			if kind == "clipped" {
				a.warn("microphone-clipped", fmt.Sprintf("%s clipped from %.2f to %.2f s", rig.Count(f.Samples, "sample"), f.FromS, f.ToS))
			} else {
				a.warn("microphone-silent", fmt.Sprintf("the microphone's input did not change at all from %.2f to %.2f s: digital silence is a fault, not quiet", f.FromS, f.ToS))
			}
		}
		if n := len(b.kept) - mostFaults + b.more; n > 0 && len(b.kept) >= mostFaults {
			more := "1 more stretch like these"
			if n > 1 {
				more = fmt.Sprintf("%d more stretches like these", n)
			}
			a.warn("microphone-"+kind, more)
		}
	}
}

// bandsBeyond warns of the third octaves that the sound's sample rate cannot carry. Every run says the
// same; it is told once.
func (a *Analysis) bandsBeyond() {
	last := len(sound.NominalHz) - 1
	first := last + 1
	for first > 0 && a.meter != nil && !a.meter.Measurable(first-1) {
		first--
	}
	which := fmt.Sprintf("%d third octaves from %g to %g Hz are", last+1-first, sound.NominalHz[min(first, last)], sound.NominalHz[last])
	switch {
	case first > last:
		return
	case first == last:
		which = fmt.Sprintf("third octave at %g Hz is", sound.NominalHz[last])
	}
	a.warn("band-above-sample-rate", fmt.Sprintf("the %s absent: a band must end below %g of the sample rate, which is %g Hz", which, sound.MeasurableTo, a.meter.RateHz()))
}
