package salvage

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
)

// Limits of a file that may be anything.
const (
	headLen    = 100
	pageDflt   = 4096 // SQLite's default size of a page, taken where the head doesn't tell
	maxDepth   = 64
	maxPayload = 64 << 20
)

var magic = []byte("SQLite format 3\x00")

// pages is a database file with what its log adds, cut into pages.
type pages struct {
	file   []byte
	size   int
	usable int
	count  int
	logged map[int][]byte // newer pages from the log
	used   map[int]bool   // reached in a walk, as a node or as a row's overflow
	bad    map[int]string // page: what is wrong
	holes  map[int]bool   // free pages: what stands there was taken out
	first  string         // what is wrong with the head, if anything
}

func newPages(file, wal []byte) *pages {
	p := &pages{file: file, size: pageDflt, logged: map[int][]byte{}, used: map[int]bool{}, bad: map[int]string{}, holes: map[int]bool{}}
	p.applyLog(wal)
	head := file
	if one := p.logged[1]; one != nil {
		head = one
	}
	reserved := 0
	switch {
	case len(head) < headLen || !bytes.HasPrefix(head, magic):
		p.first = "the head of the file is not SQLite's"
	default:
		size := int(binary.BigEndian.Uint16(head[16:]))
		if size == 1 {
			size = 65536
		}
		if size < 512 || size&(size-1) != 0 || int(head[20]) > size-480 {
			p.first = "the head of the file gives no possible size of a page"
			break
		}
		p.size, reserved = size, int(head[20])
	}
	p.usable = p.size - reserved
	p.count = (len(file) + p.size - 1) / p.size
	if p.first == "" {
		// A file that was cut off still says how long it was.
		if said := int(binary.BigEndian.Uint32(head[28:])); said > p.count && said < 1<<22 && bytes.Equal(head[24:28], head[92:96]) {
			for n := p.count + 1; n <= said && p.logged[n] == nil; n++ {
				p.bad[n] = "it is cut off"
			}
			p.count = said
		}
	}
	for n := range p.logged {
		p.count = max(p.count, n)
	}
	if p.first == "" {
		p.free(int(binary.BigEndian.Uint32(head[32:])))
	}
	return p
}

// page returns the bytes of a page, counted from 1; nil if the file doesn't hold it whole.
func (p *pages) page(n int) []byte {
	if b := p.logged[n]; b != nil {
		return b
	}
	if n < 1 || n > p.count || n*p.size > len(p.file) {
		return nil
	}
	return p.file[(n-1)*p.size : n*p.size]
}

// applyLog takes over what whole transactions of a write-ahead log say. Source: section 4 of the file format.
func (p *pages) applyLog(wal []byte) {
	if len(wal) < 32 {
		return
	}
	var order binary.ByteOrder
	switch binary.BigEndian.Uint32(wal) {
	case 0x377f0682:
		order = binary.LittleEndian
	case 0x377f0683:
		order = binary.BigEndian
	default:
		return
	}
	size := int(binary.BigEndian.Uint32(wal[8:]))
	if size < 512 || size > 65536 || size&(size-1) != 0 {
		return
	}
	s := sums(order, [2]uint32{}, wal[:24])
	if !s.are(wal[24:32]) {
		return
	}
	salt := wal[16:24]
	pending := map[int][]byte{}
	for at := 32; at+24+size <= len(wal); at += 24 + size {
		frame, page := wal[at:at+24], wal[at+24:at+24+size]
		s = sums(order, s, frame[:8])
		s = sums(order, s, page)
		if !bytes.Equal(frame[8:16], salt) || !s.are(frame[16:24]) {
			return
		}
		pending[int(binary.BigEndian.Uint32(frame))] = page
		if binary.BigEndian.Uint32(frame[4:]) != 0 { // the end of a transaction
			for n, b := range pending {
				p.logged[n] = b
			}
			clear(pending)
		}
	}
}

type sum [2]uint32

func (s sum) are(b []byte) bool {
	return binary.BigEndian.Uint32(b) == s[0] && binary.BigEndian.Uint32(b[4:]) == s[1]
}

func sums(order binary.ByteOrder, s sum, b []byte) sum {
	for ; len(b) >= 8; b = b[8:] {
		s[0] += order.Uint32(b) + s[1]
		s[1] += order.Uint32(b[4:]) + s[0]
	}
	return s
}

// free follows the list of free pages: what still stands on them was taken out of the database.
func (p *pages) free(trunk int) {
	for trunk != 0 && !p.holes[trunk] {
		b := p.page(trunk)
		if b == nil {
			return
		}
		p.holes[trunk] = true
		n := int(binary.BigEndian.Uint32(b[4:]))
		if n > p.usable/4-2 {
			return
		}
		for i := range n {
			p.holes[int(binary.BigEndian.Uint32(b[8+4*i:]))] = true
		}
		trunk = int(binary.BigEndian.Uint32(b))
	}
}

// The kinds of nodes.
const (
	indexNode = 2
	tableNode = 5
	indexLeaf = 10
	tableLeaf = 13
)

// entry is what a leaf holds: the number of a row and its values. An index's entry has no number of its own.
type entry struct {
	rowid  int64
	values []any
}

// node is one page of a tree.
type node struct {
	kind     int
	children []int
	entries  []entry
	broken   int // cells that make no sense
}

var errShape = errors.New("it is no page of a table or index")

// node takes a page apart.
func (p *pages) node(n int) (nd node, err error) {
	b := p.page(n)
	if b == nil {
		return nd, errors.New("the file doesn't hold it")
	}
	h := 0
	if n == 1 {
		h = headLen
	}
	nd.kind = int(b[h])
	length := 8
	switch nd.kind {
	case tableNode, indexNode:
		length = 12
	case tableLeaf, indexLeaf:
	default:
		return nd, errShape
	}
	cells := int(binary.BigEndian.Uint16(b[h+3:]))
	if h+length+2*cells > p.usable {
		return nd, errShape
	}
	for i := range cells {
		at := int(binary.BigEndian.Uint16(b[h+length+2*i:]))
		if at < h+length+2*cells || at > p.usable-4 {
			nd.broken++
			continue
		}
		cell := b[at:p.usable]
		if length == 12 {
			nd.children = append(nd.children, int(binary.BigEndian.Uint32(cell)))
			cell = cell[4:]
		}
		if nd.kind == tableNode {
			continue
		}
		e, err := p.entry(cell, nd.kind == tableLeaf)
		if err != nil {
			nd.broken++
			continue
		}
		nd.entries = append(nd.entries, e)
	}
	if length == 12 {
		nd.children = append(nd.children, int(binary.BigEndian.Uint32(b[h+8:])))
	}
	if nd.broken == cells && cells > 0 && length == 8 {
		return nd, errShape
	}
	return nd, nil
}

// entry reads a cell, from its overflow pages too.
func (p *pages) entry(cell []byte, table bool) (e entry, err error) {
	size, cell, ok := varint(cell)
	if !ok || size < 0 || size > maxPayload {
		return e, errShape
	}
	most := (p.usable-12)*64/255 - 23
	if table {
		most = p.usable - 35
		if e.rowid, cell, ok = varint(cell); !ok {
			return e, errShape
		}
	}
	here, total := int(size), int(size)
	if total > most {
		least := (p.usable-12)*32/255 - 23
		if here = least + (total-least)%(p.usable-4); here > most {
			here = least
		}
	}
	if here > len(cell) {
		return e, errShape
	}
	payload := cell[:here]
	if here < total {
		if here+4 > len(cell) {
			return e, errShape
		}
		payload = slices.Clone(payload)
		var chain []int
		next := int(binary.BigEndian.Uint32(cell[here:]))
		for len(payload) < total {
			b := p.page(next)
			if b == nil || slices.Contains(chain, next) {
				return e, fmt.Errorf("its overflow page %d is not there", next)
			}
			chain = append(chain, next)
			payload = append(payload, b[4:min(p.usable, 4+total-len(payload))]...)
			next = int(binary.BigEndian.Uint32(b))
		}
		if next != 0 {
			return e, errors.New("its overflow has no end")
		}
		for _, n := range chain {
			p.used[n] = true
		}
	}
	e.values, err = record(payload)
	return e, err
}
