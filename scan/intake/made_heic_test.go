package intake_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// heifEnc packs pictures, given as files, into one HEIC or AVIF. Debian's libheif-examples, of .ci/packages,
// brings the program.
func heifEnc(t testing.TB, ending string, files [][]byte, options ...string) []byte {
	t.Helper()
	dir := t.TempDir()
	out := filepath.Join(dir, "out."+ending)
	args := append(options, "-o", out)
	for i, file := range files {
		name := filepath.Join(dir, string(rune('a'+i))+".jpg")
		if bytes.HasPrefix(file, []byte("\x89PNG")) {
			name = filepath.Join(dir, string(rune('a'+i))+".png")
		}
		require.NoError(t, os.WriteFile(name, file, 0o600))
		args = append(args, name)
	}
	says, err := exec.CommandContext(t.Context(), "heif-enc", args...).CombinedOutput()
	require.NoError(t, err, "%s", says)
	file, err := os.ReadFile(out)
	require.NoError(t, err)
	return file
}

// deepPNG is a PNG of 16 bits for each of three colours: what heif-enc makes 10 bits of.
func deepPNG(t testing.TB, img *image.Gray) []byte {
	deep := image.NewNRGBA64(img.Rect)
	for i, v := range img.Pix {
		for k := range 8 {
			deep.Pix[8*i+k] = v
		}
		deep.Pix[8*i+6], deep.Pix[8*i+7] = 255, 255
	}
	return pngOf(t, deep)
}

// grid is a HEIC of equal tiles, as phones write it: one coded picture many times over, here. Source of the
// boxes: ISO/IEC 14496-12 and 23008-12.
type grid struct {
	columns, rows int
	w, h          int  // of the whole, before it is turned
	quarters      byte // it is turned by so many, against the clock
	parts         []int
	extents       int // how often the tile's bytes are listed; default once
}

// of builds the file from one that holds the tile alone, of side × side pixels.
func (g grid) of(t testing.TB, tile []byte, side int) []byte {
	t.Helper()
	be := binary.BigEndian
	at := bytes.Index(tile, []byte("hvcC")) - 4
	require.Positive(t, at)
	config := tile[at : at+int(be.Uint32(tile[at:]))]
	at = bytes.Index(tile, []byte("mdat")) - 4
	data := tile[at+8 : at+int(be.Uint32(tile[at:]))]
	u16 := func(v int) []byte { return be.AppendUint16(nil, uint16(v)) }
	u32 := func(v int) []byte { return be.AppendUint32(nil, uint32(v)) }
	box := func(kind string, parts ...[]byte) []byte {
		body := bytes.Join(parts, nil)
		return append(append(u32(8+len(body)), kind...), body...)
	}
	full := func(kind string, version, flags int, parts ...[]byte) []byte {
		return box(kind, append([][]byte{u32(version<<24 | flags)}, parts...)...)
	}
	// Item 1 is the tile, item 2 the whole; phones give each tile an item of its own.
	parts := g.parts
	if parts == nil {
		parts = make([]int, g.columns*g.rows)
		for i := range parts {
			parts[i] = 1
		}
	}
	whole := append([]byte{0, 1, byte(g.rows - 1), byte(g.columns - 1)}, append(u32(g.w), u32(g.h)...)...)
	ref := [][]byte{u16(2), u16(len(parts))}
	for _, p := range parts {
		ref = append(ref, u16(p))
	}
	iinf := full("iinf", 0, 0, u16(2), full("infe", 2, 1, u16(1), u16(0), []byte("hvc1\x00")), full("infe", 2, 0, u16(2), u16(0), []byte("grid\x00")))
	iprp := box("iprp", box("ipco", config, full("ispe", 0, 0, u32(side), u32(side)), full("ispe", 0, 0, u32(g.w), u32(g.h)), box("irot", []byte{g.quarters})),
		full("ipma", 0, 0, u32(2), u16(1), []byte{2, 0x81, 2}, u16(2), []byte{2, 3, 0x84}))
	head := box("ftyp", []byte("heic"), u32(0), []byte("mif1heic"))
	meta := func(base int) []byte {
		item := [][]byte{u16(1), u16(0), u16(0), u16(max(1, g.extents))}
		for range max(1, g.extents) {
			item = append(item, u32(base), u32(len(data)))
		}
		iloc := full("iloc", 1, 0, []byte{0x44, 0}, u16(2), bytes.Join(item, nil),
			u16(2), u16(1), u16(0), u16(1), u32(0), u32(len(whole)))
		return full("meta", 0, 0, full("hdlr", 0, 0, u32(0), []byte("pict"), make([]byte, 13)), full("pitm", 0, 0, u16(2)),
			iinf, full("iref", 0, 0, box("dimg", ref...)), iprp, box("idat", whole), iloc)
	}
	base := len(head) + len(meta(0)) + 8
	return bytes.Join([][]byte{head, meta(base), box("mdat", data)}, nil)
}
