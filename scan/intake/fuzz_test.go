package intake

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the program itself parses of a file from outside, or of a worker that such a file may have taken over.

func FuzzTIFFPages(f *testing.F) {
	f.Add([]byte("II*\x00\x08\x00\x00\x00\x01\x00\x00\x01\x03\x00\x01\x00\x00\x00\x40\x00\x00\x00\x00\x00\x00\x00"))
	f.Add([]byte("MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x08"))
	f.Add([]byte("II*\x00\xFF\xFF\xFF\xFF"))
	f.Fuzz(func(t *testing.T, file []byte) {
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			pages, err := tiffPages(file, order, 5)
			assert.LessOrEqual(t, len(pages), 5)
			for _, p := range pages {
				require.NoError(t, err)
				assert.Less(t, int(p.at)+2, len(file))
				assert.LessOrEqual(t, p.turnAt+2, len(file))
				assert.True(t, p.orientation >= 1 && p.orientation <= 8)
			}
		}
	})
}

func FuzzPGM(f *testing.F) {
	f.Add([]byte("P5\n2 2\n255\nabcd"))
	f.Add([]byte("P5\n-2 99999999999\n255\n"))
	f.Fuzz(func(t *testing.T, file []byte) {
		grey, err := greyOfPGM(bytes.NewReader(file), 40, 30)
		if err == nil {
			assert.LessOrEqual(t, grey.Total(), 40*30+4*70)
			assert.NoError(t, grey.Close())
		}
	})
}

func FuzzPDFList(f *testing.F) {
	f.Add("   1     0 image    2480  3508  gray    1   8  jpeg   no         5  0   300   300 1.1M  13%")
	f.Add("1 0 image NaN 1e999 - - - - - - - -1 Inf x x")
	f.Fuzz(func(t *testing.T, line string) {
		pages := []pdfPage{{width: 595, height: 842, dpi: plainDPI}}
		notePicture(pages, strings.Fields(line))
		assert.Positive(t, pages[0].dpi)
	})
}

func FuzzWorkersReply(f *testing.F) {
	f.Add([]byte("\x00\x00\x00\x10{\"kind\":\"ready\"}"))
	f.Add([]byte("\xFF\xFF\xFF\xFF{"))
	f.Fuzz(func(t *testing.T, frame []byte) {
		var r reply
		if err := readHead(bytes.NewReader(frame), &r); err == nil {
			assert.LessOrEqual(t, len(r.Detail), longestHead)
		}
	})
}

func FuzzKind(f *testing.F) {
	f.Add([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"))
	f.Add([]byte("RIFF    WEBP"))
	f.Fuzz(func(_ *testing.T, file []byte) {
		kindOf(file)
		looksLike(file)
	})
}
