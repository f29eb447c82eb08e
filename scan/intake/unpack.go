package intake

import (
	"errors"
	"fmt"

	"gocv.io/x/gocv"

	"gatefold/scan"
)

// What to do where nothing better can be said.
const (
	remedyAgain = "send it again"
	remedyPlain = "send the photo as the phone took it, as JPEG"
	remedySplit = "split it"
	// remedySmaller is for pictures that would do with fewer pixels.
	remedySmaller = "send it smaller, as JPEG; 12 million pixels are plenty"
)

// tooManyPixels says that so many pages are more than most pixels together.
func tooManyPixels(pages, most int) string {
	return fmt.Sprintf("its %d pages have more than %d million pixels together", pages, most/1_000_000)
}

// unpack sends all pictures of the file, or says why not. An error is one of the pipe, never of the file.
func (j *job) unpack() error {
	if len(j.file) == 0 {
		return j.refuse(0, 0, "the file is empty", remedyAgain)
	}
	switch kindOf(j.file) {
	case jpegFile, pngFile:
		return j.unpackPhoto()
	case tiffFile:
		return j.unpackTIFF()
	case heicFile:
		return j.unpackHEIC()
	case pdfFile:
		return j.unpackPDF()
	case otherFile:
	}
	if what := looksLike(j.file); what != "" {
		return j.refuse(0, 0, "is "+what, remedyPlain)
	}
	return j.refuse(0, 0, "is none of JPEG, PNG, HEIC, TIFF and PDF", remedyPlain)
}

// unpackPhoto sends the picture of a JPEG or PNG file.
func (j *job) unpackPhoto() error {
	if w, h, ok := scan.DeclaredSize(j.file); ok {
		j.allow(min(w*h, 4*scan.MaxPixels))
	}
	grey, meta, err := scan.Decode(j.name, j.file)
	if err != nil {
		return j.refuseAs(0, 0, err)
	}
	defer grey.Close()
	return j.sendMat(meta, 1, 1, grey)
}

// refuseAs refuses with what a *scan.FileError says.
func (j *job) refuseAs(page, pages int, err error) error {
	var fault *scan.FileError
	if errors.As(err, &fault) {
		return j.refuse(page, pages, fault.Detail, fault.Remedy)
	}
	return j.refuse(page, pages, err.Error(), remedyAgain)
}

// sendMat sends a grey picture that stands upright.
func (j *job) sendMat(meta scan.Meta, page, pages int, grey gocv.Mat) error {
	meta.Width, meta.Height = grey.Cols(), grey.Rows()
	pixels, err := grey.DataPtrUint8()
	if err != nil || len(pixels) != meta.Width*meta.Height {
		return j.refuse(page, pages, fmt.Sprintf("unpacks to %d bytes for %d × %d pixels", len(pixels), meta.Width, meta.Height), remedyPlain)
	}
	return j.send(meta, page, pages, pixels)
}
