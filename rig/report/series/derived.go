package series

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"slices"
)

// derived is what a file holds.
type derived struct {
	waves   map[string]blocks
	series  map[string]points
	octaves *cells
}

type blocks struct {
	block        int64
	lo, hi, mean []float32
}

type cells struct {
	bands             int
	stepS             float64
	exposure, covered []float32
}

func derivedOf(s *Session) *derived {
	d := &derived{map[string]blocks{}, map[string]points{}, nil}
	for name, w := range s.waves {
		d.waves[name] = blocks{w.block, w.lo, w.hi, w.mean}
	}
	for _, name := range s.toDerive() {
		d.series[name] = s.series[name].points
	}
	if o := s.octaves; o != nil {
		d.octaves = &cells{o.bands, o.stepS, o.exposure, o.covered}
	}
	return d
}

// toDerive returns the names of the series that are not readings.
func (s *Session) toDerive() []string {
	var out []string
	if s.waves[Waveform] != nil {
		out = append(out, Level)
	}
	if s.waves[Current] != nil {
		out = append(out, RMS)
	}
	return out
}

// into puts what was derived into a session of which it may be.
func (d *derived) into(s *Session) error {
	if len(d.waves) != len(s.waves) || len(d.series) != len(s.toDerive()) || (d.octaves == nil) != (s.octaves == nil) {
		return errNotStored
	}
	for name, w := range s.waves {
		if b, ok := d.waves[name]; !ok || b.block != w.block || int64(len(b.lo)) != w.blocks() {
			return errNotStored
		}
	}
	for _, name := range s.toDerive() {
		if _, ok := d.series[name]; !ok {
			return errNotStored
		}
	}
	for name, w := range s.waves {
		b := d.waves[name]
		w.lo, w.hi, w.mean = b.lo, b.hi, b.mean
		w.done.Store(int64(len(b.lo)))
	}
	for name, p := range d.series {
		s.series[name].points = p
	}
	if o := d.octaves; o != nil {
		s.octaves.bands, s.octaves.stepS, s.octaves.exposure, s.octaves.covered = o.bands, o.stepS, o.exposure, o.covered
	}
	return nil
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// encode returns the file: magic, version, key, the parts in order of their names, and the CRC-32C of it
// all. Numbers are little-endian.
func (d *derived) encode(key string) []byte {
	e := &encoder{b: []byte(storeMagic)}
	e.count(storeVersion)
	e.text(key)
	e.count(len(d.waves))
	for _, name := range sortedKeys(d.waves) {
		w := d.waves[name]
		e.text(name)
		e.count(int(w.block))
		e.floats(w.lo, w.hi, w.mean)
	}
	e.count(len(d.series))
	for _, name := range sortedKeys(d.series) {
		p := d.series[name]
		e.text(name)
		e.count(p.every)
		e.count(len(p.gaps))
		for _, g := range p.gaps {
			e.number(g.fromS)
			e.number(g.toS)
		}
		e.count(len(p.at))
		for _, v := range p.at {
			e.number(v)
		}
		e.floats(p.lo, p.hi, p.mean)
	}
	if o := d.octaves; o != nil {
		e.count(1)
		e.count(o.bands)
		e.number(o.stepS)
		e.floats(o.exposure, o.covered)
	} else {
		e.count(0)
	}
	return binary.LittleEndian.AppendUint32(e.b, crc32.Checksum(e.b, castagnoli))
}

type encoder struct{ b []byte }

func (e *encoder) count(n int)      { e.b = binary.LittleEndian.AppendUint32(e.b, uint32(n)) }
func (e *encoder) number(v float64) { e.b = binary.LittleEndian.AppendUint64(e.b, math.Float64bits(v)) }
func (e *encoder) text(s string)    { e.count(len(s)); e.b = append(e.b, s...) }

func (e *encoder) floats(all ...[]float32) {
	for _, v := range all {
		e.count(len(v))
		for _, x := range v {
			e.b = binary.LittleEndian.AppendUint32(e.b, math.Float32bits(x))
		}
	}
}

// decodeDerived reads what encode wrote under the same key.
func decodeDerived(b []byte, key string) (*derived, error) {
	if len(b) < len(storeMagic)+4 || string(b[:len(storeMagic)]) != storeMagic {
		return nil, errNotStored
	}
	body := b[:len(b)-4]
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(b[len(b)-4:]) {
		return nil, fmt.Errorf("a checksum that does not prove the file: %w", errNotStored)
	}
	r := &decoder{b: body[len(storeMagic):]}
	if r.count() != storeVersion || r.text() != key {
		return nil, errNotStored
	}
	d := &derived{map[string]blocks{}, map[string]points{}, nil}
	last := ""
	for n := r.count(); n > 0 && !r.bad; n-- {
		name, block := r.after(last), r.count()
		last = name
		v := r.alike(3)
		d.waves[name] = blocks{int64(block), v[0], v[1], v[2]}
	}
	last = ""
	for n := r.count(); n > 0 && !r.bad; n-- {
		name := r.after(last)
		last = name
		p := points{every: r.count()}
		for g := r.count(); g > 0 && !r.bad; g-- {
			p.gaps = append(p.gaps, span{r.number(), r.number()})
		}
		p.at = r.numbers()
		v := r.alike(3)
		p.lo, p.hi, p.mean = v[0], v[1], v[2]
		r.bad = r.bad || len(p.at) != len(p.lo)
		d.series[name] = p
	}
	switch r.count() {
	case 0:
	case 1:
		o := &cells{bands: r.count(), stepS: r.number()}
		v := r.alike(2)
		o.exposure, o.covered = v[0], v[1]
		r.bad = r.bad || !(o.stepS > 0 && o.stepS < longestS) || o.bands > 1000 || o.bands == 0 && len(o.covered) > 0 || o.bands > 0 && len(o.covered)%o.bands != 0
		d.octaves = o
	default:
		r.bad = true
	}
	if r.bad || len(r.b) > 0 {
		return nil, errNotStored
	}
	return d, nil
}

// decoder reads numbers until there is not what was promised.
type decoder struct {
	b   []byte
	bad bool
}

func (d *decoder) take(n int) []byte {
	if d.bad || n < 0 || n > len(d.b) {
		d.bad = true
		return nil
	}
	out := d.b[:n]
	d.b = d.b[n:]
	return out
}

func (d *decoder) count() int {
	if b := d.take(4); b != nil {
		return int(binary.LittleEndian.Uint32(b))
	}
	return 0
}

func (d *decoder) number() float64 {
	if b := d.take(8); b != nil {
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	return 0
}

func (d *decoder) text() string { return string(d.take(d.count())) }

// after reads a name, which comes after the one before it.
func (d *decoder) after(last string) string {
	name := d.text()
	d.bad = d.bad || name <= last
	return name
}

func (d *decoder) numbers() []float64 {
	b := d.take(8 * d.count())
	out := make([]float64, len(b)/8)
	for i := range out {
		out[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return out
}

// alike reads n lists of equal length.
func (d *decoder) alike(n int) [][]float32 {
	out := make([][]float32, n)
	for k := range out {
		b := d.take(4 * d.count())
		out[k] = make([]float32, len(b)/4)
		for i := range out[k] {
			out[k][i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
		}
		d.bad = d.bad || len(out[k]) != len(out[0])
	}
	return out
}

func sortedKeys[T any](m map[string]T) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
