package frame

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"strconv"
)

// Sum returns the check value of data by the names of config.Frame.Checksum, and how many hexadecimal
// digits it is written in; 0 digits for a name it does not know. The parameters are those of the public
// catalogues of CRCs:
//
//	xor           all bytes, exclusive or
//	sum           all bytes added, modulo 256
//	crc8          polynomial 07, begins with 00 (SMBus)
//	crc16-modbus  polynomial 8005 reflected, begins with FFFF (Modbus over serial line)
//	crc16-ccitt   polynomial 1021, begins with FFFF, not reflected
//	crc32         polynomial 04C11DB7 reflected, begins with and inverted by FFFFFFFF (IEEE 802.3)
func Sum(name string, data []byte) (value uint32, digits int) {
	switch name {
	case "xor":
		for _, c := range data {
			value ^= uint32(c)
		}
		return value, 2
	case "sum":
		for _, c := range data {
			value += uint32(c)
		}
		return value & 0xff, 2
	case "crc8":
		for _, c := range data {
			value ^= uint32(c)
			for range 8 {
				value <<= 1
				if value&0x100 != 0 {
					value ^= 0x107
				}
			}
		}
		return value, 2
	case "crc16-modbus":
		value = 0xffff
		for _, c := range data {
			value ^= uint32(c)
			for range 8 {
				odd := value & 1
				value >>= 1
				value ^= odd * 0xa001
			}
		}
		return value, 4
	case "crc16-ccitt":
		value = 0xffff
		for _, c := range data {
			value ^= uint32(c) << 8
			for range 8 {
				value <<= 1
				if value&0x10000 != 0 {
					value ^= 0x11021
				}
			}
		}
		return value, 4
	case "crc32":
		return crc32.ChecksumIEEE(data), 8
	}
	return 0, 0
}

// checked returns the frame without its check value. The value covers everything before its mark, a STX
// included.
func (r *Reader) checked(b []byte) ([]byte, error) {
	if r.cfg.Checksum == "none" || r.cfg.Checksum == "" {
		return b, nil
	}
	b = bytes.TrimRight(b, " \t")
	_, digits := Sum(r.cfg.Checksum, nil)
	at := len(b) - digits
	mark := at - len(r.cfg.ChecksumSep)
	if mark < 0 || string(b[mark:at]) != r.cfg.ChecksumSep {
		return nil, fmt.Errorf("has no check value, expected %q and %d hexadecimal digits at its end", r.cfg.ChecksumSep, digits)
	}
	// ParseUint would take a sign or an underscore for part of a number only in base 0: 16 takes digits.
	said, err := strconv.ParseUint(string(b[at:]), 16, 32)
	if err != nil {
		return nil, fmt.Errorf("has a check value %q, expected %d hexadecimal digits", b[at:], digits)
	}
	if is, _ := Sum(r.cfg.Checksum, b[:mark]); uint64(is) != said {
		return nil, fmt.Errorf("has the check value %0*X, expected %0*X: damaged on the way", digits, said, digits, is)
	}
	return b[:mark], nil
}
