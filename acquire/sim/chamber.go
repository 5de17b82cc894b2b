package sim

import (
	"math"
	"math/rand/v2"
)

// chamber is the grinding chamber and what is in it. Torques are in rated torques.
type chamber struct {
	rng     *rand.Rand
	lulls   [2]float64 // s
	soft    float64    // g
	arrive  float64    // how much of the soft mass has found the grinding ring, 0 to 1
	pieces  []*piece
	bites   []bite
	rag     float64 // low-passed noise: the ragged part of the load
	slow    float64
	wadS    float64 // turning time that the wad still takes
	wad     float64 // its torque
	wadIn   float64 // how far it is in, 0 to 1
	jam     float64 // torque that the wedged piece can hold; 0: none
	jamFree float64 // it lets go so long after it locked; 0: not by itself
	jamIn   float64
	jamS    float64 // since it locked
	impacts []impact
}

// piece is a hard piece that is broken up impact by impact.
type piece struct {
	left     int // impacts
	nextS    float64
	rate     float64 // impacts a second
	torque   float64
	loud     float64 // dB
	stubborn bool
	cluster  int // impacts until it hides again
}

// bite is the torque of one impact, a half-sine.
type bite struct{ ageS, lastsS, torque float64 }

// impact is the sound of one.
type impact struct {
	step   int
	over   float64 // dB above the running level
	decayS float64
}

func newChamber(sc *Scenario) *chamber {
	return &chamber{rng: newRand(sc.Seed, partChamber), lulls: sc.Clearing}
}

// empty tells whether nothing is left that could load the motor.
func (c *chamber) empty() bool {
	return c.soft == 0 && len(c.pieces) == 0 && len(c.bites) == 0 && c.wad == 0 && c.jam == 0
}

func (c *chamber) between(a, b float64) float64 { return a + (b-a)*c.rng.Float64() }

// feed puts a portion in.
func (c *chamber) feed(p Portion) {
	if c.soft == 0 {
		c.arrive = 0
	}
	c.soft += p.SoftG
	hard, loud := p.Hardness, p.Loud
	if hard == 0 {
		hard = 0.6
	}
	if loud == 0 {
		loud = 18
	}
	for i := range p.Pieces + p.Stubborn {
		x := &piece{left: 12 + c.rng.IntN(30), rate: c.between(4, 9), torque: hard * c.between(0.6, 1.4), loud: loud + c.between(-3, 3)}
		x.nextS = c.between(0.02, 0.5)
		if i == 0 {
			x.nextS = 0.001 // the first piece strikes as it falls in
		}
		if i >= p.Pieces {
			x.stubborn, x.left, x.cluster = true, 12+c.rng.IntN(14), 3+c.rng.IntN(4)
		}
		c.pieces = append(c.pieces, x)
	}
}

func (c *chamber) addJam(capacity, holdS float64) {
	c.jam, c.jamFree, c.jamS, c.jamIn = capacity, holdS, 0, 0
}

// unjam takes the wedged piece away, or leaves it behind as an ordinary one.
func (c *chamber) unjam(leave bool) {
	if c.jam > 0 && leave {
		c.pieces = append(c.pieces, &piece{left: 10 + c.rng.IntN(10), nextS: 0.05, rate: 7, torque: 0.8, loud: 18})
	}
	c.jam = 0
}

// step turns the rotor at speed n for one step and returns the torque of the material. Locked tells
// that it stands under power.
func (c *chamber) step(at int, n float64, locked bool) float64 {
	if c.empty() {
		return 0
	}
	t := c.jamTorque(locked)
	turning := n > 0.05
	if turning {
		c.rag += -c.rag*stepS/0.012 + c.rng.NormFloat64()*math.Sqrt(2*stepS/0.012)
		c.slow += -c.slow*stepS/0.25 + c.rng.NormFloat64()*math.Sqrt(2*stepS/0.25)
	}
	// A wad lies on the grinding ring: it keeps the rest off.
	t += c.softTorque(n, turning)*(1-0.8*c.wadIn) + c.wadTorque(turning)
	if turning && c.wadIn == 0 {
		c.strike(at, n)
	}
	keep := c.bites[:0]
	for _, b := range c.bites {
		t += b.torque * math.Sin(math.Pi*math.Min(b.ageS/b.lastsS, 1))
		if b.ageS += stepS; b.ageS < b.lastsS {
			keep = append(keep, b)
		}
	}
	c.bites = keep
	return t
}

func (c *chamber) jamTorque(locked bool) float64 {
	if c.jam == 0 {
		return 0
	}
	c.jamIn = math.Min(1, c.jamIn+stepS/0.015)
	if locked {
		c.jamS += stepS
		if c.jamFree > 0 && c.jamS > c.jamFree {
			c.unjam(true)
			return 0
		}
	}
	return c.jam * c.jamIn
}

// softTorque: soft mass loads in proportion while it is little, and saturates.
func (c *chamber) softTorque(n float64, turning bool) float64 {
	if c.soft == 0 {
		return 0
	}
	t := 0.75 * c.soft / (c.soft + 150) * c.arrive
	if !turning {
		return 0.3 * t
	}
	c.arrive = math.Min(1, c.arrive+stepS/0.12)
	c.soft -= stepS * (0.4 + 0.6*n) * (12 + c.soft/6)
	if c.soft < 4 {
		c.soft = 0 // what is left swims through
	}
	return t * math.Max(0.2, 1+0.22*c.rag+0.15*c.slow)
}

func (c *chamber) wadTorque(turning bool) float64 {
	if c.wad == 0 {
		return 0
	}
	if turning {
		c.wadS -= stepS
		c.wadIn = math.Min(1, c.wadIn+stepS/0.06)
	}
	if c.wadS < 0.05 {
		c.wadIn = math.Max(0, c.wadS/0.05)
	}
	t := c.wad * c.wadIn * (1 + 0.02*c.rag)
	if c.wadS <= 0 {
		c.wad, c.wadIn = 0, 0
	}
	return t
}

// strike lets the hard pieces hit.
func (c *chamber) strike(at int, n float64) {
	keep := c.pieces[:0]
	for _, p := range c.pieces {
		if p.nextS -= stepS * math.Min(1, 0.3+0.7*n); p.nextS > 0 {
			keep = append(keep, p)
			continue
		}
		lasts := c.between(0.006, 0.035)
		c.bites = append(c.bites, bite{lastsS: lasts, torque: p.torque * c.between(0.5, 1.5)})
		c.impacts = append(c.impacts, impact{at, p.loud + c.between(-3, 3), lasts / 2})
		p.left--
		p.nextS = -math.Log(1-c.rng.Float64()) / p.rate
		p.nextS = math.Min(p.nextS, 3/p.rate)
		if p.stubborn {
			if p.cluster--; p.cluster <= 0 {
				p.cluster = 2 + c.rng.IntN(4)
				if p.left > 0 {
					p.nextS = c.between(c.lulls[0], c.lulls[1])
				}
			}
		}
		if p.left > 0 {
			keep = append(keep, p)
		}
	}
	c.pieces = keep
}
