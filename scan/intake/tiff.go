package intake

import (
	"encoding/binary"
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"gatefold/scan"
)

// Tags of a TIFF directory that we look at ourselves. Source: TIFF 6.0, section 8.
const (
	tagSubfile     = 254 // bit 0: a small copy of another picture in the file
	tagWidth       = 256
	tagLength      = 257
	tagOrientation = 274
	tagStripRows   = 278
	tagTileWidth   = 322
	tagTileLength  = 323
)

// tiffPage is one directory of a TIFF file.
type tiffPage struct {
	at            uint32 // where the directory begins
	width, length int
	orientation   int
	turnAt        int // where the orientation's value stands, or 0
	small         bool
	stripRows     int // rows of one strip, or 0 where that isn't said
	tileW, tileH  int
}

// piece is how many pixels are unpacked at once: a strip, or a tile.
func (p *tiffPage) piece() int {
	switch {
	case p.tileW > 0 && p.tileH > 0 && p.tileW < 1<<31/p.tileH:
		return p.tileW * p.tileH
	case p.tileW > 0:
		return 1 << 31
	case p.stripRows > 0:
		return p.width * min(p.stripRows, p.length)
	}
	return p.width * p.length
}

// unpackTIFF sends every page of a TIFF file. OpenCV unpacks the first directory of a file only, turns it by
// itself in some releases, and asks for the whole before it looks at a size: so the directories are read here,
// and each is shown to OpenCV as the first of an unturned file.
func (j *job) unpackTIFF() error {
	order := binary.ByteOrder(binary.LittleEndian)
	if j.file[0] == 'M' {
		order = binary.BigEndian
	}
	pages, err := tiffPages(j.file, order, j.limits.Pages)
	if errors.Is(err, errManyPages) {
		return j.refuse(0, 0, fmt.Sprintf("it has more than %d pages", j.limits.Pages), remedySplit)
	}
	if err != nil {
		return j.refuse(0, 0, err.Error(), remedyAgain)
	}
	if len(pages) == 0 {
		return j.refuse(0, 0, "holds no picture of its own, as raw files of cameras do", remedyPlain)
	}
	pixels := 0
	for _, p := range pages {
		if scan.CheckSize(j.name, p.width, p.length) == nil { // others are refused by themselves
			pixels += p.width * p.length
		}
	}
	if pixels > j.limits.Pixels {
		return j.refuse(0, 0, tooManyPixels(len(pages), j.limits.Pixels), remedySplit)
	}
	for i, p := range pages {
		if err := j.unpackTIFFPage(p, order, i+1, len(pages)); err != nil {
			return err
		}
	}
	return nil
}

func (j *job) unpackTIFFPage(p tiffPage, order binary.ByteOrder, page, pages int) error {
	if err := scan.CheckSize(j.name, p.width, p.length); err != nil {
		return j.refuseAs(page, pages, err)
	}
	// libtiff makes four bytes of each pixel of a piece, beside the piece as it is, packed and not.
	if need := 6*int64(p.piece()) + int64(p.width*p.length) + int64(len(j.file)); need > j.limits.Memory {
		return j.refuse(page, pages, fmt.Sprintf("its strips or tiles are so large that it needs more than %d MB", j.limits.Memory>>20), remedySmaller)
	}
	j.allow(p.width * p.length)
	order.PutUint32(j.file[4:], p.at)
	if p.turnAt > 0 {
		order.PutUint16(j.file[p.turnAt:], 1)
	}
	grey, err := gocv.IMDecode(j.file, gocv.IMReadGrayScale|gocv.IMReadIgnoreOrientation)
	if err != nil || grey.Empty() || grey.Cols() != p.width || grey.Rows() != p.length {
		_ = grey.Close()
		return j.refuse(page, pages, "the picture can't be unpacked", remedyAgain)
	}
	grey = scan.Turn(grey, p.orientation)
	defer grey.Close()
	return j.sendMat(scan.Meta{Format: string(tiffFile), Orientation: p.orientation}, page, pages, grey)
}

// errManyPages says that a file has more pages than are asked for.
var errManyPages = errors.New("it has too many pages")

// tiffPages lists the directories that hold a picture of their own.
func tiffPages(file []byte, order binary.ByteOrder, most int) ([]tiffPage, error) {
	cut := errors.New("the file is cut short")
	if len(file) < 8 {
		return nil, cut
	}
	var pages []tiffPage
	seen := map[uint32]bool{}
	for at := order.Uint32(file[4:]); at != 0; {
		if seen[at] {
			return nil, errors.New("the file is damaged: its pages run in a ring")
		}
		seen[at] = true
		if len(seen) > 4*most {
			return nil, errManyPages
		}
		if int64(at)+2 > int64(len(file)) {
			return nil, cut
		}
		entries := int(order.Uint16(file[at:]))
		first := int(at) + 2
		end := first + 12*entries
		if end+4 > len(file) {
			return nil, cut
		}
		p := tiffPage{at: at, orientation: 1}
		for e := first; e < end; e += 12 {
			p.note(file, e, order)
		}
		if !p.small && p.width > 0 && p.length > 0 {
			pages = append(pages, p)
		}
		at = order.Uint32(file[end:])
	}
	if len(pages) > most {
		return nil, errManyPages
	}
	return pages, nil
}

// note takes what one entry of a directory says: a tag, a type (3 SHORT, 4 LONG), a count, a value.
func (p *tiffPage) note(file []byte, at int, order binary.ByteOrder) {
	value := int(order.Uint32(file[at+8:]))
	switch order.Uint16(file[at+2:]) {
	case 3:
		value = int(order.Uint16(file[at+8:]))
	case 4:
	default:
		return
	}
	switch order.Uint16(file[at:]) {
	case tagSubfile:
		p.small = value&1 != 0
	case tagWidth:
		p.width = value
	case tagLength:
		p.length = value
	case tagStripRows:
		p.stripRows = value
	case tagTileWidth:
		p.tileW = value
	case tagTileLength:
		p.tileH = value
	case tagOrientation:
		p.turnAt = 0
		if value >= 1 && value <= 8 && order.Uint16(file[at+2:]) == 3 {
			p.orientation, p.turnAt = value, at+8
		}
	}
}
