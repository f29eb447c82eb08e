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

// unpackPDF sends every page as a picture. A page that is one scanned picture is drawn at that picture's own
// resolution, so that a pixel of the scanner is a pixel here, with the page's own turn applied.
func (j *job) unpackPDF() error {
	for _, tool := range PDFTools {
		if _, err := exec.LookPath(tool); err != nil {
			return j.refuse(0, 0, "PDF needs "+tool+", which is not installed", "install "+PDFPackage+", or "+remedyPlain)
		}
	}
	f, err := hidden(j.file)
	if err != nil {
		return j.refuse(0, 0, "no room to unpack it: "+err.Error(), "make room on the disk, then try again")
	}
	defer f.Close() //nolint:errcheck // only read from here on
	pages, err := j.pdfPages(f)
	if err != nil {
		return j.refuseAs(0, 0, err)
	}
	for i, p := range pages {
		if err := j.unpackPDFPage(f, p, i+1, len(pages)); err != nil {
			return err
		}
	}
	return nil
}

// hidden puts bytes into a file without a name, which vanishes with its last user.
func hidden(b []byte) (*os.File, error) {
	f, err := os.CreateTemp("", "gatefold-*.pdf")
	if err != nil {
		return nil, err
	}
	_, err = f.Write(b)
	if err = errors.Join(err, os.Remove(f.Name())); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// tool runs a tool of poppler on f, which it sees as /dev/fd/3, and returns what it prints, up to most bytes.
func (j *job) tool(f *os.File, pixels, most int, args ...string) ([]byte, error) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), j.limits.Wall)
	defer cancel()
	c := exec.CommandContext(ctx, args[0], args[1:]...)
	c.ExtraFiles = []*os.File{f}
	var says bytes.Buffer
	c.Stderr = &says
	out, err := c.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := c.Start(); err != nil {
		return nil, err
	}
	_ = limitTool(c.Process.Pid, j.budgetOf(pixels)) // it may have ended already
	printed, readErr := io.ReadAll(io.LimitReader(out, int64(most)+1))
	if len(printed) > most {
		cancel()
		_ = c.Wait()
		return nil, &scan.FileError{Detail: "it unpacks to more than it declares", Remedy: remedyPlain}
	}
	if err := cmp.Or(c.Wait(), readErr); err != nil {
		return nil, pdfFault(says.String(), err)
	}
	return printed, nil
}

// pdfFault turns a tool's complaint into ours.
func pdfFault(says string, err error) error {
	detail, remedy := "the PDF can't be read", remedyAgain
	switch {
	case strings.Contains(says, "Incorrect password"):
		detail, remedy = "the PDF is locked with a password", "save it without one"
	case strings.Contains(err.Error(), "killed") || strings.Contains(err.Error(), "CPU time"):
		detail, remedy = "the PDF takes too long to draw", "send photos or a plain scan"
	}
	return &scan.FileError{Detail: detail, Remedy: remedy}
}

var (
	pdfCount = regexp.MustCompile(`(?m)^Pages:\s+(\d+)`)
	pdfSize  = regexp.MustCompile(`(?m)^Page\s+(\d+) size:\s+([0-9.]+) x ([0-9.]+) pts`)
)

// pdfPages lists the pages of a PDF with their sizes and resolutions.
func (j *job) pdfPages(f *os.File) ([]pdfPage, error) {
	const listing = 1 << 20
	info, err := j.tool(f, 0, listing, "pdfinfo", "-l", strconv.Itoa(j.limits.Pages), "/dev/fd/3")
	if err != nil {
		return nil, err
	}
	count := pdfCount.FindSubmatch(info)
	if count == nil {
		return nil, &scan.FileError{Detail: "the PDF can't be read", Remedy: remedyAgain}
	}
	n, err := strconv.Atoi(string(count[1]))
	if err != nil || n < 1 {
		return nil, &scan.FileError{Detail: "the PDF has no page", Remedy: remedyAgain}
	}
	if n > j.limits.Pages {
		return nil, &scan.FileError{Detail: fmt.Sprintf("the PDF has %d pages, more than %d", n, j.limits.Pages), Remedy: "split it"}
	}
	pages := make([]pdfPage, n)
	for _, m := range pdfSize.FindAllSubmatch(info, -1) {
		i, _ := strconv.Atoi(string(m[1]))
		w, _ := strconv.ParseFloat(string(m[2]), 64)
		h, _ := strconv.ParseFloat(string(m[3]), 64)
		if i >= 1 && i <= n {
			pages[i-1] = pdfPage{width: w, height: h, dpi: plainDPI}
		}
	}
	list, err := j.tool(f, 0, listing, "pdfimages", "-list", "/dev/fd/3")
	if err != nil {
		return nil, err
	}
	for line := range strings.Lines(string(list)) {
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

func (j *job) unpackPDFPage(f *os.File, p pdfPage, page, pages int) error {
	w, h := int(math.Ceil(p.width*p.dpi/72)), int(math.Ceil(p.height*p.dpi/72))
	if !(p.width > 0 && p.height > 0 && p.width < 1e6 && p.height < 1e6) {
		return j.refuse(page, pages, "the page has no size", remedyAgain)
	}
	if err := scan.CheckSize(j.name, w, h); err != nil {
		return j.refuseAs(page, pages, err)
	}
	j.allow(w * h)
	n := strconv.Itoa(page)
	printed, err := j.tool(f, w*h, 2*w*h+4096, "pdftoppm", "-gray", "-r", strconv.FormatFloat(p.dpi, 'f', -1, 64), "-f", n, "-l", n, "/dev/fd/3")
	if err != nil {
		return j.refuseAs(page, pages, err)
	}
	grey, err := greyOfPGM(printed)
	if err != nil {
		return j.refuse(page, pages, "the page can't be drawn", remedyAgain)
	}
	defer grey.Close()
	return j.sendMat(scan.Meta{Format: string(pdfFile), Orientation: 1}, page, pages, grey)
}

// greyOfPGM reads a picture in the plainest of formats. Source: Netpbm, pgm(5), P5.
func greyOfPGM(b []byte) (gocv.Mat, error) {
	r := bufio.NewReader(bytes.NewReader(b))
	var w, h, most int
	if _, err := fmt.Fscanf(r, "P5\n%d %d\n%d\n", &w, &h, &most); err != nil {
		return gocv.Mat{}, err
	}
	if err := scan.CheckSize("", w, h); err != nil || most != 255 || w*h > len(b) {
		return gocv.Mat{}, errors.New("not as expected")
	}
	grey := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	pixels, err := grey.DataPtrUint8()
	if err == nil {
		_, err = io.ReadFull(r, pixels)
	}
	if err != nil {
		_ = grey.Close()
		return gocv.Mat{}, err
	}
	return grey, nil
}
