package scan_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
)

// gradient is a picture in which every corner and edge differs: darker to the left, and to the top.
func gradient(w, h int) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetGray(x, y, color.Gray{Y: uint8(150*x/w + 100*y/h)})
		}
	}
	return img
}

func jpegOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

// withOrientation puts an Exif segment behind a JPEG's first marker. Source: CIPA DC-008, 4.5 to 4.6.
func withOrientation(file []byte, orientation int, order binary.ByteOrder) []byte {
	tiff := []byte("II*\x00")
	if order == binary.ByteOrder(binary.BigEndian) {
		tiff = []byte("MM\x00*")
	}
	u16 := func(v int) { tiff = append16(tiff, order, v) }
	u32 := func(v int) { b := make([]byte, 4); order.PutUint32(b, uint32(v)); tiff = append(tiff, b...) }
	u32(8) // where the directory begins
	u16(1) // one entry
	u16(0x0112)
	u16(3) // SHORT
	u32(1)
	u16(orientation)
	u16(0)
	u32(0)
	body := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{}, file[:2]...)
	out = append(out, 0xFF, 0xE1, byte((len(body)+2)>>8), byte(len(body)+2))
	out = append(out, body...)
	return append(out, file[2:]...)
}

func append16(b []byte, order binary.ByteOrder, v int) []byte {
	two := make([]byte, 2)
	order.PutUint16(two, uint16(v))
	return append(b, two...)
}

// Where row 0 and column 0 of the file lie in the picture: CIPA DC-008 (Exif 2.32), tag 0x0112. The four
// numbers are the grey values expected at the picture's corners, as 1 (darkest) to 4 of the file's.
func TestDecode_AllEightOrientations_StandUpright(t *testing.T) {
	// file: 1 top left (dark), 2 bottom left, 3 top right, 4 bottom right (bright)
	file := jpegOf(t, gradient(64, 48))
	for orientation, want := range map[int]string{ // top left, top right, bottom left, bottom right
		1: "1324", 2: "3142", 3: "4231", 4: "2413", 5: "1234", 6: "2143", 7: "4321", 8: "3412",
	} {
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			m, meta, err := scan.Decode("card.jpg", withOrientation(file, orientation, order))
			require.NoError(t, err)
			assert.Equal(t, orientation, meta.Orientation)
			w, h := 64, 48
			if orientation >= 5 {
				w, h = 48, 64
			}
			assert.Equal(t, []int{w, h, w, h}, []int{meta.Width, meta.Height, m.Cols(), m.Rows()}, "orientation %d", orientation)
			got := ""
			for _, p := range [4]image.Point{{1, 1}, {w - 2, 1}, {1, h - 2}, {w - 2, h - 2}} {
				// Corners of the file: about 0, 100, 150, 250.
				switch g := m.GetUCharAt(p.Y, p.X); {
				case g < 50:
					got += "1"
				case g < 125:
					got += "2"
				case g < 200:
					got += "3"
				default:
					got += "4"
				}
			}
			assert.Equal(t, want, got, "orientation %d", orientation)
			require.NoError(t, m.Close())
		}
	}
}

func TestDecode_PNG_GivesTheSamePicture(t *testing.T) {
	m, meta, err := scan.Decode("card.png", pngOf(t, gradient(64, 48)))
	require.NoError(t, err)
	defer m.Close()
	assert.Equal(t, scan.Meta{Format: "png", Width: 64, Height: 48, Orientation: 1}, meta)
	assert.Equal(t, uint8(150*40/64+100*30/48), m.GetUCharAt(30, 40))
}

func TestDecode_BadFile_SaysWhatToDo(t *testing.T) {
	whole := jpegOf(t, gradient(640, 480))
	wholePNG := pngOf(t, gradient(640, 480))
	thumbnail := withOrientation(whole, 1, binary.BigEndian)
	heic := append([]byte{0, 0, 0, 24}, "ftypheic\x00\x00\x00\x00mif1heic"...)
	huge := append([]byte{}, wholePNG...)
	binary.BigEndian.PutUint32(huge[16:], 100_000)
	binary.BigEndian.PutUint32(huge[20:], 100_000)
	// The header's checksum must fit, or the size is never looked at: ISO/IEC 15948, 5.3.
	binary.BigEndian.PutUint32(huge[29:], crc(huge[12:29]))
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"empty.jpg":   {nil, "the file is empty; send it again"},
		"card.heic":   {heic, "is neither JPEG nor PNG"},
		"notes.txt":   {[]byte("bib 12, gate 4, and so on for a while"), "is neither JPEG nor PNG"},
		"half.jpg":    {whole[:len(whole)/2], "the file is cut short; send it again"},
		"end.jpg":     {whole[:len(whole)-2], "the file is cut short; send it again"},
		"thumb.jpg":   {thumbnail[:len(thumbnail)/2], "the file is cut short; send it again"},
		"half.png":    {wholePNG[:len(wholePNG)/2], "the file is cut short; send it again"},
		"header.jpg":  {whole[:10], "send it again"},
		"huge.png":    {huge, "100000 × 100000 pixels are more than 80 million; send it smaller; 12 million are plenty"},
		"tiny.png":    {pngOf(t, gradient(1, 1)), "1 × 1 pixels show no card"},
		"garbled.jpg": {append(append([]byte{}, whole[:2]...), bytes.Repeat([]byte{7}, 400)...), "send it again"},
	} {
		t.Run(name, func(t *testing.T) {
			m, _, err := scan.Decode("folder/"+name, c.file)
			var fault *scan.FileError
			require.ErrorAs(t, err, &fault)
			assert.Contains(t, err.Error(), "photo "+name+": ")
			assert.Contains(t, err.Error(), c.want)
			assert.Nil(t, m.Ptr(), "a refused photo has no Mat")
		})
	}
}

// crc is the checksum of a PNG chunk, from its type on.
func crc(chunk []byte) uint32 {
	c := ^uint32(0)
	for _, b := range chunk {
		c ^= uint32(b)
		for range 8 {
			c = c>>1 ^ 0xEDB88320&-(c&1)
		}
	}
	return ^c
}

func FuzzDecode(f *testing.F) {
	f.Add(jpegOf(f, gradient(32, 24)))
	f.Add(pngOf(f, gradient(32, 24)))
	f.Add(withOrientation(jpegOf(f, gradient(32, 24)), 6, binary.LittleEndian))
	f.Add([]byte("\x00\x00\x00\x18ftypheic"))
	f.Fuzz(func(t *testing.T, file []byte) {
		m, meta, err := scan.Decode("fuzzed", file)
		if err != nil {
			return
		}
		assert.Equal(t, []int{meta.Width, meta.Height}, []int{m.Cols(), m.Rows()})
		require.NoError(t, m.Close())
	})
}

// OpenCV unpacks with the same library, so every pixel agrees; it is how photos were read before.
func TestDecode_JPEG_AsOpenCVUnpacksIt(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 203, 155)) // no whole number of blocks
	for y := range 155 {
		for x := range 203 {
			img.SetRGBA(x, y, color.RGBA{R: uint8(x * y), G: uint8(x), B: uint8(200 - y), A: 255})
		}
	}
	file := jpegOf(t, img)
	want, err := gocv.IMDecode(file, gocv.IMReadGrayScale)
	require.NoError(t, err)
	defer want.Close()
	got, _, err := scan.Decode("card.jpg", file)
	require.NoError(t, err)
	defer got.Close()
	assert.Equal(t, want.ToBytes(), got.ToBytes())
}

// A copy that was cut and closed with an end mark looks whole from outside; only unpacking tells.
func TestDecode_CutJPEG_NeverPassesForAPicture(t *testing.T) {
	whole := jpegOf(t, gradient(640, 480))
	end := []byte{0xFF, 0xD9}
	for cut := 700; cut < len(whole)-40; cut += 97 {
		m, _, err := scan.Decode("cut.jpg", append(append([]byte{}, whole[:cut]...), end...))
		if err == nil {
			require.NoError(t, m.Close())
		}
		require.ErrorContains(t, err, "photo cut.jpg: ", "cut at %d of %d", cut, len(whole))
	}
	_, _, err := scan.Decode("cut.jpg", append(append([]byte{}, whole[:len(whole)*3/4]...), end...))
	assert.Regexp(t, `^photo cut\.jpg: the file is cut short: \d+ of 480 rows are there; send it again$`, err.Error())
}

// Phones put more behind the picture: a larger one (CIPA DC-007, MPF), a film, or what their makers like.
func TestDecode_MoreBehindThePicture_DoesNoHarm(t *testing.T) {
	whole := jpegOf(t, gradient(64, 48))
	for name, more := range map[string][]byte{
		"another picture": jpegOf(t, gradient(16, 16)),
		"half of another": jpegOf(t, gradient(160, 160))[:700],
		"a film":          []byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isommp42 and so on"),
		"zeros":           make([]byte, 5000),
		"one more end":    {0xFF, 0xD9},
	} {
		m, _, err := scan.Decode("card.jpg", append(append([]byte{}, whole...), more...))
		require.NoError(t, err, name)
		require.NoError(t, m.Close())
	}
}

// uniformJPEG is a JPEG of w × h pixels of middle grey, both whole blocks: four blocks are three bytes. Source:
// ISO/IEC 10918-1, tables K.3 and K.5: no change of the mean is 00, end of block 1010.
func uniformJPEG(t testing.TB, w, h int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 16, 16))
	for i := range img.Pix {
		img.Pix[i] = 128
	}
	file := jpegOf(t, img)
	frame, passAt := bytes.Index(file, []byte{0xFF, 0xC0}), bytes.Index(file, []byte{0xFF, 0xDA})
	require.Positive(t, frame)
	require.Positive(t, passAt)
	binary.BigEndian.PutUint16(file[frame+5:], uint16(h))
	binary.BigEndian.PutUint16(file[frame+7:], uint16(w))
	start := passAt + 2 + int(binary.BigEndian.Uint16(file[passAt+2:]))
	four := []byte{0x28, 0xA2, 0x8A}
	return append(append(file[:start:start], bytes.Repeat(four, (w/8*h/8+3)/4)...), 0xFF, 0xD9)
}

func TestDecode_200Megapixels_ComeAtHalfTheWidth(t *testing.T) {
	file := withOrientation(uniformJPEG(t, 16_320, 12_240), 6, binary.BigEndian)
	m, meta, err := scan.Decode("card.jpg", file)
	require.NoError(t, err)
	defer m.Close()
	assert.Equal(t, scan.Meta{Format: "jpeg", Width: 6120, Height: 8160, Orientation: 6}, meta)
	pixels, err := m.DataPtrUint8()
	require.NoError(t, err)
	assert.Equal(t, len(pixels), bytes.Count(pixels, []byte{128}))
	_, _, err = scan.Decode("card.jpg", uniformJPEG(t, 32_000, 12_240))
	require.ErrorContains(t, err, "pixels are more than 80 million; send it smaller")
}
