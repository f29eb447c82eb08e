//go:build cgo && linux

package reading

/*
#include <malloc.h>

static void few_arenas(int n, int large) {
#ifdef __GLIBC__
	mallopt(M_ARENA_MAX, n);
	mallopt(M_MMAP_THRESHOLD, large);
#endif
}
*/
import "C"

// The C library opens a heap of its own for every few threads, and each keeps room for pictures of 12 megapixels that
// it has freed. Calls into OpenCV wander over all threads that Go starts; two heaps serve two readers as well. A picture
// comes from the system and goes back to it: in a heap it leaves holes, by which a process that watches a folder
// all day would grow. Left alone, the library raises this limit to the largest picture it has seen freed.
func init() { C.few_arenas(2, 4<<20) }
