package intake

import (
	"bytes"
	"slices"
	"strings"
)

// kind is what a file is by its first bytes.
type kind string

const (
	jpegFile  kind = "jpeg"
	pngFile   kind = "png"
	tiffFile  kind = "tiff"
	heicFile  kind = "heic" // and AVIF: the same boxes, another coder
	pdfFile   kind = "pdf"
	otherFile kind = ""
)

// kindOf returns what a file is, whatever it is called.
func kindOf(file []byte) kind {
	switch {
	case bytes.HasPrefix(file, []byte("\xFF\xD8\xFF")):
		return jpegFile
	case bytes.HasPrefix(file, []byte("\x89PNG\r\n\x1A\n")):
		return pngFile
	case bytes.HasPrefix(file, []byte("II*\x00")), bytes.HasPrefix(file, []byte("MM\x00*")):
		return tiffFile
	case isHEIC(file):
		return heicFile
	// Scanners may put something before it: ISO 32000-1, annex H, note 13 to 7.5.2 lets readers take 1,024 bytes.
	case bytes.Contains(file[:min(len(file), 1024)], []byte("%PDF-")):
		return pdfFile
	}
	return otherFile
}

// isHEIC reports whether the first box names a brand of still pictures that libheif knows. Films begin with
// the same box. Source: ISO/IEC 14496-12, 4.3; ISO/IEC 23008-12, annex B.
func isHEIC(file []byte) bool {
	if len(file) < 16 || string(file[4:8]) != "ftyp" {
		return false
	}
	length := min(len(file), int(file[0])<<24|int(file[1])<<16|int(file[2])<<8|int(file[3]), 256)
	if length < 16 {
		return false
	}
	still := []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1", "avif", "avis"}
	if slices.Contains(still, string(file[8:12])) {
		return true
	}
	for at := 16; at+4 <= length; at += 4 { // brands it is compatible with
		if slices.Contains(still, string(file[at:at+4])) {
			return true
		}
	}
	return false
}

// looksLike names what people send by mistake, as far as the first bytes tell.
func looksLike(file []byte) string {
	switch head := string(file[:min(len(file), 12)]); {
	case strings.HasPrefix(head, "GIF8"):
		return "a GIF"
	case strings.HasPrefix(head, "RIFF") && strings.HasSuffix(head, "WEBP"):
		return "a WebP picture"
	case len(head) == 12 && head[4:8] == "ftyp":
		return "a film"
	case strings.HasPrefix(head, "II+\x00"), strings.HasPrefix(head, "MM\x00+"):
		return "a BigTIFF"
	case strings.HasPrefix(head, "PK\x03\x04"):
		return "a ZIP archive or an office document"
	}
	return ""
}
