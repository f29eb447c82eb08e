package main

import (
	"bytes"
	"encoding/binary"
)

// unfinished reports whether a file lacks an end that its kind must have, or a part that it says it has, so
// that more is likely to come. It is about waiting, not about trust: whether a photo is whole, only unpacking
// it tells.
func unfinished(data []byte) bool {
	tail := data[max(0, len(data)-4096):]
	switch {
	case len(bytes.Trim(tail, "\x00")) == 0: // empty, or room that was made in advance
		return true
	case bytes.HasPrefix(data, []byte("\xFF\xD8\xFF")): // its end mark, not that of a thumbnail near its start
		return bytes.LastIndex(data, []byte("\xFF\xD9")) < len(data)/2
	case bytes.HasPrefix(data, []byte("\x89PNG")):
		return !bytes.Contains(tail, []byte("IEND"))
	case bytes.HasPrefix(data, []byte("%PDF-")):
		return !bytes.Contains(tail, []byte("%%EOF"))
	case bytes.HasPrefix(data, []byte("II*\x00")):
		return unfinishedTIFF(data, binary.LittleEndian)
	case bytes.HasPrefix(data, []byte("MM\x00*")):
		return unfinishedTIFF(data, binary.BigEndian)
	case len(data) >= 8 && string(data[4:8]) == "ftyp":
		return unfinishedBoxes(data)
	}
	return false
}

// unfinishedBoxes reports whether a HEIC file's boxes reach beyond its end, or the one with the pictures has
// not even begun. Source: ISO/IEC 14496-12, 4.2.
func unfinishedBoxes(data []byte) bool {
	pictures := false
	for at := uint64(0); at < uint64(len(data)); {
		rest := data[at:]
		if len(rest) < 8 {
			return true
		}
		size, least := uint64(binary.BigEndian.Uint32(rest)), uint64(8)
		pictures = pictures || string(rest[4:8]) == "mdat"
		switch size {
		case 0: // as far as the file goes, and who knows how far that is
			return false
		case 1: // a longer number follows
			if len(rest) < 16 {
				return true
			}
			size, least = binary.BigEndian.Uint64(rest[8:]), 16
		}
		if size < least {
			return false // damaged, and no waiting mends that
		}
		if size > uint64(len(rest)) {
			return true
		}
		at += size
	}
	return !pictures
}

// unfinishedTIFF reports whether a directory of a TIFF file, or a part of a picture that one lists, lies
// beyond its end. Source: TIFF 6.0, section 2, and tags 273, 279, 324, 325.
func unfinishedTIFF(data []byte, order binary.ByteOrder) bool {
	n := uint64(len(data))
	if n < 8 {
		return true
	}
	seen := map[uint64]bool{}
	for at := uint64(order.Uint32(data[4:])); at != 0 && !seen[at] && len(seen) < 1000; {
		seen[at] = true
		if at+2 > n {
			return true
		}
		end := at + 2 + 12*uint64(order.Uint16(data[at:]))
		if end+4 > n {
			return true
		}
		parts := map[uint16][]uint64{} // by tag: where parts of the picture begin, and how long they are
		for e := at + 2; e < end; e += 12 {
			switch tag := order.Uint16(data[e:]); tag {
			case 273, 279, 324, 325:
				values, beyond := tiffValues(data, e, order)
				if beyond {
					return true
				}
				parts[tag] = values
			}
		}
		for _, tags := range [][2]uint16{{273, 279}, {324, 325}} {
			starts, lengths := parts[tags[0]], parts[tags[1]]
			for i := range min(len(starts), len(lengths)) {
				if starts[i]+lengths[i] > n {
					return true
				}
			}
		}
		at = uint64(order.Uint32(data[end:]))
	}
	return false
}

// tiffValues returns the numbers of the directory entry at e, or that they lie beyond the file's end.
func tiffValues(data []byte, e uint64, order binary.ByteOrder) (values []uint64, beyond bool) {
	size := map[uint16]uint64{3: 2, 4: 4}[order.Uint16(data[e+2:])] // SHORT and LONG
	count := uint64(order.Uint32(data[e+4:]))
	at := e + 8
	if size*count > 4 {
		at = uint64(order.Uint32(data[e+8:]))
	}
	if at+size*count > uint64(len(data)) {
		return nil, true
	}
	for i := range count {
		switch size {
		case 2:
			values = append(values, uint64(order.Uint16(data[at+2*i:])))
		case 4:
			values = append(values, uint64(order.Uint32(data[at+4*i:])))
		default:
			return nil, false
		}
	}
	return values, false
}
