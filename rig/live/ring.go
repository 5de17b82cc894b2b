package live

import "quern/rig"

// ring keeps the last blocks of all channels: what a session begins with. It is most of the daemon's
// memory, so samples are kept in single precision where the recordings' encoding fits into it.
type ring struct {
	keepS  float64
	single bool
	blocks []kept
}

// kept is a block whose samples may stand in thin.
type kept struct {
	rig.Block
	thin []float32
	had  bool // it held samples
}

func (k kept) block() rig.Block {
	b := k.Block
	if k.thin != nil {
		b.Samples = make([]float64, len(k.thin))
		for i, v := range k.thin {
			b.Samples[i] = float64(v)
		}
	}
	return b
}

// endOf is the instant of what came last in it; of samples, that of the first.
func endOf(b rig.Block) float64 {
	if n := len(b.Readings); n > 0 {
		return b.Readings[n-1].AtS
	}
	return b.StartS
}

func (r *ring) add(b rig.Block) {
	k := kept{Block: b, had: len(b.Samples) > 0}
	if r.single && len(b.Samples) > 0 {
		k.thin = make([]float32, len(b.Samples))
		for i, v := range b.Samples {
			k.thin[i] = float32(v)
		}
		k.Samples = nil
	}
	r.blocks = append(r.blocks, k)
	newest := endOf(b)
	n := 0
	for n < len(r.blocks) && endOf(r.blocks[n].Block) < newest-r.keepS {
		n++
	}
	// Old blocks go many at a time; their samples go at once.
	for i := range n {
		r.blocks[i].Samples, r.blocks[i].thin = nil, nil
	}
	if n > 64 {
		left := copy(r.blocks, r.blocks[n:])
		clear(r.blocks[left:])
		r.blocks = r.blocks[:left]
	}
}

// each calls take with every block that the ring still holds, in their order, until it fails.
func (r *ring) each(take func(rig.Block) error) error {
	for _, k := range r.blocks {
		if k.gone() {
			continue
		}
		if err := take(k.block()); err != nil {
			return err
		}
	}
	return nil
}

// gone says whether the samples of a block were let go.
func (k kept) gone() bool { return k.had && k.thin == nil && k.Samples == nil }

// fromS is the instant from which the ring holds what came.
func (r *ring) fromS() float64 {
	for _, k := range r.blocks {
		if k.gone() {
			continue
		}
		if len(k.Readings) > 0 {
			return k.Readings[0].AtS
		}
		return k.StartS
	}
	return 0
}

// empty says whether nothing has come since it was cleared.
func (r *ring) empty() bool { return len(r.blocks) == 0 }

func (r *ring) clear() {
	clear(r.blocks)
	r.blocks = r.blocks[:0]
}
