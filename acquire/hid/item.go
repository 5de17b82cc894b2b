package hid

import "fmt"

// item is one item of a report descriptor.
type item struct {
	kind, tag byte
	size      int // bytes of the value
	value     uint32
}

func (it item) signed() int64 {
	switch it.size {
	case 1:
		return int64(int8(it.value))
	case 2:
		return int64(int16(it.value))
	}
	return int64(int32(it.value))
}

// items calls each for every item of a descriptor; HID 1.11, section 6.2.2.1 to 6.2.2.3.
func items(descriptor []byte, each func(item) error) error {
	if len(descriptor) > mostDescriptor {
		return fmt.Errorf("%d bytes, expected at most %d", len(descriptor), mostDescriptor)
	}
	const long = 0xFE
	for at := 0; at < len(descriptor); {
		prefix := descriptor[at]
		if prefix == long { // reserved by the standard: skipped
			if at+1 >= len(descriptor) || at+3+int(descriptor[at+1]) > len(descriptor) {
				return fmt.Errorf("byte %d: a long item that is cut off", at)
			}
			at += 3 + int(descriptor[at+1])
			continue
		}
		it := item{kind: prefix >> 2 & 3, tag: prefix >> 4, size: int(prefix & 3)}
		if it.size == 3 {
			it.size = 4
		}
		if at+1+it.size > len(descriptor) {
			return fmt.Errorf("byte %d: an item that is cut off", at)
		}
		for i, b := range descriptor[at+1 : at+1+it.size] {
			it.value |= uint32(b) << (8 * i)
		}
		if err := each(it); err != nil {
			return fmt.Errorf("byte %d: %w", at, err)
		}
		at += 1 + it.size
	}
	return nil
}
