package wave

import (
	"encoding/binary"
	"fmt"

	"quern/rig"
)

// subTail ends the identifiers that stand for a format's tag in an extensible header:
// 0000xxxx-0000-0010-8000-00AA00389B71 (KSDATAFORMAT_SUBTYPE_PCM and _IEEE_FLOAT, "Multiple channel
// audio data and WAVE files").
const subTail = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"

// takeFormat reads the "fmt " chunk of size bytes at offset at.
func (s *scan) takeFormat(size, at int64) error {
	const again = "export the recording again: its header is damaged"
	var b [40]byte
	n := min(size, s.size-at, int64(len(b)))
	if n < 16 {
		return s.fail(at, fmt.Sprintf(`a "fmt " chunk of %d bytes`, n), "at least 16", again)
	}
	if err := s.readAt(b[:n], at); err != nil {
		return err
	}
	tag := binary.LittleEndian.Uint16(b[0:])
	channels := int(binary.LittleEndian.Uint16(b[2:]))
	rateHz := int(binary.LittleEndian.Uint32(b[4:]))
	align := int(binary.LittleEndian.Uint16(b[12:]))
	bits := int(binary.LittleEndian.Uint16(b[14:]))
	if tag == tagExtensible {
		if n < 40 {
			return s.fail(at, fmt.Sprintf(`an extensible "fmt " chunk of %d bytes`, n), "40", again)
		}
		tag = binary.LittleEndian.Uint16(b[24:])
		if string(b[26:40]) != subTail {
			return s.fail(at+24, fmt.Sprintf("the sub-format %x", b[24:40]), "PCM or float", "convert the file to PCM")
		}
	}
	if channels < 1 || channels > MaxChannels {
		return s.fail(at+2, fmt.Sprintf("%d channels", channels), fmt.Sprintf("1 to %d", MaxChannels), again)
	}
	if rateHz < 1 {
		return s.fail(at+4, "0 samples a second", fmt.Sprintf("%.0f to %.0f", rig.MinRateHz, rig.MaxRateHz), again)
	}
	enc, err := s.encoding(tag, bits, at)
	if err != nil {
		return err
	}
	f := Format{RateHz: rateHz, Channels: channels, Encoding: enc}
	if align == 0 {
		s.repaired("the header says 0 bytes a frame: taken as %d", f.FrameBytes())
	} else if align != f.FrameBytes() {
		return s.fail(at+12, fmt.Sprintf("%d bytes a frame", align),
			fmt.Sprintf("%d (%d of %d bits)", f.FrameBytes(), channels, bits), "convert the file to PCM of 16 or 24 bits")
	}
	s.format, s.rateAt = f, at+4
	return nil
}

// encoding names the encoding of a tag and bits a sample. Bits between whole bytes fill the upper
// part of the next whole one (RIFF specification, "Data Format of the Samples"), so that reading
// all of it is right.
func (s *scan) encoding(tag uint16, bits int, at int64) (Encoding, error) {
	switch tag {
	case tagPCM:
		if bits >= 8 && bits <= 32 {
			return PCM8 + Encoding((bits+7)/8-1), nil
		}
		return 0, s.fail(at+14, fmt.Sprintf("PCM of %d bits", bits), "8, 16, 24 or 32", "convert the file to PCM of 24 bits")
	case tagFloat:
		switch bits {
		case 32:
			return Float32, nil
		case 64:
			return Float64, nil
		}
		return 0, s.fail(at+14, fmt.Sprintf("float of %d bits", bits), "32 or 64", "convert the file to float of 32 bits")
	}
	return 0, s.fail(at, fmt.Sprintf("samples of encoding 0x%04X", tag), "PCM (0x0001) or float (0x0003)", "convert the file to PCM: no compressed audio is read")
}
