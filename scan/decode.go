package scan

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg" // registers itself for the declared size, as does the next
	"image/png"
	"path/filepath"

	"gocv.io/x/gocv"
)

// MaxPixels is the largest picture size that Decode unpacks. Phones make 12 to 50 million; some 100 and 200
// million, which shows no more of a card: a JPEG of up to four times as many is unpacked at half its width
// and height.
const MaxPixels = 80_000_000

// Meta says what kind of file a photo came from.
type Meta struct {
	Format      string // "jpeg" or "png"; further kinds come through package intake
	Width       int    // px as unpacked, EXIF turn applied
	Height      int
	Orientation int // EXIF orientation, 1 to 8; 1 where the file has none
}

// FileError says why a file can't be read as a photo. Remedy is for the person who sent it.
type FileError struct {
	Name   string
	Detail string
	Remedy string
}

// Error returns name, detail and remedy in one sentence.
func (e *FileError) Error() string {
	return fmt.Sprintf("photo %s: %s; %s", filepath.Base(e.Name), e.Detail, e.Remedy)
}

// Decode reads a JPEG or PNG file as an 8-bit grey picture, its EXIF turn applied. It unpacks in this very
// process: what comes from outside goes through package intake, which calls it in a process of its own.
//
// The caller closes the Mat. Any error is a *FileError; then the Mat is empty and needs no closing.
// The declared size is checked before anything is unpacked. name is used in messages only.
// Safe for concurrent use.
func Decode(name string, file []byte) (gocv.Mat, Meta, error) {
	refuse := func(detail, remedy string) (gocv.Mat, Meta, error) {
		return gocv.Mat{}, Meta{}, &FileError{Name: name, Detail: detail, Remedy: remedy}
	}
	if len(file) == 0 {
		return refuse("the file is empty", "send it again")
	}
	size, format, err := image.DecodeConfig(bytes.NewReader(file))
	switch {
	case errors.Is(err, image.ErrFormat), err == nil && format != "jpeg" && format != "png":
		return refuse("is neither JPEG nor PNG", "send the photo as the phone took it, as JPEG")
	case unsupported(err):
		return refuse("it is a rare kind that isn't read: "+err.Error(), "send the photo as the phone took it, as JPEG")
	case err != nil:
		return refuse("the file is damaged: "+err.Error(), "send it again")
	}
	part, pixels := 1, size.Width*size.Height // no overflow: a side has 65,535 px at most, or 31 bits in PNG
	if format == "jpeg" && pixels > MaxPixels && pixels <= 4*MaxPixels {
		part = 2
	} else if err := CheckSize(name, size.Width, size.Height); err != nil {
		return gocv.Mat{}, Meta{}, err
	}
	if !complete(file, format) {
		return refuse("the file is cut short", "send it again")
	}
	var grey gocv.Mat
	var detail, remedy string
	if format == "jpeg" {
		grey, detail, remedy = greyOfJPEG(file, size.Width, size.Height, part)
	} else {
		grey, detail, remedy = greyOfPNG(file, size.Width, size.Height)
	}
	if detail != "" {
		return refuse(detail, remedy)
	}
	meta := Meta{Format: format, Orientation: orientation(file, format)}
	upright := Turn(grey, meta.Orientation)
	meta.Width, meta.Height = upright.Cols(), upright.Rows()
	return upright, meta, nil
}

// unsupported reports whether a file is whole, as far as its header tells, and of a kind that Go's readers
// don't know.
func unsupported(err error) bool {
	var j jpeg.UnsupportedError
	var p png.UnsupportedError
	return errors.As(err, &j) || errors.As(err, &p)
}

// DeclaredSize returns the size in px that a JPEG or PNG file declares, as it lies in the file. ok is false
// where it can't be told.
func DeclaredSize(file []byte) (w, h int, ok bool) {
	size, format, err := image.DecodeConfig(bytes.NewReader(file))
	return size.Width, size.Height, err == nil && (format == "jpeg" || format == "png")
}

// isStrip reports whether a picture is so long that nothing is sought in it: halved until it is small it would have no
// height left, and what is taken as round a px, a share of its length, would fill the memory. Panoramas are 6 to 1.
func isStrip(w, h int) bool { return max(w, h)/20 > min(w, h) }

// CheckSize returns a *FileError for a picture of a declared size in px that is not to be unpacked, or nil.
func CheckSize(name string, w, h int) error {
	switch {
	case w < 16 || h < 16 || isStrip(w, h):
		return &FileError{Name: name, Detail: fmt.Sprintf("%d × %d pixels show no card", w, h), Remedy: "send the photo itself"}
	case w > MaxPixels/h:
		return &FileError{Name: name, Detail: fmt.Sprintf("%d × %d pixels are more than %d million", w, h, MaxPixels/1_000_000),
			Remedy: "send it smaller; 12 million are plenty"}
	}
	return nil
}

// greyOfPNG is greyOfJPEG for PNG files, through OpenCV.
func greyOfPNG(file []byte, w, h int) (grey gocv.Mat, detail, remedy string) {
	// Both flags: the turn is ours, for reading calls differ in how they treat it.
	grey, err := gocv.IMDecode(file, gocv.IMReadGrayScale|gocv.IMReadIgnoreOrientation)
	switch {
	case err != nil || grey.Empty():
		detail = "the picture can't be unpacked"
	case grey.Cols() != w || grey.Rows() != h:
		detail = "the picture is not of the size it declares"
	default:
		return grey, "", ""
	}
	_ = grey.Close()
	return gocv.Mat{}, detail, "send it again"
}

// complete reports whether the picture's last part is there. The unpacking library fills what is
// missing with grey, and a grey half would pass for an empty card.
func complete(file []byte, format string) bool {
	if format == "png" {
		return pngComplete(file)
	}
	scan := jpegScan(file)
	// Within compressed data FF D9 can't occur (ISO/IEC 10918-1, B.1.1.5), so the first one ends the picture.
	return scan > 0 && bytes.Contains(file[scan:], []byte{0xFF, 0xD9})
}

// jpegScan returns where the first start-of-scan segment begins, or 0. Thumbnails lie within
// segments before it and are stepped over.
func jpegScan(file []byte) int {
	for i := 2; i+4 <= len(file); {
		if file[i] != 0xFF {
			return 0
		}
		kind := file[i+1]
		switch {
		case kind == 0xFF:
			i++
			continue
		case kind == 0xDA:
			return i
		case kind == 0x01 || kind >= 0xD0 && kind <= 0xD8:
			i += 2
			continue
		}
		i += 2 + int(binary.BigEndian.Uint16(file[i+2:]))
	}
	return 0
}

func pngComplete(file []byte) bool {
	for i := 8; i+12 <= len(file); {
		length := int(binary.BigEndian.Uint32(file[i:]))
		if string(file[i+4:i+8]) == "IEND" {
			return true
		}
		if length > len(file) {
			return false
		}
		i += 12 + length
	}
	return false
}
