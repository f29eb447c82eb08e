package intake

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"

	"gocv.io/x/gocv"

	"gatefold/scan"
)

// PDFTools are the programs that PDF files need; PDFPackage is what Debian calls their package.
var PDFTools = []string{"pdfinfo", "pdfimages", "pdftoppm"}

// PDFPackage holds PDFTools.
const PDFPackage = "poppler-utils"

// plainDPI is the resolution, in dots an inch, for a page that isn't one scanned picture.
const plainDPI = 300

// pdfPage is what a PDF says of one of its pages.
type pdfPage struct {
	width, height float64 // points, 72 an inch, before it is turned
	dpi           float64 // of the scanned picture that covers it, or plainDPI
}

// pixels is how large the page is drawn, 0 × 0 where it has no size.
func (p pdfPage) pixels() (w, h float64) {
	if !(p.width > 0 && p.height > 0) {
		return 0, 0
	}
	return math.Ceil(p.width * p.dpi / 72), math.Ceil(p.height * p.dpi / 72)
}

// unpackPDF sends every page as a picture. A page that is one scanned picture is drawn at that picture's own
// resolution, with the page's own turn applied. poppler rounds its size up: over the whole page a picture is
// stretched by up to one pixel.
func (j *job) unpackPDF() error {
	for _, tool := range PDFTools {
		if _, err := exec.LookPath(tool); err != nil {
			return j.refuse(0, 0, "PDF needs "+tool+", which is not installed", "install "+PDFPackage+", or "+remedyPlain)
		}
	}
	f, err := hidden(j.file)
	if err != nil {
		return j.refuse(0, 0, "no room to unpack it: "+err.Error(), "close other programs, then try again")
	}
	defer f.Close() //nolint:errcheck // only read from here on
	pages, err := j.pdfPages(f)
	if err != nil {
		return j.refuseAs(0, 0, err)
	}
	pixels := 0
	for _, p := range pages {
		w, h := p.pixels()
		pixels += int(min(w*h, scan.MaxPixels+1)) // a larger one is refused by itself, before its turn comes
	}
	if pixels > j.limits.Pixels {
		return j.refuse(0, 0, tooManyPixels(len(pages), j.limits.Pixels), remedySplit)
	}
	for i, p := range pages {
		slow, err := j.unpackPDFPage(f, p, i+1, len(pages))
		if err != nil || slow {
			return err // one page that takes too long ends it: 200 of them would take minutes
		}
	}
	return nil
}

// errSlow is wrapped where a tool was ended for the time that it took.
var errSlow = errors.New("it takes too long")

// tool runs a tool of poppler on f, which it sees as /dev/fd/3, and lets read take what it prints. pixels is
// what it may draw. The error is a *scan.FileError.
func (j *job) tool(f *os.File, pixels int, read func(io.Reader) error, args ...string) error {
	ctx, cancel := context.WithTimeout(context.Background(), j.limits.Wall)
	defer cancel()
	c := exec.CommandContext(ctx, args[0], args[1:]...)
	c.ExtraFiles = []*os.File{f}
	says := &head{most: 4096}
	c.Stderr = says
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		return pdfFault("", err)
	}
	defer limitTool(c.Process, j.budgetOf(pixels))()
	readErr := read(out)
	_ = out.Close() // what it still has to print, nobody reads
	if err := cmp.Or(c.Wait(), readErr); err != nil {
		return pdfFault(says.String(), err)
	}
	return nil
}

// head keeps the first bytes of what is written to it.
type head struct {
	bytes.Buffer
	most int
}

func (h *head) Write(p []byte) (int, error) {
	if room := h.most - h.Len(); room > 0 {
		h.Buffer.Write(p[:min(room, len(p))])
	}
	return len(p), nil
}

// list runs a tool that prints a list.
func (j *job) list(f *os.File, args ...string) (string, error) {
	const most = 1 << 20
	var text []byte
	// A page is looked up, not unpacked; a large file has many.
	err := j.tool(f, len(j.file)/3, func(r io.Reader) (err error) {
		text, err = io.ReadAll(io.LimitReader(r, most))
		if err == nil && len(text) == most {
			err = errors.New("a list without end")
		}
		return err
	}, args...)
	return string(text), err
}

// pdfFault turns a tool's complaint into ours, with errSlow beside it where that is why.
func pdfFault(says string, err error) error {
	fault := &scan.FileError{Detail: "the PDF can't be read", Remedy: remedyAgain}
	var exit *exec.ExitError
	switch {
	case strings.Contains(says, "Incorrect password"):
		fault.Detail, fault.Remedy = "the PDF is locked with a password", "save it without one"
	case errors.As(err, &exit) && !exit.Exited() && strings.Contains(exit.String(), "killed"):
		fault.Detail, fault.Remedy = "the PDF takes too long to draw", "send photos or a plain scan"
		return errors.Join(fault, errSlow)
	}
	return fault
}

var (
	pdfCount = regexp.MustCompile(`(?m)^Pages:\s+(\d+)`)
	pdfSize  = regexp.MustCompile(`(?m)^Page\s+(\d+) size:\s+([0-9.]+) x ([0-9.]+) pts`)
)

// pdfPages lists the pages of a PDF with their sizes and resolutions.
func (j *job) pdfPages(f *os.File) ([]pdfPage, error) {
	info, err := j.list(f, "pdfinfo", "-l", strconv.Itoa(j.limits.Pages), "/dev/fd/3")
	if err != nil {
		return nil, err
	}
	count := pdfCount.FindStringSubmatch(info)
	if count == nil {
		return nil, &scan.FileError{Detail: "the PDF can't be read", Remedy: remedyAgain}
	}
	n, err := strconv.Atoi(count[1])
	if err != nil || n < 1 {
		return nil, &scan.FileError{Detail: "the PDF has no page", Remedy: remedyAgain}
	}
	if n > j.limits.Pages {
		return nil, &scan.FileError{Detail: fmt.Sprintf("the PDF has %d pages, more than %d", n, j.limits.Pages), Remedy: remedySplit}
	}
	pages := make([]pdfPage, n)
	for _, m := range pdfSize.FindAllStringSubmatch(info, -1) {
		i, _ := strconv.Atoi(m[1])
		w, _ := strconv.ParseFloat(m[2], 64)
		h, _ := strconv.ParseFloat(m[3], 64)
		if i >= 1 && i <= n {
			pages[i-1] = pdfPage{width: w, height: h, dpi: plainDPI}
		}
	}
	list, err := j.list(f, "pdfimages", "-list", "/dev/fd/3")
	if err != nil {
		return nil, err
	}
	for line := range strings.Lines(list) {
		notePicture(pages, strings.Fields(line))
	}
	return pages, nil
}

// notePicture takes a line of pdfimages' list: a picture that covers most of a page says its resolution.
//
//	page num type width height color comp bpc enc interp object ID x-ppi y-ppi size ratio
func notePicture(pages []pdfPage, cells []string) {
	if len(cells) < 14 || cells[2] != "image" {
		return
	}
	number := func(i int) float64 { v, _ := strconv.ParseFloat(cells[i], 64); return v }
	page, w, h, xppi, yppi := int(number(0)), number(3), number(4), number(12), number(13)
	if page < 1 || page > len(pages) || xppi <= 0 || yppi <= 0 {
		return
	}
	p := &pages[page-1]
	if covers := w / xppi * 72 * h / yppi * 72; covers > 0.5*p.width*p.height {
		p.dpi = max(xppi, yppi) // phone apps may declare a picture as large as a table, or as small as a stamp
	}
}

// unpackPDFPage sends one page, or refuses it; slow: for the time it takes.
func (j *job) unpackPDFPage(f *os.File, p pdfPage, page, pages int) (slow bool, err error) {
	wide, high := p.pixels()
	w, h := int(wide), int(high)
	if !(p.width > 0 && p.height > 0 && p.width < 1e6 && p.height < 1e6) {
		return false, j.refuse(page, pages, "the page has no size", remedyAgain)
	}
	if err := scan.CheckSize(j.name, w, h); err != nil {
		return false, j.refuseAs(page, pages, err)
	}
	j.allow(w * h)
	var grey gocv.Mat
	n := strconv.Itoa(page)
	err = j.tool(f, w*h, func(r io.Reader) (err error) {
		grey, err = greyOfPGM(r, w, h)
		return err
	}, "pdftoppm", "-gray", "-r", strconv.FormatFloat(p.dpi, 'f', -1, 64), "-f", n, "-l", n, "/dev/fd/3")
	if err != nil {
		_ = grey.Close()
		return errors.Is(err, errSlow), j.refuseAs(page, pages, err)
	}
	defer grey.Close()
	return false, j.sendMat(scan.Meta{Format: string(pdfFile), Orientation: 1}, page, pages, grey)
}

// greyOfPGM reads a picture of about w × h pixels, or turned by a quarter, in the plainest of formats. The
// caller closes the Mat. Source: Netpbm, pgm(5), P5.
func greyOfPGM(r io.Reader, w, h int) (gocv.Mat, error) {
	b := bufio.NewReader(r)
	var gotW, gotH, most int
	if _, err := fmt.Fscanf(b, "P5\n%d %d\n%d\n", &gotW, &gotH, &most); err != nil {
		return gocv.Mat{}, fmt.Errorf("no picture: %w", err)
	}
	if most != 255 || gotW < 1 || gotH < 1 || gotW > w+h || gotH > w+h || gotW*gotH > w*h+4*(w+h) {
		return gocv.Mat{}, errors.New("not the picture that was asked for")
	}
	grey := gocv.NewMatWithSize(gotH, gotW, gocv.MatTypeCV8U)
	pixels, err := grey.DataPtrUint8()
	if err == nil {
		_, err = io.ReadFull(b, pixels)
	}
	if err != nil {
		_ = grey.Close()
		return gocv.Mat{}, err
	}
	return grey, nil
}
