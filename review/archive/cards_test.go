package archive_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// word is a word of a page as pdftotext finds it, in points from the top left.
type word struct {
	Text string  `xml:",chardata"`
	X0   float64 `xml:"xMin,attr"`
	Y0   float64 `xml:"yMin,attr"`
	X1   float64 `xml:"xMax,attr"`
	Y1   float64 `xml:"yMax,attr"`
}

type outsidePage struct {
	W     float64 `xml:"width,attr"`
	H     float64 `xml:"height,attr"`
	Words []word  `xml:"word"`
}

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), name, args...).CombinedOutput()
	require.NoError(t, err, "%s: %s", name, out)
	return string(out)
}

// Poppler and qpdf know nothing of us. What they find must be what the store holds: each reading with ink
// once, its middle in the middle of its field, marked where it is doubtful, and nothing else.
func TestCards_PopplerFindsEachReadingWhereItsInkIs(t *testing.T) {
	b := day(t)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	file := filepath.Join(write(t, input(b)), "data", "cards.pdf")
	assert.Contains(t, tool(t, "qpdf", "--check", file), "No syntax or stream encoding errors found")
	var found struct {
		Pages []outsidePage `xml:"body>doc>page"`
	}
	decoder := xml.NewDecoder(strings.NewReader(tool(t, "pdftotext", "-bbox", file, "-")))
	decoder.Strict, decoder.Entity = false, xml.HTMLEntity
	require.NoError(t, decoder.Decode(&found))
	require.Len(t, found.Pages, len(sheets))
	const ptPerMM = 72 / 25.4
	checked, doubtful := 0, 0
	for i, s := range sheets {
		page := found.Pages[i]
		layout := b.Layout.Side(s.Side)
		assert.InDelta(t, float64(layout.W)*ptPerMM, page.W, 1)
		assert.InDelta(t, float64(layout.H)*ptPerMM, page.H, 1)
		want := 0
		for _, r := range s.Read.Reading.Readings() {
			if r.State == sheetmodel.Empty || r.Text == "" {
				continue
			}
			text := r.Text
			if r.State == sheetmodel.Doubtful {
				text += "?"
				doubtful++
			}
			want++
			at := false
			for _, w := range page.Words {
				dx := (w.X0+w.X1)/2 - float64(r.Region.X+r.Region.W/2)*ptPerMM
				dy := (w.Y0+w.Y1)/2 - float64(r.Region.Y+r.Region.H/2)*ptPerMM
				inside := w.X0 > float64(r.Region.X)*ptPerMM-1 && w.X1 < float64(r.Region.X+r.Region.W)*ptPerMM+1
				at = at || w.Text == text && inside && dx*dx < 1 && dy*dy < 9 // 1 mm up or down
			}
			assert.True(t, at, "%s %s: %q is not at %v; the page has %v", s.Side, r.Field, text, r.Region, page.Words)
			checked++
		}
		assert.Len(t, page.Words, want)
	}
	assert.Greater(t, checked, 10)
	assert.Positive(t, doubtful)
}

// The picture is the straightened side bit for bit, and the layer over it can't be seen: the page looks as
// if it weren't there, and would not if its text were drawn.
func TestCards_TextIsInvisible_PictureIsTheStraightenedSide(t *testing.T) {
	b := day(t)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	file := filepath.Join(write(t, input(b)), "data", "cards.pdf")
	inside := filepath.Join(t.TempDir(), "inside")
	tool(t, "pdfimages", "-png", "-l", "1", file, inside)
	want := decode(t, filepath.Join(b.Store.Dir(), filepath.FromSlash(sheets[0].Page)))
	got := decode(t, inside+"-000.png")
	require.Equal(t, want.Bounds(), got.Bounds())
	differ := 0
	for y := range want.Bounds().Dy() {
		for x := range want.Bounds().Dx() {
			if grey(want.At(x, y)) != grey(got.At(x, y)) {
				differ++
			}
		}
	}
	assert.Zero(t, differ)

	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	drawn := func(text []byte) string {
		name := filepath.Join(t.TempDir(), "cards.pdf")
		require.Len(t, text, len(whole)) // else its cross references lead astray
		require.NoError(t, os.WriteFile(name, text, 0o600))
		tool(t, "pdftoppm", "-png", "-gray", "-r", "60", "-singlefile", name, name)
		png, err := os.ReadFile(name + ".png")
		require.NoError(t, err)
		return fmt.Sprintf("%x", sha256.Sum256(png)) // a failure that prints pictures helps nobody
	}
	without := regexp.MustCompile(`<[0-9a-f]+> Tj`).ReplaceAllFunc(whole, func(m []byte) []byte { return bytes.Repeat([]byte(" "), len(m)) })
	require.NotEqual(t, whole, without)
	now := drawn(whole)
	assert.Equal(t, drawn(without), now, "the text is seen")
	assert.NotEqual(t, drawn(bytes.ReplaceAll(whole, []byte("BT 3 Tr"), []byte("BT 0 Tr"))), now, "text that is drawn isn't seen either")
}

func grey(c color.Color) uint8 { return color.GrayModel.Convert(c).(color.Gray).Y }

func decode(t *testing.T, file string) image.Image {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	img, _, err := image.Decode(bytes.NewReader(text))
	require.NoError(t, err)
	return img
}

// altoPage is what a reader of ALTO files needs; its names are those of the schema alto-4-4.xsd.
type altoPage struct {
	Unit string `xml:"Description>MeasurementUnit"`
	Tags []struct {
		ID    string `xml:"ID,attr"`
		Type  string `xml:"TYPE,attr"`
		Label string `xml:"LABEL,attr"`
	} `xml:"Tags>OtherTag"`
	Strings []struct {
		Content string   `xml:"CONTENT,attr"`
		X       float64  `xml:"HPOS,attr"`
		Y       float64  `xml:"VPOS,attr"`
		Sure    float64  `xml:"WC,attr"`
		Refs    string   `xml:"TAGREFS,attr"`
		Rivals  []string `xml:"ALTERNATIVE"`
	} `xml:"Layout>Page>PrintSpace>TextBlock>TextLine>String"`
}

func TestAlto_HoldsPlaceCertaintyRivalsAndDoubts(t *testing.T) {
	b := day(t)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	files := filesOf(t, write(t, input(b)))
	pages := 0
	for name, text := range files {
		if !strings.HasPrefix(name, "data/alto/") {
			continue
		}
		pages++
		var page altoPage
		require.NoError(t, xml.Unmarshal([]byte(text), &page), name)
		assert.Equal(t, "mm10", page.Unit)
		assert.Contains(t, files, strings.Replace(strings.Replace(name, "/alto/", "/sheets/", 1), ".xml", ".png", 1))
		labels := map[string]string{}
		for _, tag := range page.Tags {
			labels[tag.ID] = tag.Type + " " + tag.Label
		}
		for _, s := range page.Strings {
			var said []string
			for _, id := range strings.Fields(s.Refs) {
				require.Contains(t, labels, id)
				said = append(said, labels[id])
			}
			assert.GreaterOrEqual(t, len(said), 2) // field and state at least
			if s.Content != "46" {
				continue
			}
			r := sheets[2].Read.Reading.Rows[0].Bib
			assert.Equal(t, []string{"40"}, s.Rivals)
			assert.Contains(t, said, "state doubtful")
			assert.Contains(t, said, "doubt low-certainty")
			assert.Contains(t, said, "field "+sheets[2].Key(r.Field))
			assert.InDelta(t, 10*float64(r.Region.X), s.X, 0.01)
			assert.InDelta(t, 10*float64(r.Region.Y), s.Y, 0.01)
			assert.InDelta(t, r.Certainty.Value(), s.Sure, 1e-12)
		}
	}
	assert.Len(t, sheets, pages)
}
