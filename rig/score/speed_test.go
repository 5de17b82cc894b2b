package score

import (
	"fmt"
	"testing"

	"quern/config"
)

// crowd is the lab of the documentation with so many invented units.
func crowd(t testing.TB, n int) *config.Lab {
	l := exampleLab(t)
	units := make([]config.Unit, n)
	for i := range units {
		units[i] = l.Units[i%len(l.Units)]
		units[i].ID = fmt.Sprintf("unit-%03d", i)
	}
	l.Units = units
	return l
}

func benchmarkCampaign(b *testing.B, units int, standings bool) {
	l := crowd(b, units)
	records := inventedCampaign(l, 3)
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		c, err := Score(l, records, nil)
		if err != nil {
			b.Fatal(err)
		}
		if !standings {
			continue
		}
		if _, err := c.Standings(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkScore20(b *testing.B)      { benchmarkCampaign(b, 20, false) }
func BenchmarkStandings20(b *testing.B)  { benchmarkCampaign(b, 20, true) }
func BenchmarkScore555(b *testing.B)     { benchmarkCampaign(b, 555, false) }
func BenchmarkStandings555(b *testing.B) { benchmarkCampaign(b, 555, true) }
