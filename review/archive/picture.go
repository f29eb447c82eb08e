package archive

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	_ "image/jpeg" // a store may keep pages as JPEG
	"image/png"
)

// picture is an image as a PDF holds it.
type picture struct {
	width, height int
	colours       int    // 1 or 3, of 8 bits
	filter        string // and its parameters
	body          []byte
}

func (p picture) dict() string {
	space := "/DeviceGray"
	if p.colours == 3 {
		space = "/DeviceRGB"
	}
	return fmt.Sprintf("/Width %d /Height %d /ColorSpace %s /BitsPerComponent 8 %s", p.width, p.height, space, p.filter)
}

// readPicture takes the packed pixels out of a PNG or JPEG as they are: a PDF unpacks both. Kinds that it
// can't hold so, such as PNG with transparency, become grey.
func readPicture(file []byte) (picture, error) {
	size, kind, err := image.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		return picture{}, err
	}
	p := picture{width: size.Width, height: size.Height, colours: 1}
	switch {
	case kind == "jpeg" && (size.ColorModel == color.GrayModel || size.ColorModel == color.YCbCrModel):
		if size.ColorModel == color.YCbCrModel {
			p.colours = 3
		}
		p.filter, p.body = "/Filter /DCTDecode", file
		return p, nil
	case kind == "png":
		if done, err := p.fromPNG(file); done || err != nil {
			return p, err
		}
	}
	p = picture{width: size.Width, height: size.Height, colours: 1}
	img, _, err := image.Decode(bytes.NewReader(file))
	if err != nil {
		return picture{}, err
	}
	grey := image.NewGray(image.Rect(0, 0, size.Width, size.Height))
	draw.Draw(grey, grey.Rect, img, img.Bounds().Min, draw.Src)
	var again bytes.Buffer
	if err = png.Encode(&again, grey); err == nil {
		_, err = p.fromPNG(again.Bytes())
	}
	return p, err
}

// fromPNG joins the packed rows of a PNG of 8 bits, grey or RGB, not interlaced; other kinds are not done.
// Source: PNG, third edition, 5.3 (chunks) and 11.2 (IHDR, IDAT); ISO 32000-1, 7.4.4.4 (predictor 15 is PNG's).
func (p *picture) fromPNG(file []byte) (done bool, err error) {
	const head, around = 8, 12 // of the file; length, kind and sum of a chunk
	for rest := file[min(head, len(file)):]; len(rest) >= around; {
		n := int(binary.BigEndian.Uint32(rest))
		if n < 0 || n > len(rest)-around {
			return false, errors.New("the PNG ends too early")
		}
		body := rest[8 : 8+n]
		switch string(rest[4:8]) {
		case "IHDR":
			if n != 13 || body[8] != 8 || body[12] != 0 {
				return false, nil
			}
			switch body[9] {
			case 0:
				p.colours = 1
			case 2:
				p.colours = 3
			default:
				return false, nil
			}
		case "tRNS":
			return false, nil
		case "IDAT":
			p.body = append(p.body, body...)
		}
		rest = rest[around+n:]
	}
	if len(p.body) == 0 {
		return false, errors.New("the PNG holds no pixels")
	}
	p.filter = fmt.Sprintf("/Filter /FlateDecode /DecodeParms << /Predictor 15 /Colors %d /BitsPerComponent 8 /Columns %d >>", p.colours, p.width)
	return true, nil
}
