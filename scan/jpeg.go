package scan

/*
#cgo LDFLAGS: -ljpeg
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <jpeglib.h>
#include <jerror.h>

// A picture file that asks for more passes than this only wants to keep us busy; phones need about ten.
#define MOST_PASSES 100

enum { WHOLE, UNREADABLE, CUT, SPOILT, PRINTING_COLOURS, TOO_MANY_PASSES };

struct course {
	struct jpeg_error_mgr errors; // first, so that the library's pointer to it is one to us
	jmp_buf out;
	int end;           // of the above
	JDIMENSION lost;   // row at which the first part was lost
	char says[JMSG_LENGTH_MAX];
};

static void on_error(j_common_ptr info) {
	struct course *c = (struct course *)info->err;
	c->errors.format_message(info, c->says);
	c->end = UNREADABLE;
	longjmp(c->out, 1);
}

// The library goes on past lost data and fills in grey. We don't. Bytes too many before a marker, a
// colour mark that contradicts another, and the like lose nothing.
static void on_message(j_common_ptr info, int level) {
	struct course *c = (struct course *)info->err;
	int end;
	if (level >= 0 || !info->is_decompressor)
		return;
	switch (c->errors.msg_code) {
	case JWRN_HIT_MARKER:
	case JWRN_JPEG_EOF:
		end = CUT;
		break;
	case JWRN_HUFF_BAD_CODE:
	case JWRN_ARITH_BAD_CODE:
	case JWRN_MUST_RESYNC:
	case JWRN_BOGUS_PROGRESSION:
		end = SPOILT;
		break;
	default:
		return;
	}
	c->errors.format_message(info, c->says);
	c->end = end;
	c->lost = ((j_decompress_ptr)info)->output_scanline;
	longjmp(c->out, 1);
}

static void on_progress(j_common_ptr info) {
	struct course *c = (struct course *)info->err;
	if (((j_decompress_ptr)info)->input_scan_number > MOST_PASSES) {
		c->end = TOO_MANY_PASSES;
		longjmp(c->out, 1);
	}
}

// grey_of_jpeg unpacks a file of n bytes, made smaller by part, into w * h grey values, and returns how that ended.
static int grey_of_jpeg(const uint8_t *file, unsigned long n, unsigned part, uint8_t *grey, JDIMENSION w, JDIMENSION h,
                        JDIMENSION *lost, char *says) {
	struct jpeg_decompress_struct d;
	struct jpeg_progress_mgr progress;
	struct course c;
	memset(&c, 0, sizeof c);
	memset(&d, 0, sizeof d);
	memset(&progress, 0, sizeof progress);
	d.err = jpeg_std_error(&c.errors);
	c.errors.error_exit = on_error;
	c.errors.emit_message = on_message;
	progress.progress_monitor = on_progress;
	if (!setjmp(c.out)) {
		jpeg_create_decompress(&d);
		d.progress = &progress;
		jpeg_mem_src(&d, file, n);
		jpeg_read_header(&d, TRUE);
		if (d.jpeg_color_space == JCS_CMYK || d.jpeg_color_space == JCS_YCCK) {
			c.end = PRINTING_COLOURS;
			goto out;
		}
		d.out_color_space = JCS_GRAYSCALE;
		d.scale_num = 1;
		d.scale_denom = part;
		jpeg_calc_output_dimensions(&d);
		if (d.output_width != w || d.output_height != h) {
			c.end = UNREADABLE;
			strcpy(c.says, "two sizes in one file");
		} else {
			jpeg_start_decompress(&d);
			while (d.output_scanline < h) {
				JSAMPROW rows[8];
				JDIMENSION i, some = h - d.output_scanline < 8 ? h - d.output_scanline : 8;
				for (i = 0; i < some; i++)
					rows[i] = grey + (size_t)(d.output_scanline + i) * w;
				jpeg_read_scanlines(&d, rows, some);
			}
			jpeg_finish_decompress(&d);
		}
	}
out:
	*lost = c.lost;
	memcpy(says, c.says, sizeof c.says);
	jpeg_destroy_decompress(&d);
	return c.end;
}
*/
import "C"

import (
	"fmt"
	"strings"
	"unsafe"

	"gocv.io/x/gocv"
)

// greyOfJPEG unpacks a JPEG file of w × h pixels, as it lies in the file. The caller closes the Mat. With
// part 2 it has half the rows and columns, each pixel the mean of four: nothing larger is ever in memory.
//
// Any part that the file doesn't hold is an error: OpenCV, which unpacks with the same library, fills it
// with grey and says nothing, and a grey half would pass for an empty card. What comes behind the picture
// doesn't matter; phones put further pictures, films and depths there.
func greyOfJPEG(file []byte, w, h, part int) (grey gocv.Mat, detail, remedy string) {
	w, h = (w+part-1)/part, (h+part-1)/part
	grey = gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	pixels, err := grey.DataPtrUint8()
	if err != nil || len(pixels) != w*h {
		_ = grey.Close()
		return gocv.Mat{}, "no memory for it", "close other programs, then try again"
	}
	var lost C.JDIMENSION
	var says [C.JMSG_LENGTH_MAX]C.char
	end := C.grey_of_jpeg((*C.uint8_t)(unsafe.Pointer(&file[0])), C.ulong(len(file)), C.uint(part),
		(*C.uint8_t)(unsafe.Pointer(&pixels[0])), C.JDIMENSION(w), C.JDIMENSION(h), &lost, &says[0])
	if end == C.WHOLE {
		return grey, "", ""
	}
	_ = grey.Close()
	switch end {
	case C.CUT:
		detail, remedy = "the file is cut short", "send it again"
	case C.SPOILT:
		detail, remedy = "the file is damaged", "send it again"
	case C.PRINTING_COLOURS:
		return gocv.Mat{}, "its colours are those of a print shop (CMYK)", "send the photo as the phone took it"
	case C.TOO_MANY_PASSES:
		return gocv.Mat{}, "it is packed in more than 100 passes", "send the photo as the phone took it"
	default:
		return gocv.Mat{}, "the picture can't be unpacked: " + strings.TrimSpace(C.GoString(&says[0])), "send it again"
	}
	if lost > 0 {
		detail = fmt.Sprintf("%s: %d of %d rows are there", detail, int(lost), h)
	}
	return gocv.Mat{}, detail, remedy
}
