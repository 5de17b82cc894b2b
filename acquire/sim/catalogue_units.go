package sim

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"quern/config"
)

// Traits are what the runs of an invented unit come out of. Shares of a limit refer to the procedure's
// gate, so that a season has passes and failures under any rules.
type Traits struct {
	Speed   float64   // of grinding: 1 is middling, 2 takes half the time
	Left    []float64 // left in the chamber as a share of the limit, by procedure
	Coarse  float64   // on the coarse sieve, as a share of the limit
	Fine    float64   // on the fine sieve, as a share of the discharge
	Trip    float64   // chance that a run on bones trips the protector
	Stall   float64   // chance that it stalls and frees itself, if it does not trip
	Scatter float64   // of all this from run to run: standard deviation as a share
	Quality float64   // 0 to 1: what the rest leans on
}

// Limits where a procedure has no such gate (invented).
const (
	leftLimit   = 0.05 // of the input
	coarseLimit = 0.02 // of the discharge
)

func limit(p *config.Procedure, measure string, otherwise float64) float64 {
	for _, g := range p.Gates {
		if g.Measure == measure && g.Side != "at-least" && g.Limit > 0 && g.Limit < 0.5 {
			return g.Limit
		}
	}
	return otherwise
}

// hardness of what a procedure feeds: 0 soft, 1 frames and shells, 2 bones. It goes by the words of the
// recipe.
func hardness(p *config.Procedure) int {
	words := p.ID + " " + p.Title
	for _, it := range p.Items {
		words += " " + it.Name
	}
	words = strings.ToLower(words)
	if strings.Contains(words, "bone") {
		return 2
	}
	for _, w := range []string{"fish", "frame", "shell", "rib"} {
		if strings.Contains(words, w) {
			return 1
		}
	}
	return 0
}

// code is the n-th blind code: unit-a to unit-z, unit-aa and so on.
func code(n int) string {
	letters := ""
	for ; n >= 0; n = n/26 - 1 {
		letters = string(rune('a'+n%26)) + letters
	}
	return "unit-" + letters
}

// invent makes the units and deals out what is to be found.
func (s *Season) invent(seed uint64) {
	r := rand.New(rand.NewPCG(seed, partSeason<<32))
	n := s.o.Units
	quality := r.Perm(n)
	for i, k := 0, 0; i < n; k++ {
		id := code(k)
		if id == s.control {
			continue // that one is the bench's own
		}
		q := (float64(quality[i]) + 0.5 + 0.2*r.NormFloat64()) / float64(n)
		s.add(s.machine(r, i), id, "invented unit "+strings.ToUpper(strings.TrimPrefix(id, "unit-")), s.traits(r, q))
		s.release(i)
		i++
	}
	s.deal(r)
	if s.control != "" {
		t := s.traits(r, 0.6)
		t.Trip, t.Stall, t.Scatter = 0, 0, 0.02
		s.add(UnitB(), s.control, "invented control unit", t)
	}
	if s.lab.Bench.Supply.VoltageV >= 180 { // half the current at twice the voltage
		for i := range s.machines {
			u := &s.machines[i]
			u.RatedCurrentA, u.LockedA, u.LockedRotorA = u.RatedCurrentA/2, u.LockedA/2, u.LockedRotorA/2
		}
	}
	for i := range s.machines {
		s.Units = append(s.Units, s.machines[i].Unit)
	}
}

func (s *Season) add(u Unit, id, name string, t Traits) {
	u.ID, u.Name = id, name
	s.machines, s.Traits = append(s.machines, u), append(s.Traits, t)
}

// machine draws a motor; the first four are those of the demonstration.
func (s *Season) machine(r *rand.Rand, i int) Unit {
	if i < 4 {
		u := []Unit{UnitA(), UnitB(), UnitC(), UnitD()}[i]
		settle(&u)
		return u
	}
	want := []string{inductionMotor, magnetMotor, inductionMotor, universalMotor, inductionMotor}[i%5]
	for {
		u := (&drawer{r: r}).unit()
		if u.Motor == want || i == 4 && u.Motor == inductionMotor {
			settle(&u)
			u.RatedCurrentA, u.LockedRotorA, u.LockedA = tenths(u.RatedCurrentA), math.Round(u.LockedRotorA), tenths(u.LockedA)
			return u
		}
	}
}

func tenths(x float64) float64 { return math.Round(10*x) / 10 }

// settle keeps a motor out of what is a matter of opinion: a stall that ends in a trip lasts clearly
// longer than one that does not, and protectors open in reasonable time.
func settle(u *Unit) {
	u.CoolS = 6
	if u.Motor == magnetMotor {
		u.ShutOffS = 4
	} else {
		u.TripS = math.Min(math.Max(u.TripS, 4.5), 6)
	}
}

// traits draws what hangs more or less on quality.
func (s *Season) traits(r *rand.Rand, q float64) Traits {
	lean := func(worst, best, own float64) float64 {
		x := math.Min(math.Max(q+own*r.NormFloat64(), 0), 1)
		return worst + (best-worst)*x
	}
	t := Traits{Quality: q, Speed: lean(0.55, 1.5, 0.2), Coarse: lean(0.7, 0.1, 0.15), Fine: lean(0.22, 0.04, 0.15),
		Trip: 0.1 * r.Float64(), Stall: lean(0.5, 0.05, 0.2), Scatter: 0.03 + 0.05*r.Float64()}
	base := lean(0.72, 0.2, 0.1)
	for range s.procedures {
		t.Left = append(t.Left, base*(0.9+0.2*r.Float64()))
	}
	return t
}

// release gives the unit a day on which its name may be shown: half of them are out, the rest are not.
func (s *Season) release(i int) {
	u := &s.machines[i].Unit
	switch i % 4 {
	case 0, 1:
		u.Release = s.o.Start.AddDate(0, -1, i).Format("2006-01-02")
	case 2:
		u.Release = s.o.Start.AddDate(20, 0, i).Format("2006-01-02")
	}
	u.Samples = 1 + i%2
	u.MakerSupplied = i%5 == 3
}

// deal makes the units of Told what they are said to be.
func (s *Season) deal(r *rand.Rand) {
	n, t := len(s.machines), &s.Told
	p := r.Perm(n)
	gate, largest := 0, 0.0
	for i, pr := range s.procedures {
		if g := pr.Charge(); limit(pr, "left_share", 0) > 0 && g > largest {
			gate, largest = i, g
		}
	}
	id := func(i int) string { return s.machines[i].ID }
	t.Failing, t.FailingIn = id(p[0]), s.procedures[gate].ID
	s.Traits[p[0]].Left[gate] = 1.5
	t.Close, t.CloseIn = id(p[1]), s.procedures[gate].ID
	s.Traits[p[1]].Left[gate], s.Traits[p[1]].Scatter = 0.97, 0.01
	if m := len(s.procedures); m > 1 {
		t.Untested, t.UntestedIn = id(p[0]), s.procedures[m-1].ID
		if n > 4 {
			t.Untested = id(p[2])
		}
	}
	s.tie(p[n-2], p[n-1])
	for k := n - 3; t.Tripping == ""; k-- { // the last that is nothing else, if there is one
		if id(p[k]) != t.Untested {
			s.Traits[p[k]].Trip, t.Tripping = 0.75, id(p[k])
		}
	}
}

// tie makes one of two units nearly the other.
func (s *Season) tie(i, j int) {
	from, to := min(i, j), max(i, j)
	a, b := &s.machines[from], &s.machines[to]
	if to >= 4 {
		plate := b.Unit
		*b = *a
		b.ID, b.Name, b.Release, b.Samples, b.MakerSupplied = plate.ID, plate.Name, plate.Release, plate.Samples, plate.MakerSupplied
		b.RatedCurrentA = tenths(b.RatedCurrentA * 1.03)
	}
	b.NoLoadDBA, b.GrindDBA = a.NoLoadDBA+0.1, a.GrindDBA-0.1
	t := s.Traits[from]
	t.Trip, t.Stall, t.Scatter = 0, 0, 0.04
	s.Traits[from] = t
	t.Left = nil
	for _, l := range s.Traits[from].Left {
		t.Left = append(t.Left, 1.02*l)
	}
	t.Speed, t.Fine = 1.02*t.Speed, 1.01*t.Fine
	s.Traits[to] = t
	s.Told.Tied = [2]string{a.ID, b.ID}
}

// UnitsTOML returns the units as the units.toml of a lab.
func (s *Season) UnitsTOML() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %d units invented for demonstration: no such appliance exists.\n", len(s.Units))
	for _, u := range s.Units {
		fmt.Fprintf(&b, "\n[[unit]]\nid = %q\nname = %q\n", u.ID, u.Name)
		if u.Release != "" {
			fmt.Fprintf(&b, "release = %q\n", u.Release)
		}
		fmt.Fprintf(&b, "samples = %d\nsupplied_by_maker = %t\nrated_current_a = %s\n", u.Samples, u.MakerSupplied, float(u.RatedCurrentA))
		if u.LockedRotorA > 0 {
			fmt.Fprintf(&b, "locked_rotor_a = %s\n", float(u.LockedRotorA))
		}
		fmt.Fprintf(&b, "motor = %q\n", u.Motor)
	}
	return b.Bytes()
}

// float writes a float as TOML wants it, with a point.
func float(x float64) string {
	t := fmt.Sprint(x)
	if !strings.Contains(t, ".") {
		t += ".0"
	}
	return t
}
