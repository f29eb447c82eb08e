// Package cmem keeps small what the C library holds for OpenCV.
//
// OpenCV leaves nothing behind: after a photo its pictures are freed. But the C library keeps what was freed, to hand
// it out again. Each of its heaps keeps pictures of many sizes with small blocks between them, so that no heap gets
// shorter, and a process that reads photos all day grows by some 30 kB a photo although it holds no more than before.
// Tame makes it keep less; AfterPhoto gives back to the system what is free.
//
// Both do nothing on systems without glibc. They change how fast memory comes, never what is in it.
package cmem
