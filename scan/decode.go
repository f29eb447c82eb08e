package scan

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // declared size of JPEG files
	_ "image/png"  // declared size of PNG files
	"path/filepath"
	"strings"

	"gocv.io/x/gocv"
)

// MaxPixels is the largest declared picture size that Decode accepts. Phones make 12 to 50 million;
// some 100 million and more, which shows no more of a card.
const MaxPixels = 80_000_000

// Meta says what kind of file a photo came from.
type Meta struct {
	Format      string // "jpeg" or "png"
	Width       int    // px, EXIF turn applied
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

// Decode reads a JPEG or PNG file as an 8-bit grey picture, its EXIF turn applied.
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
	if brand, ok := isoBrand(file); ok {
		return refuse(brand+" is not read yet", "send it as JPEG")
	}
	size, format, err := image.DecodeConfig(bytes.NewReader(file))
	switch {
	case errors.Is(err, image.ErrFormat):
		return refuse("is neither JPEG nor PNG", "send the photo as the phone took it, as JPEG")
	case err != nil:
		return refuse("the file is damaged: "+err.Error(), "send it again")
	case size.Width < 16 || size.Height < 16:
		return refuse(fmt.Sprintf("%d × %d pixels show no card", size.Width, size.Height), "send the photo itself")
	case size.Width*size.Height > MaxPixels:
		return refuse(fmt.Sprintf("%d × %d pixels are more than %d million", size.Width, size.Height, MaxPixels/1_000_000),
			"send it smaller")
	case !complete(file, format):
		return refuse("the file is cut short", "send it again")
	}
	var grey gocv.Mat
	var detail, remedy string
	if format == "jpeg" {
		grey, detail, remedy = greyOfJPEG(file, size.Width, size.Height)
	} else {
		grey, detail, remedy = greyOfPNG(file, size.Width, size.Height)
	}
	if detail != "" {
		return refuse(detail, remedy)
	}
	meta := Meta{Format: format, Orientation: orientation(file, format)}
	upright := turn(grey, meta.Orientation)
	meta.Width, meta.Height = upright.Cols(), upright.Rows()
	return upright, meta, nil
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

// isoBrand recognises the family of HEIC and AVIF, whose files begin with a box "ftyp".
func isoBrand(file []byte) (string, bool) {
	if len(file) < 12 || string(file[4:8]) != "ftyp" {
		return "", false
	}
	switch brand := strings.TrimSpace(string(file[8:12])); brand {
	case "heic", "heix", "hevc", "heim", "heis", "mif1", "msf1":
		return "HEIC", true
	case "avif", "avis":
		return "AVIF", true
	default:
		return "this kind of film or picture", true
	}
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
