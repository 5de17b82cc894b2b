package sim

import (
	"math"
	"math/rand/v2"
	"strings"

	"quern/config"
	"quern/rig"
)

// handNotes are what is said of a value entered by hand, from the worst to the best.
var handNotes = map[string][3]string{
	"build":        {"thin sheet, gaskets loose", "sound but plain", "heavy, well finished"},
	"installation": {"two people and an hour", "one person, some lying on the back", "a quarter of an hour"},
	"price":        {"dear for what it is", "about the middle", "cheap"},
}

// judgeByHand makes up what a person judged or looked up: what the scorecard asks for, and nothing else, for a lab is
// refused that holds what no criterion asks for.
func (s *Season) judgeByHand(seed uint64) {
	r := rand.New(rand.NewPCG(seed, partHand<<32))
	var names []string
	curves := map[string][]config.Anchor{}
	for _, c := range s.lab.Scorecard.Criteria {
		name, ok := strings.CutPrefix(c.Measure, rig.HandMeasure)
		if !ok {
			continue
		}
		if curves[name] == nil {
			names = append(names, name)
		}
		curves[name] = append([]config.Anchor{}, c.Curve...)
	}
	at := s.Runs[len(s.Runs)-1].Started.AddDate(0, 0, 1)
	for u := range s.o.Units {
		for _, name := range names {
			x := math.Min(math.Max(0.25+0.5*s.Traits[u].Quality+0.15*r.NormFloat64(), 0), 1) // towards the best
			if name == "price" {
				x = 1 - x // what is good costs
			}
			v := rig.HandValue{Unit: s.machines[u].ID, Name: name, Value: tenths(10 * x), U: 0.5, Who: who, At: at}
			if a := curves[name]; len(a) > 1 {
				first, last := a[0], a[len(a)-1]
				if first.Points > last.Points {
					x = 1 - x
				}
				v.Value, v.U = math.Round(first.At+x*(last.At-first.At)), 0
				if first.Points > last.Points {
					x = 1 - x
				}
			}
			v.Note = "invented"
			if n := handNotes[name]; n[0] != "" {
				v.Note += ": " + n[min(int(3*x), 2)]
			}
			s.Hand = append(s.Hand, v)
		}
	}
	s.tieByHand()
}

// tieByHand gives the two units that are nearly tied the same values.
func (s *Season) tieByHand() {
	of := map[string]rig.HandValue{}
	for _, v := range s.Hand {
		if v.Unit == s.Told.Tied[0] {
			of[v.Name] = v
		}
	}
	for i := range s.Hand {
		if v := &s.Hand[i]; v.Unit == s.Told.Tied[1] {
			v.Value, v.Note = of[v.Name].Value, of[v.Name].Note
		}
	}
}
