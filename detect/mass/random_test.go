package mass_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"quern/detect/mass"
)

// due is a weighing that must be taken: one between two instants. An empty pan that may show less than
// nothing may be taken.
type due struct {
	fromS, restS, toS float64
	may               bool
}

// randomScene makes an invented scale and an invented hour at it, and tells what is to be taken.
func randomScene(seed uint64) (scene, []due) {
	r := rand.New(rand.NewPCG(seed, 4))
	pick := func(x ...float64) float64 { return x[r.IntN(len(x))] }
	s := scene{seed: seed, device: device{rateHz: pick(2, 4, 5, 10, 10, 20, 50), jitter: pick(0, 0.2), noise: pick(0, 0.05, 0.12),
		divisionG: pick(0.1, 0.2, 0.5, 1, 1, 1, 2, 5, 0.1*28.349523125, 0.5*28.349523125), mark: []string{"", "", "honest", "yes"}[r.IntN(4)]}}
	switch r.IntN(5) {
	case 0:
		s.filterS = pick(0.3, 0.7, 2)
	case 1:
		s.averageS = pick(1, 2)
	case 2:
		s.hold = true
	}
	least := max(5, 5*s.divisionG)
	lag := max(s.filterS, s.averageS)
	pause := 9 + 10*lag
	var dues []due
	t, load := pause, 0.0
	if r.IntN(2) == 0 {
		load = 300
		s.acts = append(s.acts, act{kind: "put", atS: -100, overS: 1, toG: load})
	}
	for range 3 + r.IntN(4) {
		a := act{atS: t}
		switch k := r.IntN(14); {
		case k < 4: // a load more
			a.kind, a.overS = "put", pick(0.05, 0.3, 1)
			load += (3 + 20*r.Float64()*r.Float64()*8) * least
			a.toG = load
		case k == 4: // all or half of it off
			if load < 6*least {
				continue
			}
			a.kind, a.overS = "put", pick(0.05, 0.5)
			load *= pick(0, 0.5)
			a.toG = load
		case k == 5:
			a.kind, a.overS = "pour", pick(3, 10)
			load += (3*least + 4*a.overS*max(s.divisionG, 1)) * (1 + r.Float64())
			a.toG = load
		case k == 6:
			a.kind, a.forceG = "bump", pick(5, 50)*s.divisionG
		case k == 7:
			a.kind, a.overS, a.forceG = "hand", 1+6*r.Float64(), (20+300*r.Float64())*max(1, s.divisionG)
		case k == 8:
			a.kind, a.overS, a.forceG = "vibrate", 3+20*r.Float64(), pick(2, 5, 20)*s.divisionG
		case k == 9:
			a.kind, a.overS, a.forceG = "motor", 3+20*r.Float64(), pick(0, 0.3, 2, 10)*s.divisionG
		case k == 10:
			a.kind, a.overS = "gap", 3+10*r.Float64()
		case k == 11:
			if s.hold { // it may show it as one step
				continue
			}
			a.kind, a.overS, a.forceG = "creep", 30+60*r.Float64(), pick(-20, 20)
			load += a.forceG
		case k == 12:
			if s.hold || lag > 0.7 || load < 60 {
				continue
			}
			a.kind, a.overS, a.drainS = "drain", 60, 20+60*r.Float64()
			a.drainG = min(a.drainS/60*(3+27*r.Float64()), load)
			load -= a.drainG
		default: // set to zero with a bowl on, which then comes off: less than nothing
			if load < 6*least {
				continue
			}
			s.acts = append(s.acts, act{kind: "tare", atS: t, toG: load}, act{kind: "put", atS: t + pause, overS: 0.3, toG: -load})
			dues = append(dues, due{t, t, t + pause, true})
			t, load = t+2*pause, -load
			continue
		}
		if a.kind == "put" || a.kind == "pour" {
			dues = append(dues, due{a.atS, a.atS + a.overS, a.atS + a.overS + pause, load < 0.9*s.divisionG})
		}
		s.acts = append(s.acts, a)
		t += a.overS + pause
		if a.drainS > 0 {
			t += 3 * a.drainS
			load = s.massG(t)
		}
	}
	s.endS = t
	return s, dues
}

// TestRandom takes weighings in two thousand invented scenes (under QUERN_WHOLE ten thousand): none is false, none is missed, each is
// within a division of what is on the pan.
func TestRandom(t *testing.T) {
	n := 2000
	if os.Getenv("QUERN_WHOLE") != "" {
		n = 10000
	}
	var falsely, missed, off, taken, all int
	var lateS, restedS []float64
	// The first six went wrong once: creep after a vibration, and a hand nearly still at 2 Hz.
	seeds := []uint64{1009876, 1015517, 1019308, 1022221, 1014146, 1015571}
	for seed := range uint64(n) {
		seeds = append(seeds, seed)
	}
	for _, seed := range seeds {
		s, dues := randomScene(seed)
		got, _ := s.take(s.readings())
		said := func(what string, c mass.Candidate) {
			if falsely+missed+off < 12 {
				t.Errorf("seed %d: %s: %+v\n%+v", seed, what, c, s)
			}
		}
		for _, d := range dues {
			all++
			i := slices.IndexFunc(got, func(c mass.Candidate) bool { return c.AtS >= d.fromS && c.AtS < d.toS })
			if i < 0 && d.may {
				continue
			}
			if i < 0 {
				said(fmt.Sprintf("missed %+v", d), mass.Candidate{})
				missed++
				continue
			}
			c := got[i]
			got = slices.Delete(got, i, i+1)
			taken++
			if math.Abs(c.GrossG-s.massG(c.AtS)) > s.divisionG*1.001 {
				said(fmt.Sprintf("off, truth %.2f", s.massG(c.AtS)), c)
				off++
			}
			if s.filterS+s.averageS == 0 {
				lateS, restedS = append(lateS, c.AtS-d.restS), append(restedS, c.RestS)
			}
		}
		for _, c := range got {
			said("false", c)
			falsely++
		}
	}
	slices.Sort(lateS)
	slices.Sort(restedS)
	t.Logf("at rest before it is taken: median %.2f s, 95 %% within %.2f s", restedS[len(restedS)/2], restedS[len(restedS)*95/100])
	t.Logf("%d scenes, %d weighings due, %d taken: %d false, %d missed, %d off; from the load's being down to its being taken, without filter: median %.2f s, 95 %% within %.2f s, at most %.2f s",
		n, all, taken, falsely, missed, off, lateS[len(lateS)/2], lateS[len(lateS)*95/100], lateS[len(lateS)-1])
}

// TestRandomWet places loads that drain at 3 to 40 g/min and less and less: each is taken once, when it
// loses no more than the limit, as far as the division lets that be seen.
func TestRandomWet(t *testing.T) {
	var waitS []float64
	for seed := range uint64(500) {
		r := rand.New(rand.NewPCG(seed, 5))
		s := scene{seed: seed, wet: true, device: plain}
		s.rateHz, s.divisionG = []float64{2, 5, 10, 50}[r.IntN(4)], []float64{0.1, 0.2, 0.5, 1, 2}[r.IntN(5)]
		a := act{kind: "drain", atS: 10, drainS: 10 + 50*r.Float64()}
		rate := 3 + 37*r.Float64()
		a.drainG = rate * a.drainS / 60
		s.acts, s.endS = []act{put(10, 200+600*r.Float64()), a}, 10+5*a.drainS+20
		got, _ := s.take(s.readings())
		if len(got) != 1 {
			t.Errorf("seed %d: taken %d times", seed, len(got))
			continue
		}
		c := got[0]
		slope := rate * math.Exp(-(c.AtS-10)/a.drainS)
		if slope > 7+8*s.divisionG || !(math.Abs(c.GrossG-s.massG(c.AtS)) <= s.divisionG*1.001) {
			t.Errorf("seed %d: %+v: truth %.2f g, -%.1f g/min\n%+v", seed, c, s.massG(c.AtS), slope, s)
		}
		leastS := max(0, a.drainS*math.Log(rate/6))
		waitS = append(waitS, c.AtS-10-leastS)
	}
	slices.Sort(waitS)
	t.Logf("from the slope's being within the limit to the weighing: median %.1f s, 95 %% within %.1f s", waitS[len(waitS)/2], waitS[len(waitS)*95/100])
}
