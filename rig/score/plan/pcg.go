package plan

import "math/bits"

// pcg is the generator PCG-XSH-RR with 64 bits of state and 32 of output (M. E. O'Neill, "PCG: A
// family of simple fast space-efficient statistically good algorithms for random number generation",
// HMC-CS-2014-0905). It is written out here so that a plan can be drawn again from its seed for ever.
type pcg struct{ state, inc uint64 }

const pcgMultiplier = 6364136223846793005

// newPCG starts the stream of a seed; each stream number gives another sequence.
func newPCG(seed, stream uint64) *pcg {
	g := &pcg{inc: stream<<1 | 1}
	g.next()
	g.state += seed
	g.next()
	return g
}

func (g *pcg) next() uint32 {
	old := g.state
	g.state = old*pcgMultiplier + g.inc
	return bits.RotateLeft32(uint32((old>>18^old)>>27), -int(old>>59))
}

// below returns a number from 0 to n-1, all equally likely: what would favour the first few is
// drawn again.
func (g *pcg) below(n int) int {
	bound := uint32(n)
	for least := -bound % bound; ; {
		if v := g.next(); v >= least {
			return int(v % bound)
		}
	}
}

// sample returns n of the given in random order (Fisher-Yates).
func (g *pcg) sample(from []string, n int) []string {
	out := append([]string(nil), from...)
	for i := range n {
		j := i + g.below(len(out)-i)
		out[i], out[j] = out[j], out[i]
	}
	return out[:n]
}
