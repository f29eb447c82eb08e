package intake

/*
#cgo linux LDFLAGS: -ldl
#include <dlfcn.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <stdio.h>
#include <string.h>

// The few calls of libheif 1 that are needed, as its heif.h declares them. It is opened when the first HEIC
// file comes: a computer without it reads all other kinds, and no header is needed to build.
struct heif_error { int code; int subcode; const char *message; };

static struct {
	const char *(*version)(void);
	void *(*context_alloc)(void);
	void (*context_free)(void *);
	struct heif_error (*read)(void *, const void *, size_t, const void *);
	void (*set_threads)(void *, int);
	struct heif_error (*primary)(void *, void **);
	int (*handle_width)(const void *);
	int (*handle_height)(const void *);
	void (*handle_release)(const void *);
	struct heif_error (*decode)(const void *, void **, int colours, int chroma, const void *options);
	int (*colours)(const void *);
	int (*width)(const void *, int channel);
	int (*height)(const void *, int channel);
	int (*bits)(const void *, int channel);
	const uint8_t *(*plane)(const void *, int channel, int *stride);
	void (*release)(const void *);
} heif;

enum { COLOURS_UNDEFINED = 99, COLOURS_RGB = 1, CHROMA_UNDEFINED = 99, CHROMA_RGB = 10, CHANNEL_Y = 0, CHANNEL_RGB = 10 };

// heif_open returns 0, or -1 where the library isn't there or is another one.
static int heif_open(const char *name) {
	void *lib = dlopen(name, RTLD_NOW | RTLD_LOCAL);
	if (!lib)
		return -1;
#define CALL(field, symbol) if (!(*(void **)&heif.field = dlsym(lib, symbol))) return -1
	CALL(version, "heif_get_version");
	CALL(context_alloc, "heif_context_alloc");
	CALL(context_free, "heif_context_free");
	CALL(read, "heif_context_read_from_memory_without_copy");
	CALL(set_threads, "heif_context_set_max_decoding_threads");
	CALL(primary, "heif_context_get_primary_image_handle");
	CALL(handle_width, "heif_image_handle_get_width");
	CALL(handle_height, "heif_image_handle_get_height");
	CALL(handle_release, "heif_image_handle_release");
	CALL(decode, "heif_decode_image");
	CALL(colours, "heif_image_get_colorspace");
	CALL(width, "heif_image_get_width");
	CALL(height, "heif_image_get_height");
	CALL(bits, "heif_image_get_bits_per_pixel_range");
	CALL(plane, "heif_image_get_plane_readonly");
	CALL(release, "heif_image_release");
#undef CALL
	return 0;
}

static const char *heif_version(void) { return heif.version(); }

struct still { void *context, *handle, *image; int w, h; char says[200]; };

static int failed(struct still *s, struct heif_error e) {
	if (e.code)
		snprintf(s->says, sizeof s->says, "%s", e.message);
	return e.code;
}

// still_open reads the boxes of a file and the size of its main picture, the turn applied.
static int still_open(struct still *s, const uint8_t *file, size_t n) {
	if (!(s->context = heif.context_alloc()))
		return -1;
	heif.set_threads(s->context, 1);
	if (failed(s, heif.read(s->context, file, n, NULL)) || failed(s, heif.primary(s->context, &s->handle)))
		return -1;
	s->w = heif.handle_width(s->handle);
	s->h = heif.handle_height(s->handle);
	return 0;
}

// still_grey unpacks it into w * h grey values.
static int still_grey(struct still *s, uint8_t *grey) {
	int x, y, stride, bits;
	const uint8_t *p;
	if (failed(s, heif.decode(s->handle, &s->image, COLOURS_UNDEFINED, CHROMA_UNDEFINED, NULL)))
		return -1;
	if (heif.colours(s->image) == COLOURS_RGB) {
		heif.release(s->image);
		s->image = NULL;
		if (failed(s, heif.decode(s->handle, &s->image, COLOURS_RGB, CHROMA_RGB, NULL)))
			return -1;
		p = heif.plane(s->image, CHANNEL_RGB, &stride);
		if (!p || heif.width(s->image, CHANNEL_RGB) != s->w || heif.height(s->image, CHANNEL_RGB) != s->h)
			return -1;
		for (y = 0; y < s->h; y++)
			for (x = 0; x < s->w; x++) {
				const uint8_t *c = p + (size_t)y * stride + 3 * x;
				grey[(size_t)y * s->w + x] = (299 * c[0] + 587 * c[1] + 114 * c[2] + 500) / 1000; // ITU-R BT.601
			}
		return 0;
	}
	p = heif.plane(s->image, CHANNEL_Y, &stride);
	bits = heif.bits(s->image, CHANNEL_Y);
	if (!p || bits < 8 || bits > 16 || heif.width(s->image, CHANNEL_Y) != s->w || heif.height(s->image, CHANNEL_Y) != s->h)
		return -1;
	for (y = 0; y < s->h; y++) {
		const uint8_t *row = p + (size_t)y * stride;
		uint8_t *to = grey + (size_t)y * s->w;
		if (bits == 8)
			memcpy(to, row, s->w);
		else
			for (x = 0; x < s->w; x++)
				to[x] = ((const uint16_t *)row)[x] >> (bits - 8);
	}
	return 0;
}

static void still_close(struct still *s) {
	if (s->image) heif.release(s->image);
	if (s->handle) heif.handle_release(s->handle);
	if (s->context) heif.context_free(s->context);
}
*/
import "C"

import (
	"strings"
	"sync"
	"unsafe"

	"gocv.io/x/gocv"

	"gatefold/scan"
)

// heifLibrary is what programs call libheif.
const heifLibrary = "libheif.so.1"

// HEICPackage is what Debian calls the package that HEIC files need.
const HEICPackage = "libheif1"

// HasHEIC reports whether the library for HEIC files is on this computer.
var HasHEIC = sync.OnceValue(func() bool {
	name := C.CString(heifLibrary) // kept: it is opened once
	return C.heif_open(name) == 0
})

// HEICVersion is the version of the library, where HasHEIC.
func HEICVersion() string {
	if !HasHEIC() {
		return ""
	}
	return C.GoString(C.heif_version())
}

// unpackHEIC sends the main picture of a HEIC or AVIF file. Its own boxes say how to turn it, and libheif has
// done so; the EXIF turn beside them says it once more and must not be applied again.
//
// Source: ISO/IEC 23008-12, 6.5.10 (irot) and annex A.2.1: Exif is descriptive there.
func (j *job) unpackHEIC() error {
	if !HasHEIC() {
		return j.refuse(0, 0, "HEIC needs "+heifLibrary+", which is not installed", "install "+HEICPackage+", or "+remedyPlain)
	}
	s := &C.struct_still{}
	defer C.still_close(s)
	says := func(otherwise string) string {
		if text := strings.TrimSpace(C.GoString(&s.says[0])); text != "" {
			return "the picture can't be unpacked: " + text
		}
		return otherwise
	}
	file := C.CBytes(j.file) // the library keeps pointers into it
	defer C.free(file)
	if C.still_open(s, (*C.uint8_t)(file), C.size_t(len(j.file))) != 0 {
		return j.refuse(0, 0, says("the file is damaged"), remedyAgain)
	}
	w, h := int(s.w), int(s.h)
	if err := scan.CheckSize(j.name, w, h); err != nil {
		return j.refuseAs(0, 0, err)
	}
	j.allow(2 * w * h) // of all kinds it takes longest
	grey := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U)
	defer grey.Close()
	pixels, err := grey.DataPtrUint8()
	if err != nil || len(pixels) != w*h {
		return j.refuse(0, 0, "no memory for it", remedyPlain)
	}
	if C.still_grey(s, (*C.uint8_t)(unsafe.Pointer(&pixels[0]))) != 0 {
		if strings.Contains(C.GoString(&s.says[0]), "Unsupported codec") { // newer Debian keeps the coders apart
			return j.refuse(0, 0, "the picture can't be unpacked: libheif lacks the coder for it",
				"install libheif-plugin-libde265, or "+remedyPlain)
		}
		return j.refuse(0, 0, says("the picture can't be unpacked"), remedyAgain)
	}
	return j.sendMat(scan.Meta{Format: string(heicFile), Orientation: 1}, 1, 1, grey)
}
