//go:build cgo && linux

package cmem

/*
#include <malloc.h>

#ifdef __GLIBC__
static void few_heaps(int n, int large) {
	mallopt(M_ARENA_MAX, n);
	mallopt(M_MMAP_THRESHOLD, large);
}
static void give_back(void) { malloc_trim(0); }
#else
static void few_heaps(int n, int large) {}
static void give_back(void) {}
#endif
*/
import "C"

import "sync/atomic"

const (
	// The C library opens a heap of its own for every few threads, up to eight a core, and calls into OpenCV wander over
	// all threads that Go starts. Two heaps serve two readers as well.
	heaps = 2
	// A picture this large comes from the system and goes back to it: in a heap it leaves a hole. Left alone, the
	// library raises this limit to the largest picture it has seen freed, up to 32 MB.
	large = 4 << 20
	// Giving back takes 3 to 7 ms, of 100 to 300 for a photo. With 8 instead of 2, two readers held up to 130 MB in between.
	every = 2
)

var photos atomic.Int64

// Tame tells the C library to open few heaps and to take large blocks from the system. It is to be called before
// pictures are read, best while the program starts.
func Tame() { C.few_heaps(heaps, large) }

// AfterPhoto is to be called when a photo was read and its pictures are closed. At every second call, of all goroutines
// together, what the C library has free goes back to the system.
func AfterPhoto() {
	if photos.Add(1)%every == 0 {
		C.give_back()
	}
}
