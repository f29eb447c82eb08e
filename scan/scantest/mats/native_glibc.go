//go:build linux && cgo

package mats

/*
#include <malloc.h>
#ifdef __GLIBC__
#if __GLIBC__ > 2 || (__GLIBC__ == 2 && __GLIBC_MINOR__ >= 33)
static long long inUse(void) { struct mallinfo2 m = mallinfo2(); return (long long)m.uordblks + (long long)m.hblkhd; }
#else
static long long inUse(void) { return -1; }
#endif
#else
static long long inUse(void) { return -1; }
#endif
*/
import "C"

// Native returns the bytes that C and C++ libraries hold at this moment, as glibc counts them: without what
// was given back and not yet returned to the system, so it is free of the chance that resident memory has.
// ok is false where nothing counts them.
func Native() (bytes int64, ok bool) {
	n := int64(C.inUse())
	return n, n >= 0
}
