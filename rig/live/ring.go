package live

import "quern/rig"

// ring keeps the last blocks of all channels: what a session begins with.
type ring struct {
	keepS  float64
	blocks []rig.Block
	ends   map[rig.Channel]float64
}

func newRing(keepS float64) ring { return ring{keepS: keepS, ends: map[rig.Channel]float64{}} }

func endOf(b rig.Block) float64 {
	if n := len(b.Readings); n > 0 {
		return b.Readings[n-1].AtS
	}
	return b.StartS
}

func (r *ring) add(b rig.Block) {
	r.blocks = append(r.blocks, b)
	newest := endOf(b)
	n := 0
	for n < len(r.blocks) && endOf(r.blocks[n]) < newest-r.keepS {
		n++
	}
	// Blocks go in one move for many, and let their samples go at once.
	if n > len(r.blocks)/4 {
		kept := copy(r.blocks, r.blocks[n:])
		clear(r.blocks[kept:])
		r.blocks = r.blocks[:kept]
	}
}

// fromS is the instant from which all channels are in the ring.
func (r *ring) fromS() float64 {
	if len(r.blocks) == 0 {
		return 0
	}
	b := r.blocks[0]
	if n := len(b.Readings); n > 0 {
		return b.Readings[0].AtS
	}
	return b.StartS
}

func (r *ring) clear() {
	clear(r.blocks)
	r.blocks = r.blocks[:0]
}
