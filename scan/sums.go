package scan

/*
#cgo CFLAGS: -O3
#include <stdint.h>
#include <string.h>

// The sums in which matching and fitting spend their time, eight or four at a time. The lanes are written out, so
// that every processor adds in the same order and comes to the same last bit.

#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__) // which choose at start
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif
#define INLINE inline __attribute__((always_inline))

#if __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
#define LEFT(two) ((two) & 255)
#define RIGHT(two) ((two) >> 8)
#else
#define LEFT(two) ((two) >> 8)
#define RIGHT(two) ((two) & 255)
#endif

#define SHORT 0.02 // mm; the next step would be a tenth of it

typedef float f8 __attribute__((vector_size(32), aligned(4), may_alias));
typedef int32_t i8 __attribute__((vector_size(32), aligned(4), may_alias));
typedef double d4 __attribute__((vector_size(32), aligned(8), may_alias));

enum { REACH = 6, WINDOW = 12, HALF = REACH + WINDOW, SIDE = 2 * HALF + 1, STRIDE = 40, SHIFTS = 2 * REACH + 1, MOST = 48 * 48, BLOCK = 256 };

struct sample {
	float dx, dy, ink, sx, sy;
	int16_t ix, iy;
};

// picture is a level, and where the paper lies in it round a patch: x = x0 + xu * u + xv * v.
struct picture {
	const uint8_t *pix;
	int w, h;
	double x0, xu, xv, y0, yu, yv;
};

// look interpolates n grey values, a multiple of 8, less 128, at u, v mm from the place shifted by du, dv.
// Outside the picture the edge goes on.
static INLINE void look(const struct picture *p, const float *u, const float *v, int n, double du, double dv, float *grey) {
	float fx[BLOCK], fy[BLOCK];
	int32_t at[BLOCK], top[BLOCK], low[BLOCK];
	float x0 = p->x0 + p->xu * du + p->xv * dv, y0 = p->y0 + p->yu * du + p->yv * dv;
	float xu = p->xu, xv = p->xv, yu = p->yu, yv = p->yv;
	float right = p->w - 1.001f, bottom = p->h - 1.001f;
	int32_t w = p->w, h = p->h;
	int from, i;
	for (from = 0; from < n; from += BLOCK) {
		int m = n - from < BLOCK ? n - from : BLOCK;
		for (i = 0; i < m; i++) {
			float x = x0 + xu * u[from + i] + xv * v[from + i], y = y0 + yu * u[from + i] + yv * v[from + i];
			x = x > 0 ? x : 0;
			x = x < right ? x : right;
			y = y > 0 ? y : 0;
			y = y < bottom ? y : bottom;
			int32_t ix = (int32_t)x, iy = (int32_t)y;
			ix = ix < w - 1 ? ix : w - 2; // from 32,768 px on a float can't hold the thousandth
			iy = iy < h - 1 ? iy : h - 2;
			fx[i] = x - (float)ix;
			fy[i] = y - (float)iy;
			at[i] = iy * w + ix;
		}
		for (i = 0; i < m; i++) { // two neighbours with one load each
			uint16_t a, b;
			memcpy(&a, p->pix + at[i], 2);
			memcpy(&b, p->pix + at[i] + w, 2);
			top[i] = a;
			low[i] = b;
		}
		for (i = 0; i < m; i++) {
			float a = (float)LEFT(top[i]), b = (float)RIGHT(top[i]), c = (float)LEFT(low[i]), d = (float)RIGHT(low[i]);
			float g = a + (b - a) * fx[i];
			grey[from + i] = g + (c + (d - c) * fx[i] - g) * fy[i] - 128;
		}
	}
}

static INLINE double total(const f8 *a) {
	double sum = 0;
	int i;
	for (i = 0; i < 8; i++)
		sum += (*a)[i];
	return sum;
}

// correlate sums, for each shift on the coarse net, row by row of 16, grey, its square, and its product with ink.
static WIDE void correlate(struct picture p, const struct sample *s, int n, float step, float *sums, float *squares, float *crosses) {
	static const f8 none;
	float u[SIDE * STRIDE], v[SIDE * STRIDE], net[SIDE * STRIDE];
	float ink[(2 * WINDOW + 1) * (2 * WINDOW + 1)];
	int at[(2 * WINDOW + 1) * (2 * WINDOW + 1)];
	int i, j, k;
	for (j = 0; j < SIDE; j++)
		for (i = 0; i < STRIDE; i++) {
			u[j * STRIDE + i] = (float)(i - HALF) * step;
			v[j * STRIDE + i] = (float)(j - HALF) * step;
		}
	look(&p, u, v, SIDE * STRIDE, 0, 0, net);
	for (k = 0; k < n; k++) {
		ink[k] = s[k].ink;
		at[k] = (s[k].iy + WINDOW) * STRIDE + s[k].ix + WINDOW;
	}
	for (j = 0; j < SHIFTS; j++) {
		f8 s0 = none, s1 = none, q0 = none, q1 = none, c0 = none, c1 = none;
		const float *row = net + j * STRIDE;
		for (k = 0; k < n; k++) {
			f8 a = *(const f8 *)(row + at[k]), b = *(const f8 *)(row + at[k] + 8);
			s0 += a;
			s1 += b;
			q0 += a * a;
			q1 += b * b;
			c0 += a * ink[k];
			c1 += b * ink[k];
		}
		*(f8 *)(sums + 16 * j) = s0;
		*(f8 *)(sums + 16 * j + 8) = s1;
		*(f8 *)(squares + 16 * j) = q0;
		*(f8 *)(squares + 16 * j + 8) = q1;
		*(f8 *)(crosses + 16 * j) = c0;
		*(f8 *)(crosses + 16 * j + 8) = c1;
	}
}

// lucas is a patch made ready for steps.
struct lucas {
	int n, padded;
	float dx[MOST], dy[MOST], ink[MOST], sx[MOST], sy[MOST], grey[MOST];
};

struct step {
	double gx, gy, miss, cross, sd;
};

static INLINE void one_step(const struct picture *p, struct lucas *l, double du, double dv, struct step *out) {
	static const f8 none;
	const f8 most = none + 1.5f;
	f8 sum = none, square = none, miss = none, cross = none, gx = none, gy = none;
	double mean, sd, n = l->n;
	int i;
	look(p, l->dx, l->dy, l->padded, du, dv, l->grey);
	for (i = l->n; i < l->padded; i++)
		l->grey[i] = 0;
	for (i = 0; i < l->padded; i += 8) {
		f8 g = *(const f8 *)(l->grey + i);
		sum += g;
		square += g * g;
	}
	mean = total(&sum) / n;
	sd = total(&square) / n - mean * mean;
	sd = __builtin_sqrt(sd < 1 ? 1 : sd);
	float m = (float)mean, per = (float)(1 / sd);
	for (i = l->n; i < l->padded; i++)
		l->grey[i] = m;
	for (i = 0; i < l->padded; i += 8) {
		f8 g = *(const f8 *)(l->grey + i), ink = *(const f8 *)(l->ink + i);
		// Paper is bright and ink is positive, hence the sign.
		f8 e = (m - g) * per - ink;
		miss += e * e;
		cross -= g * ink;
		i8 over = e > most, under = e < -most; // a pencil stroke over a line is no reason to move far
		e = (f8)(((i8)most & over) | ((i8)-most & under) | ((i8)e & ~over & ~under));
		gx += e * *(const f8 *)(l->sx + i);
		gy += e * *(const f8 *)(l->sy + i);
	}
	out->gx = total(&gx);
	out->gy = total(&gy);
	out->miss = total(&miss);
	out->cross = total(&cross);
	out->sd = sd;
}

struct found {
	double dx, dy, noise, score;
	int lost;
};

// seek_fine moves a shift to where the patch fits best. hxx, hxy, hyy are the sums of slopes, det their determinant.
static WIDE struct found seek_fine(struct picture p, const struct sample *s, int n, double hxx, double hxy, double hyy, double dx, double dy) {
	struct lucas l;
	struct step at;
	struct found f = {dx, dy, 0, 0, 0};
	double det = hxx * hyy - hxy * hxy;
	int i, k;
	l.n = n;
	l.padded = (n + 7) / 8 * 8;
	for (i = 0; i < n; i++) {
		l.dx[i] = s[i].dx;
		l.dy[i] = s[i].dy;
		l.ink[i] = s[i].ink;
		l.sx[i] = s[i].sx;
		l.sy[i] = s[i].sy;
	}
	for (; i < l.padded; i++)
		l.dx[i] = l.dy[i] = l.ink[i] = l.sx[i] = l.sy[i] = 0;
	for (k = 0;; k++) {
		one_step(&p, &l, f.dx, f.dy, &at);
		f.score = at.cross / n / at.sd; // about 0 on blank paper, for sd is at least one grey level
		f.noise = at.miss / n;
		double ux = (hyy * at.gx - hxy * at.gy) / det, uy = (hxx * at.gy - hxy * at.gx) / det;
		double step = __builtin_fabs(ux) + __builtin_fabs(uy);
		if (k == 5 && !(step < SHORT))
			return f;
		f.dx -= ux;
		f.dy -= uy;
		if (step < SHORT) // what such a step changes of score and noise is not worth another look
			return f;
		if ((f.dx - dx) * (f.dx - dx) + (f.dy - dy) * (f.dy - dy) > 1) {
			f.lost = 1;
			return f;
		}
	}
}

static INLINE double dot(const double *a, const double *b, int n) {
	d4 s = {0, 0, 0, 0}, t = {0, 0, 0, 0};
	double sum;
	int i = 0;
	for (; i + 8 <= n; i += 8) {
		s += *(const d4 *)(a + i) * *(const d4 *)(b + i);
		t += *(const d4 *)(a + i + 4) * *(const d4 *)(b + i + 4);
	}
	s += t;
	sum = (s[0] + s[1]) + (s[2] + s[3]);
	for (; i < n; i++)
		sum += a[i] * b[i];
	return sum;
}

// factor replaces a banded matrix, row by row of w + 1, by its Cholesky factor; 0 if it has none.
static WIDE int factor(double *v, int n, int w) {
	int i, j;
	for (i = 0; i < n; i++) {
		double *ri = v + (size_t)i * (w + 1) + w - i; // ri[k] is column k
		int from = i > w ? i - w : 0;
		for (j = from; j <= i; j++) {
			double *rj = v + (size_t)j * (w + 1) + w - j;
			double sum = ri[j] - dot(ri + from, rj + from, j - from);
			if (j < i) {
				ri[j] = sum / rj[j];
				continue;
			}
			if (!(sum > 0))
				return 0;
			ri[j] = __builtin_sqrt(sum);
		}
	}
	return 1;
}

// solve_down replaces x by the solution of L * z = x, where x is zero before index from.
static WIDE void solve_down(const double *v, int n, int w, double *x, int from) {
	int i;
	for (i = from; i < n; i++) {
		const double *row = v + (size_t)i * (w + 1) + w - i;
		int first = i - w > from ? i - w : from;
		x[i] = (x[i] - dot(row + first, x + first, i - first)) / row[i];
	}
}
*/
import "C"

import "unsafe"

const (
	shiftLanes = 16                                   // per row of shifts on the coarse net, the last of them idle
	coarseRoom = 3 * shiftLanes * (2*coarseReach + 1) // float32 that search works in
)

// picture tells the C code where a patch lies in a level.
func (t *tangent) picture(v *view) C.struct_picture {
	return C.struct_picture{
		pix: (*C.uint8_t)(unsafe.Pointer(&v.pix[0])), w: C.int(v.w), h: C.int(v.h),
		x0: C.double(t.x0), xu: C.double(t.xu), xv: C.double(t.xv), y0: C.double(t.y0), yu: C.double(t.yu), yv: C.double(t.yv),
	}
}

func samplesOf(s []sample) *C.struct_sample { return (*C.struct_sample)(unsafe.Pointer(&s[0])) }

// correlate returns, for each shift of coarse samples on the coarse net, row by row of shiftLanes, the sums of grey,
// of its square, and of grey times ink. They lie in room, of coarseRoom.
func correlate(v *view, t *tangent, coarse []sample, room []float32) (sums, squares, crosses []float32) {
	const n = coarseRoom / 3
	sums, squares, crosses = room[:n], room[n:2*n], room[2*n:3*n]
	float := func(f []float32) *C.float { return (*C.float)(unsafe.Pointer(&f[0])) }
	C.correlate(t.picture(v), samplesOf(coarse), C.int(len(coarse)), 1/coarsePxPer, float(sums), float(squares), float(crosses))
	return sums, squares, crosses
}

// seekFine walks from the shift dx, dy to where fine samples fit best. noise is the mean square of the residuals;
// ok is false if that leads farther than 1 mm.
func seekFine(v *view, t *tangent, fine []sample, hess [3]float64, dx, dy float64) (x, y, noise, score float64, ok bool) {
	f := C.seek_fine(t.picture(v), samplesOf(fine), C.int(len(fine)), C.double(hess[0]), C.double(hess[1]), C.double(hess[2]), C.double(dx), C.double(dy))
	return float64(f.dx), float64(f.dy), float64(f.noise), float64(f.score), f.lost == 0
}

// cholesky replaces b by its factor L; false if b is not positive definite.
func (b *banded) cholesky() bool {
	return C.factor((*C.double)(&b.v[0]), C.int(b.n), C.int(b.width)) != 0
}

// forward replaces x by the solution of L·z = x, where x is zero before index from.
func (b *banded) forward(x []float64, from int) {
	C.solve_down((*C.double)(&b.v[0]), C.int(b.n), C.int(b.width), (*C.double)(&x[0]), C.int(from))
}
