package stream

import (
	"encoding/json"
	"strconv"
)

// nowMessage encodes what was published last, once.
func (h *Hub) nowMessage() []byte {
	if h.sent != nil {
		return h.sent
	}
	s, err := json.Marshal(h.now)
	if err != nil {
		s = []byte("null") // a type that has no JSON: the tests of whoever publishes it will say so
	}
	b := h.begin("now", h.nowID, len(s)+160)
	b = append(b, `,"at_ms":`...)
	b = strconv.AppendInt(b, h.nowAt.UnixMilli(), 10)
	b = append(b, `,"t_s":`...)
	b = strconv.AppendFloat(b, h.nowAt.Sub(h.begun).Seconds(), 'f', 3, 64)
	b = append(b, `,"s":`...)
	b = append(b, s...)
	h.sent = append(b, "}\n\n"...)
	return h.sent
}

// begin writes what all messages begin with.
func (h *Hub) begin(event string, id int64, size int) []byte {
	b := make([]byte, 0, size)
	b = append(b, "event: "...)
	b = append(b, event...)
	b = append(b, "\nid: "...)
	b = append(b, h.boot...)
	b = append(b, '.')
	b = strconv.AppendInt(b, id, 10)
	b = append(b, "\ndata: {\"boot\":\""...)
	b = append(b, h.boot...)
	b = append(b, `","id":`...)
	return strconv.AppendInt(b, id, 10)
}

// traceMessage encodes the points of [from, to).
func (h *Hub) traceMessage(from, to, id int64) []byte {
	b := h.begin("trace", id, 160+32*int(to-from))
	b = append(b, `,"from_s":`...)
	b = strconv.AppendFloat(b, float64(from)*stepS, 'f', 1, 64)
	b = append(b, `,"step_s":0.1`...)
	for _, part := range []struct {
		name     string
		decimals int
		of       func(k *kept) float32
	}{
		{"laf_db", 1, func(k *kept) float32 { return k.laf }},
		{"rms_a", 2, func(k *kept) float32 { return k.rms }},
		{"mass_g", 1, func(k *kept) float32 { return k.mass }},
	} {
		b = append(b, `,"`...)
		b = append(b, part.name...)
		b = append(b, `":[`...)
		for i := from; i < to; i++ {
			if i > from {
				b = append(b, ',')
			}
			v := float64(part.of(&h.ring[i%ringPoints]))
			if v != v {
				b = append(b, "null"...)
				continue
			}
			b = strconv.AppendFloat(b, v, 'f', part.decimals, 64)
		}
		b = append(b, ']')
	}
	b = append(b, `,"state":[`...)
	for i := from; i < to; i++ {
		if i > from {
			b = append(b, ',')
		}
		b = append(b, '"')
		b = append(b, states[h.ring[i%ringPoints].state]...)
		b = append(b, '"')
	}
	return append(b, "]}\n\n"...)
}
