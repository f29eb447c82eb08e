package archive

import (
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// An ALTO file says which text lies where on a page, how sure a reader was and what else it might be. Lengths are tenths of a millimetre from the top left of the trimmed card.
// Source: the Library of Congress's schema alto-4-4.xsd.
type altoFile struct {
	XMLName xml.Name   `xml:"http://www.loc.gov/standards/alto/ns-v4# alto"`
	Version string     `xml:"SCHEMAVERSION,attr"`
	Unit    string     `xml:"Description>MeasurementUnit"`
	Image   altoImage  `xml:"Description>sourceImageInformation"`
	Reader  altoReader `xml:"Description>Processing"`
	Tags    *altoTags  `xml:"Tags,omitempty"`
	Page    altoPage   `xml:"Layout>Page"`
}

type altoImage struct {
	File   string `xml:"fileName"`
	SHA256 string `xml:"fileIdentifier"`
}

type altoReader struct {
	ID   string `xml:"ID,attr"`
	Step string `xml:"processingStepDescription"`
}

type altoTags struct {
	Tags []altoTag `xml:"OtherTag"`
}

// altoTag is a property that strings refer to: a field's name, a state, a reason for doubt, a curve.
type altoTag struct {
	ID          string `xml:"ID,attr"`
	Type        string `xml:"TYPE,attr"`
	Label       string `xml:"LABEL,attr"`
	Description string `xml:"DESCRIPTION,attr,omitempty"`
}

type altoPage struct {
	ID      string    `xml:"ID,attr"`
	ImageNo int       `xml:"PHYSICAL_IMG_NR,attr"`
	Height  string    `xml:"HEIGHT,attr"`
	Width   string    `xml:"WIDTH,attr"`
	Space   altoSpace `xml:"PrintSpace"`
}

type altoSpace struct {
	altoPlace
	Blocks []altoBlock `xml:"TextBlock"`
}

type altoPlace struct {
	X string `xml:"HPOS,attr"`
	Y string `xml:"VPOS,attr"`
	W string `xml:"WIDTH,attr"`
	H string `xml:"HEIGHT,attr"`
}

type altoBlock struct {
	ID string `xml:"ID,attr"`
	altoPlace
	Line altoLine `xml:"TextLine"`
}

type altoLine struct {
	altoPlace
	String altoString `xml:"String"`
}

type altoString struct {
	altoPlace
	Content string      `xml:"CONTENT,attr"`
	Sure    string      `xml:"WC,attr"`
	Tags    string      `xml:"TAGREFS,attr"`
	Rivals  []altoRival `xml:"ALTERNATIVE"`
}

type altoRival struct {
	Purpose string `xml:"PURPOSE,attr"`
	Text    string `xml:",chardata"`
}

// altoName is where the text of a straightened side lies in the archive.
func altoName(s store.Sheet) string {
	side := strings.TrimPrefix(sheetFile(s), "sheets/")
	return "alto/" + strings.TrimSuffix(side, path.Ext(side)) + ".xml"
}

// shownReadings are those of a side that an archive may tell: without names neither judge nor phone.
// Fields without ink are left away.
func shownReadings(s store.Sheet, names bool) []sheetmodel.Reading {
	var shown []sheetmodel.Reading
	for _, r := range s.Read.Reading.Readings() {
		if r.State != sheetmodel.Empty && r.Region.W > 0 && r.Region.H > 0 && (names || !personal(r.Field)) {
			shown = append(shown, r)
		}
	}
	return shown
}

// alto writes the text of one side of the given size.
func (b *bag) alto(s store.Sheet, number int, size sheetmodel.Rect, names bool) error {
	whole := placeOf(size)
	f := altoFile{
		Version: "4.4", Unit: "mm10",
		Image:  altoImage{File: "../" + sheetFile(s), SHA256: s.PageSHA256},
		Reader: altoReader{ID: "reader", Step: s.Read.Reading.Reader},
		Page:   altoPage{ID: "page", ImageNo: number, Height: whole.H, Width: whole.W, Space: altoSpace{altoPlace: whole}},
	}
	var tags altoTags
	known := map[altoTag]string{}
	tag := func(kind, label, description string) string {
		t := altoTag{Type: kind, Label: label, Description: description}
		if known[t] == "" {
			known[t] = fmt.Sprintf("tag-%d", len(known)+1)
			full := t
			full.ID = known[t]
			tags.Tags = append(tags.Tags, full)
		}
		return known[t]
	}
	for i, r := range shownReadings(s, names) {
		at := placeOf(r.Region)
		refs := []string{tag("field", s.Key(r.Field), ""), tag("state", string(r.State), "")}
		if r.Certainty.Curve() != "" {
			refs = append(refs, tag("certainty-curve", r.Certainty.Curve(), ""))
		}
		for _, d := range r.Doubts {
			refs = append(refs, tag("doubt", string(d.Kind), d.Detail))
		}
		text := altoString{altoPlace: at, Content: r.Text, Sure: number64(r.Certainty.Value()), Tags: strings.Join(refs, " ")}
		for _, v := range r.Rivals {
			text.Rivals = append(text.Rivals, altoRival{"rival, probability " + number64(float64(v.Prob)), v.Text})
		}
		f.Page.Space.Blocks = append(f.Page.Space.Blocks, altoBlock{ID: fmt.Sprintf("block-%d", i+1), altoPlace: at, Line: altoLine{at, text}})
	}
	if len(tags.Tags) > 0 {
		f.Tags = &tags
	}
	return b.write("data/"+altoName(s), func(w io.Writer) error {
		if _, err := io.WriteString(w, xml.Header); err != nil {
			return err
		}
		e := xml.NewEncoder(w)
		e.Indent("", "  ")
		if err := e.Encode(f); err != nil {
			return err
		}
		_, err := io.WriteString(w, "\n")
		return err
	})
}

func placeOf(r sheetmodel.Rect) altoPlace {
	return altoPlace{tenths(r.X), tenths(r.Y), tenths(r.W), tenths(r.H)}
}

func tenths(mm sheetmodel.MM) string { return strconv.FormatFloat(float64(mm)*10, 'f', 2, 64) }

func number64(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
