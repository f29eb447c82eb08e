package intake_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// pdfObjects is a PDF of these objects, numbered from 1, the first of which is its catalogue. Source: ISO
// 32000-1, 7.5.
func pdfObjects(objects ...string) []byte {
	var out bytes.Buffer
	out.WriteString("%PDF-1.5\n")
	var at []int
	for i, o := range objects {
		at = append(at, out.Len())
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, offset := range at {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, start)
	return out.Bytes()
}

// stream is a PDF stream with further keys.
func stream(keys string, body []byte) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", keys, len(body), body)
}

// onePage is a PDF with one page of fileW × fileH pixels at 300 dots an inch, which draws the object /I, the
// fifth; further objects are the sixth and so on.
func onePage(i string, further ...string) []byte {
	w, h := fileW*72./300, fileH*72./300
	return pdfObjects(append([]string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [ 3 0 R ] /Count 1 >>",
		fmt.Sprintf("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %.4f %.4f] /Contents 4 0 R /Resources << /XObject << /I 5 0 R >> >> >>", w, h),
		stream("", fmt.Appendf(nil, "q %.4f 0 0 %.4f 0 0 cm /I Do Q", w, h)),
		i,
	}, further...)...)
}

// image is a PDF picture with its own keys.
func picture(w, h, bits int, keys string, body []byte) string {
	return stream(fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray /BitsPerComponent %d %s", w, h, bits, keys), body)
}

// faxPDF is stripes as fax machines and office scanners put them into a PDF. Source: ISO 32000-1, 7.4.6.
func faxPDF() []byte {
	return onePage(picture(fileW, fileH, 1, fmt.Sprintf("/Filter /CCITTFaxDecode /DecodeParms << /K -1 /Columns %d /Rows %d >>", fileW, fileH), faxStripes()))
}

// jbig2PDF is stripes in a JBIG2 picture that declares h rows: a segment for the page, and one of fax packing.
// Source: ITU-T T.88, 7.2, 7.4.6 and 7.4.8; ISO 32000-1, 7.4.7.
func jbig2PDF(h uint32) []byte {
	be := binary.BigEndian
	page := be.AppendUint32(be.AppendUint32(nil, fileW), h)
	page = append(page, make([]byte, 8+1+2)...)
	region := be.AppendUint32(be.AppendUint32(nil, fileW), h)
	region = append(append(region, make([]byte, 8+1)...), 1) // at the page's corner; T.6
	region = append(region, faxStripes()...)
	segment := func(number uint32, kind byte, body []byte) []byte {
		head := append(be.AppendUint32(nil, number), kind, 0, 1)
		return append(be.AppendUint32(head, uint32(len(body))), body...)
	}
	return onePage(picture(fileW, int(h), 1, "/Filter /JBIG2Decode", append(segment(0, 48, page), segment(1, 38, region)...)))
}

// lockedPDF is a PDF with passwords, by qpdf of .ci/packages.
func lockedPDF(t testing.TB, file []byte, user, owner string) []byte {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.pdf"), filepath.Join(dir, "out.pdf")
	require.NoError(t, os.WriteFile(in, file, 0o600))
	says, err := exec.CommandContext(t.Context(), "qpdf", "--encrypt", user, owner, "256", "--", in, out).CombinedOutput()
	require.NoError(t, err, "%s", says)
	file, err = os.ReadFile(out)
	require.NoError(t, err)
	return file
}

// twice is so many zeros, packed, and what comes of it packed once more.
func twice(t testing.TB, n int) []byte {
	once := zeros(t, n)
	return deflated(t, once)
}

// hostilePDFs are small files that keep readers busy, or make them ask for much.
func hostilePDFs(t testing.TB) map[string][]byte {
	page := "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 300 300] /Contents 4 0 R /Resources << /XObject << /I 5 0 R >> >> >>"
	pages := "<< /Type /Pages /Kids [ 3 0 R ] /Count 1 >>"
	catalogue := "<< /Type /Catalog /Pages 2 0 R >>"
	flateTwice := "/Filter [ /FlateDecode /FlateDecode ]"
	form := "/Type /XObject /Subtype /Form /BBox [0 0 300 300] /Resources << /XObject << /I %d 0 R /J %d 0 R >> >>"
	doubling := []string{catalogue, pages, page, stream("", []byte("/I Do"))}
	for i := range 40 { // each draws the next twice: 2^40 times the last
		doubling = append(doubling, stream(fmt.Sprintf(form, 6+i, 6+i), []byte("/I Do /J Do")))
	}
	doubling = append(doubling, stream("/Type /XObject /Subtype /Form /BBox [0 0 300 300]", []byte("0 0 9 9 re f")))
	ring := pdfObjects(catalogue, pages, page, stream("", []byte("0 0 9 9 re f")))
	previous := bytes.LastIndex(ring, []byte("xref\n0"))
	return map[string][]byte{
		"flate of flate, drawn":   pdfObjects(catalogue, pages, page, stream(flateTwice, twice(t, 1<<30))),
		"flate of flate, shown":   onePage(picture(30_000, 30_000, 8, flateTwice, twice(t, 900_000_000))),
		"picture of itself":       pdfObjects(catalogue, pages, page, stream("", []byte("/I Do")), stream(fmt.Sprintf(form, 5, 5), []byte("/I Do /J Do"))),
		"pictures that double":    pdfObjects(doubling...),
		"tree of pages in a ring": pdfObjects(catalogue, "<< /Type /Pages /Kids [ 2 0 R 2 0 R ] /Count 2 >>"),
		"a billion pages":         pdfObjects(catalogue, "<< /Type /Pages /Kids [ 3 0 R ] /Count 1000000000 >>", page, stream("", []byte(" "))),
		"brackets, a million":     pdfObjects(catalogue, pages, page, stream("", []byte(strings.Repeat("[", 1<<20)))),
		"brackets in an object":   pdfObjects(catalogue, pages, strings.Repeat("[", 1<<20), page),
		"tables in a ring":        bytes.Replace(ring, []byte("/Size 5 /Root 1 0 R"), fmt.Appendf(nil, "/Size 5 /Root 1 0 R /Prev %d", previous), 1),
		"dots without number": pdfObjects(catalogue, pages, "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 300 300] /Contents 4 0 R /Resources << /Pattern << /P 5 0 R >> >> >>",
			stream("", []byte("/Pattern cs /P scn 0 0 300 300 re f")),
			stream("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 1 1] /XStep 0.001 /YStep 0.001 /Resources << >>", []byte("0 0 1 1 re f"))),
	}
}
