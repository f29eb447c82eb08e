package salvage

import (
	"encoding/binary"
	"math"
)

// varint reads SQLite's number of 1 to 9 bytes.
func varint(b []byte) (v int64, rest []byte, ok bool) {
	var u uint64
	for i := range 9 {
		if i >= len(b) {
			return 0, nil, false
		}
		if i == 8 {
			return int64(u<<8 | uint64(b[8])), b[9:], true //nolint:gosec // two's complement, as the format says
		}
		u = u<<7 | uint64(b[i]&0x7f)
		if b[i] < 0x80 {
			return int64(u), b[i+1:], true //nolint:gosec // at most 56 bits
		}
	}
	return 0, nil, false
}

// record reads the values of a row: nil, int64, float64, string (a text) or []byte.
func record(b []byte) ([]any, error) {
	head, rest, ok := varint(b)
	if !ok || head < 1 || head > int64(len(b)) {
		return nil, errShape
	}
	kinds, body := b[len(b)-len(rest):head], b[head:]
	var values []any
	for len(kinds) > 0 {
		var kind int64
		if kind, kinds, ok = varint(kinds); !ok {
			return nil, errShape
		}
		size := sizeOf(kind)
		if size < 0 || size > int64(len(body)) {
			return nil, errShape
		}
		values = append(values, value(kind, body[:size]))
		body = body[size:]
	}
	if len(body) > 0 {
		return nil, errShape
	}
	return values, nil
}

func sizeOf(kind int64) int64 {
	switch {
	case kind < 0, kind == 10, kind == 11:
		return -1
	case kind >= 12:
		return (kind - 12) / 2
	}
	return []int64{0, 1, 2, 3, 4, 6, 8, 8, 0, 0}[kind]
}

func value(kind int64, b []byte) any {
	switch {
	case kind == 0:
		return nil
	case kind == 7:
		return math.Float64frombits(binary.BigEndian.Uint64(b))
	case kind == 8, kind == 9:
		return kind - 8
	case kind >= 13 && kind%2 == 1:
		return string(b)
	case kind >= 12:
		return append([]byte{}, b...)
	}
	var u uint64
	if b[0] >= 0x80 {
		u = math.MaxUint64
	}
	for _, c := range b {
		u = u<<8 | uint64(c)
	}
	return int64(u) //nolint:gosec // two's complement, as the format says
}
