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
	int (*chroma)(const void *);
	int (*width)(const void *, int channel);
	int (*height)(const void *, int channel);
	int (*bits)(const void *, int channel);
	const uint8_t *(*plane)(const void *, int channel, int *stride);
	void (*release)(const void *);
} heif;

enum { COLOURS_UNDEFINED = 99, COLOURS_RGB = 1, CHROMA_UNDEFINED = 99, CHROMA_444 = 3, CHANNEL_Y = 0, CHANNEL_R = 3, CHANNEL_G = 4, CHANNEL_B = 5 };

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
	CALL(chroma, "heif_image_get_chroma_format");
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
	heif.set_threads(s->context, 0); // with any, tiles that lead back to their grid wait for each other without end
	if (failed(s, heif.read(s->context, file, n, NULL)) || failed(s, heif.primary(s->context, &s->handle)))
		return -1;
	s->w = heif.handle_width(s->handle);
	s->h = heif.handle_height(s->handle);
	return 0;
}

// plane is one channel of an unpacked picture; more bits than 8 of each value come in two bytes.
struct plane { const uint8_t *at; int stride, more; };

static int plane_of(struct still *s, int channel, struct plane *p) {
	p->at = heif.plane(s->image, channel, &p->stride);
	p->more = heif.bits(s->image, channel) - 8;
	return !p->at || p->more < 0 || p->more > 8 || heif.width(s->image, channel) != s->w || heif.height(s->image, channel) != s->h;
}

static inline int value(const struct plane *p, int x, int y) {
	const uint8_t *row = p->at + (size_t)y * p->stride;
	return p->more ? ((const uint16_t *)row)[x] >> p->more : row[x];
}

// still_decode unpacks it, in whatever colours suit the library best.
static int still_decode(struct still *s) {
	if (failed(s, heif.decode(s->handle, &s->image, COLOURS_UNDEFINED, CHROMA_UNDEFINED, NULL)))
		return -1;
	if (heif.colours(s->image) == COLOURS_RGB && heif.chroma(s->image) != CHROMA_444) {
		heif.release(s->image);
		s->image = NULL;
		if (failed(s, heif.decode(s->handle, &s->image, COLOURS_RGB, CHROMA_444, NULL)))
			return -1;
	}
	return 0;
}

// still_grey makes w * h grey values of it.
static int still_grey(struct still *s, uint8_t *grey) {
	int x, y;
	struct plane luma;
	if (heif.colours(s->image) == COLOURS_RGB) { // what the library makes of a grid of tiles
		struct plane r, g, b;
		if (plane_of(s, CHANNEL_R, &r) || plane_of(s, CHANNEL_G, &g) || plane_of(s, CHANNEL_B, &b))
			return -1;
		for (y = 0; y < s->h; y++)
			for (x = 0; x < s->w; x++) // ITU-R BT.601
				grey[(size_t)y * s->w + x] = (299 * value(&r, x, y) + 587 * value(&g, x, y) + 114 * value(&b, x, y) + 500) / 1000;
		return 0;
	}
	if (plane_of(s, CHANNEL_Y, &luma))
		return -1;
	for (y = 0; y < s->h; y++) {
		uint8_t *to = grey + (size_t)y * s->w;
		if (luma.more == 0)
			memcpy(to, luma.at + (size_t)y * luma.stride, s->w);
		else
			for (x = 0; x < s->w; x++)
				to[x] = value(&luma, x, y);
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
		text := strings.TrimSpace(C.GoString(&s.says[0]))
		if strings.Contains(strings.ToLower(text), "end of file") {
			return "the file is cut short"
		}
		if text != "" {
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
	j.allow(3 * w * h) // of all kinds it takes longest
	if C.still_decode(s) != 0 {
		if strings.Contains(C.GoString(&s.says[0]), "Unsupported codec") { // newer Debian keeps the coders apart
			return j.refuse(0, 0, "the picture can't be unpacked: libheif lacks the coder for it",
				"install libheif-plugin-libde265, or "+remedyPlain)
		}
		return j.refuse(0, 0, says("the picture can't be unpacked"), remedyAgain)
	}
	grey := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8U) // not before: turning it takes most memory
	defer grey.Close()
	pixels, err := grey.DataPtrUint8()
	if err != nil || len(pixels) != w*h {
		return j.refuse(0, 0, "no memory for it", remedyPlain)
	}
	if C.still_grey(s, (*C.uint8_t)(unsafe.Pointer(&pixels[0]))) != 0 {
		return j.refuse(0, 0, "the picture is not of the size it declares", remedyAgain)
	}
	return j.sendMat(scan.Meta{Format: string(heicFile), Orientation: 1}, 1, 1, grey)
}
