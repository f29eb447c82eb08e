//go:build cgo && linux

package reading

/*
#include <malloc.h>

static void few_arenas(int n) {
#ifdef __GLIBC__
	mallopt(M_ARENA_MAX, n);
#endif
}
*/
import "C"

// The C library opens a heap of its own for every few threads, and each keeps room for pictures of 12 megapixels that
// it has freed. Calls into OpenCV wander over all threads that Go starts; two heaps serve two readers as well.
func init() { C.few_arenas(2) }
