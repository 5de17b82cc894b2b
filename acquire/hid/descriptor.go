package hid

import (
	"errors"
	"fmt"
	"slices"
)

// Usages of the weighing page; USB-IF HID Usage Tables, page 0x8D (testdata/reference/hid_scale.csv).
const (
	weighingPage = 0x8D
	dataWeight   = weighingPage<<16 | 0x40
	dataScaling  = weighingPage<<16 | 0x41
	firstUnit    = weighingPage<<16 | 0x51
	lastUnit     = weighingPage<<16 | 0x5C
	firstStatus  = weighingPage<<16 | 0x71
	lastStatus   = weighingPage<<16 | 0x78
)

// Limits of what a report descriptor is believed to say.
const (
	mostDescriptor = 4096      // bytes; the kernel's own limit (HID_MAX_DESCRIPTOR_SIZE)
	mostBits       = 16384 * 8 // of a report; the kernel's own limit (HID_MAX_BUFFER_SIZE)
	mostItems      = 4096      // values of one field
	mostLayouts    = 32        // reports that carry a weight
	mostNested     = 64        // pushes of the global items
	mostFlags      = 64        // flags of one choice
)

// Weighing says whether a report descriptor, or what of it can be read, is of a weighing device.
func Weighing(descriptor []byte) bool {
	found := false
	_ = items(descriptor, func(it item) error {
		if it.kind == globalItem && it.tag == tagUsagePage && it.value == weighingPage ||
			it.kind == localItem && it.tag == tagUsage && it.size == 4 && it.value>>16 == weighingPage {
			found = true
		}
		return nil
	})
	return found
}

// Layout says where in a report the parts of a weighing stand.
type Layout struct {
	numbered bool // the first byte of every report is its id
	id       byte
	status   choice
	unit     choice
	scaling  field
	weight   field
	exponent int  // of ten, where the report has no scaling
	bits     int  // length of the report, without its id
	parts    part // which of the above are there
}

type part byte

const (
	hasStatus part = 1 << iota
	hasUnit
	hasScaling
	hasWeight
)

// field is a number in a report.
type field struct {
	at, bits int // from the first bit after the id
	signed   bool
}

// choice is one of several usages, told by its number in one field, or by a field of its own that is not 0.
type choice struct {
	field  field
	least  int64    // number of the first usage
	usages []uint32 // by number
	flags  []flag
}

type flag struct {
	field field
	usage uint32
}

// Usual returns the layout that the standard shows: report 3 of status, unit, signed power of ten, and the
// weight as 16 bits without sign, low byte first.
func Usual() Layout {
	return Layout{
		numbered: true, id: 3,
		status:  choice{field: field{0, 8, false}, least: 1, usages: between(firstStatus, lastStatus)},
		unit:    choice{field: field{8, 8, false}, least: 1, usages: between(firstUnit, lastUnit)},
		scaling: field{16, 8, true},
		weight:  field{24, 16, false},
		bits:    40,
		parts:   hasStatus | hasUnit | hasScaling | hasWeight,
	}
}

func between(first, last uint32) []uint32 {
	var out []uint32
	for u := first; u <= last; u++ {
		out = append(out, u)
	}
	return out
}

// Layouts reads a report descriptor (Device Class Definition for HID 1.11, section 6.2.2) and returns the
// layout of every input report that carries a weight with its status and unit. None is an error.
func Layouts(descriptor []byte) ([]Layout, error) {
	p := parser{reports: map[byte]*Layout{}}
	if err := items(descriptor, p.item); err != nil {
		return nil, err
	}
	var out []Layout
	for _, id := range p.order {
		l := p.reports[id]
		l.numbered = p.numbered
		if need := hasStatus | hasUnit | hasWeight; l.parts&need == need && len(out) < mostLayouts {
			out = append(out, *l)
		}
	}
	if out == nil {
		return nil, errors.New("no report with status, unit and weight")
	}
	return out, nil
}

// global is what holds for all items that follow.
type global struct {
	page              uint32
	logicalLeast      int64
	exponent          int
	reportSize, count int
	id                byte
}

type parser struct {
	global
	pushed   []global
	usages   []uint32
	least    uint32
	hasLeast bool
	numbered bool
	reports  map[byte]*Layout
	order    []byte
}

// Tags of items; HID 1.11, sections 6.2.2.4 to 6.2.2.8.
const (
	mainItem, globalItem, localItem = 0, 1, 2

	tagInput = 8 // main

	tagUsagePage    = 0 // global
	tagLogicalLeast = 1
	tagExponent     = 5
	tagReportSize   = 7
	tagReportID     = 8
	tagReportCount  = 9
	tagPush         = 10
	tagPop          = 11

	tagUsage      = 0 // local
	tagUsageLeast = 1
	tagUsageMost  = 2
)

func (p *parser) item(it item) error {
	switch it.kind {
	case globalItem:
		return p.setGlobal(it)
	case localItem:
		u := it.value
		if it.size < 4 {
			u |= p.page << 16
		}
		switch it.tag {
		case tagUsage:
			if len(p.usages) < mostItems {
				p.usages = append(p.usages, u)
			}
		case tagUsageLeast:
			p.least, p.hasLeast = u, true
		case tagUsageMost:
			for v := p.least; p.hasLeast && v <= u && v >= p.least && len(p.usages) < mostItems; v++ {
				p.usages = append(p.usages, v)
			}
			p.hasLeast = false
		}
	case mainItem:
		var err error
		if it.tag == tagInput {
			err = p.input(it.value)
		}
		p.usages, p.hasLeast = nil, false
		return err
	}
	return nil
}

func (p *parser) setGlobal(it item) error {
	switch it.tag {
	case tagUsagePage:
		p.page = it.value
	case tagLogicalLeast:
		p.logicalLeast = it.signed()
	case tagExponent: // four bits with sign in practice, whatever the item's length
		p.exponent = int(int8(it.value<<4)) >> 4
	case tagReportSize:
		p.reportSize = int(min(it.value, mostBits+1))
	case tagReportCount:
		p.count = int(min(it.value, mostBits+1))
	case tagReportID:
		if it.value == 0 || it.value > 255 {
			return fmt.Errorf("report id %d, expected 1 to 255", it.value)
		}
		p.id, p.numbered = byte(it.value), true
	case tagPush:
		if len(p.pushed) >= mostNested {
			return fmt.Errorf("more than %d pushes", mostNested)
		}
		p.pushed = append(p.pushed, p.global)
	case tagPop:
		if len(p.pushed) == 0 {
			return errors.New("a pop without a push")
		}
		p.global = p.pushed[len(p.pushed)-1]
		p.pushed = p.pushed[:len(p.pushed)-1]
	}
	return nil
}

// Bits of an input item's value; HID 1.11, section 6.2.2.5.
const (
	inputConstant = 1
	inputVariable = 2
)

// input notes the fields of one input item.
func (p *parser) input(value uint32) error {
	l := p.reports[p.id]
	if l == nil {
		l = &Layout{id: p.id}
		p.reports[p.id] = l
		p.order = append(p.order, p.id)
	}
	at := l.bits
	if total := p.reportSize * p.count; p.reportSize > mostBits || p.count > mostBits || at+total > mostBits {
		return fmt.Errorf("report %d of more than %d bits", p.id, mostBits)
	}
	l.bits += p.reportSize * p.count
	if value&inputConstant != 0 || len(p.usages) == 0 || p.reportSize == 0 || p.count == 0 {
		return nil
	}
	if value&inputVariable == 0 {
		if p.reportSize > 32 {
			return nil
		}
		f := field{at, p.reportSize, p.logicalLeast < 0}
		c := choice{field: f, least: p.logicalLeast, usages: slices.Clone(p.usages)}
		if hasUsage(p.usages, firstStatus, lastStatus) && l.parts&hasStatus == 0 {
			l.status, l.parts = c, l.parts|hasStatus
		}
		if hasUsage(p.usages, firstUnit, lastUnit) && l.parts&hasUnit == 0 {
			l.unit, l.parts = c, l.parts|hasUnit
		}
		return nil
	}
	for i := 0; i < min(p.count, mostItems); {
		u, n := p.usages[min(i, len(p.usages)-1)], 1
		// A weight that is declared as several bytes of one usage is one number.
		for u == dataWeight && i+n < p.count && p.usages[min(i+n, len(p.usages)-1)] == u && (n+1)*p.reportSize <= 32 {
			n++
		}
		p.variable(l, u, field{at + i*p.reportSize, n * p.reportSize, p.logicalLeast < 0})
		i += n
	}
	return nil
}

// variable notes a field that has a usage of its own.
func (p *parser) variable(l *Layout, usage uint32, f field) {
	switch {
	case f.bits > 32:
	case usage == dataWeight && l.parts&hasWeight == 0:
		l.weight, l.exponent, l.parts = f, p.exponent, l.parts|hasWeight
	case usage == dataScaling && l.parts&hasScaling == 0:
		f.signed = true // a power of ten, whatever limits are declared
		l.scaling, l.parts = f, l.parts|hasScaling
	case usage >= firstStatus && usage <= lastStatus && len(l.status.flags) < mostFlags:
		l.status.flags, l.parts = append(l.status.flags, flag{f, usage}), l.parts|hasStatus
	case usage >= firstUnit && usage <= lastUnit && len(l.unit.flags) < mostFlags:
		l.unit.flags, l.parts = append(l.unit.flags, flag{f, usage}), l.parts|hasUnit
	}
}

func hasUsage(usages []uint32, first, last uint32) bool {
	return slices.ContainsFunc(usages, func(u uint32) bool { return u >= first && u <= last })
}
