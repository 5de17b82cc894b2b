package live

import (
	"context"
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// table is a device that the test works by hand: a scale with what stands on it, and a clamp whose motor
// is switched. While it runs, the scale shakes.
type table struct {
	mu    sync.Mutex
	massG float64
	dripG float64 // g/s that it loses
	tareG float64 // that it was told to show as nothing
	on    bool
	n     int
	clamp bool
}

func (d *table) Name() string { return "the table" }

func (d *table) Streams() []rig.Stream {
	out := []rig.Stream{{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}
	if d.clamp {
		out = append(out, rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere})
	}
	return out
}

func (d *table) Run(ctx context.Context, to acquire.Sink) error {
	t := time.NewTicker(100 * time.Millisecond)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		d.mu.Lock()
		d.n++
		d.massG -= d.dripG / 10
		g, amps := d.massG-d.tareG, 0.01+0.002*math.Sin(float64(d.n))
		if d.on {
			g, amps = g+6*math.Sin(float64(7*d.n)), 4+0.05*math.Sin(float64(d.n))
		}
		d.mu.Unlock()
		to.Reading(rig.Scale, time.Now(), math.Round(g), rig.Yes)
		if d.clamp {
			to.Reading(rig.Clamp, time.Now(), amps, rig.Unsaid)
		}
	}
}

// put puts so much on the pan, in all, and waits for it to come to rest.
func (d *table) put(g float64) {
	d.mu.Lock()
	d.massG = g
	d.mu.Unlock()
	time.Sleep(6 * time.Second)
}

func (d *table) drips(gPerS float64) {
	d.mu.Lock()
	d.dripG = gPerS
	d.mu.Unlock()
}

// Tare makes it show what lies on it as nothing.
func (d *table) Tare() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.tareG = d.massG
	return nil
}

// Zero fails, as where the bench describes no such command.
func (d *table) Zero() error { return errors.New("nothing can be sent") }

// turn switches the motor, and waits.
func (d *table) turn(on bool, wait time.Duration) {
	d.mu.Lock()
	d.on = on
	d.mu.Unlock()
	time.Sleep(wait)
}

// weighed is a bench with a recipe of two ingredients, two sieves and a register.
func weighSetup() config.Setup {
	s := config.Setup{Bench: config.DefaultBench(), Unit: config.DefaultUnit("unit-a"), Procedure: config.DefaultProcedure("two")}
	s.Unit.RatedCurrentA = 6
	s.Bench.Vessels = []config.Vessel{{ID: "bowl-1", DryG: 200}, {ID: "sieve-coarse", DryG: 300, WetG: 310}}
	s.Procedure.Items = []config.Item{{Name: "carrot", MassG: 500, ToleranceG: 5}, {Name: "bone", MassG: 100, ToleranceG: 5}}
	s.Procedure.After = config.After{Chamber: true, CoarseSieveMM: 4.75, DrainS: 60, DrainToleranceS: 10, OutputLow: 0.5, OutputHigh: 1.3}
	s.Procedure.LongestPauseS = 300
	return s
}

// onTable runs a test at a table, in a bubble.
func onTable(t *testing.T, set config.Setup, clamp bool, test func(b *bench, d *table)) {
	synctest.Test(t, func(t *testing.T) {
		d := &table{clamp: clamp}
		b := start(t, set, nil, acquire.Source{Device: d, SilentS: 2})
		defer b.stop() // also when the test gives up
		time.Sleep(5 * time.Second)
		test(b, d)
		b.stop()
		b.same()
		b.stored()
	})
}

// stored holds the analysis that was stored with every closed session to its replay, exactly.
func (b *bench) stored() {
	b.t.Helper()
	for _, c := range b.closed {
		ses, err := session.Open(c.dir)
		if err != nil {
			b.t.Fatal(err)
		}
		a, err := session.LoadAnalysis(c.dir, session.AnalysisKey(ses.Setup().ForAnalysis()))
		if err != nil {
			b.t.Errorf("no analysis of %s: %v", c.dir, err)
			continue
		}
		kept, err := session.EncodeRecord(rig.Record{Result: a.Result})
		if err != nil {
			b.t.Fatal(err)
		}
		later, err := session.EncodeRecord(rig.Record{Result: again(b.t, c.dir)})
		if err != nil {
			b.t.Fatal(err)
		}
		if string(kept) != string(later) {
			b.t.Errorf("%s: the stored analysis is not that of a replay:\n%s\n%s", c.dir, kept, later)
		}
		if o := ses.Manifest().Origin; o != rig.Recorded {
			b.t.Errorf("origin %q", o)
		}
	}
}

// do does an act that nothing may stand against.
func (b *bench) do(a Ask) Answer {
	b.t.Helper()
	got, err := b.engine.Ask(context.Background(), a)
	if err != nil {
		b.t.Fatalf("%s: %v", a.Act, err)
	}
	return got
}

// refuses holds an act to being refused with words.
func (b *bench) refuses(a Ask, words string) {
	b.t.Helper()
	_, err := b.engine.Ask(context.Background(), a)
	if err == nil || !strings.Contains(err.Error(), words) {
		b.t.Errorf("%s: got %v, want %q", a.Act, err, words)
	}
}

// sessions is how many were closed so far.
func (b *bench) sessions() int { return int(b.engine.Now().Sessions) }

// facts returns what is on record in a session.
func facts(t *testing.T, dir string) rig.Facts {
	t.Helper()
	b, err := session.OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b.Facts
}

func charge(item string) Expect { return Expect{Role: rig.Charge, Item: item, Vessel: "bowl-1"} }
