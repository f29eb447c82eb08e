package main

import (
	"runtime"

	"golang.org/x/sys/unix"
)

// giveWay lets everything else on this computer go before the goroutine that calls it, for as long as that
// lives: on two cores, pages are to answer while photos are read. Threads and programs that it starts give way
// as well. Linux gives each thread its own niceness, whatever POSIX says (sched(7)), so the goroutine keeps its thread.
func giveWay() {
	runtime.LockOSThread()
	_ = unix.Setpriority(unix.PRIO_PROCESS, 0, 10) // else it reads as before
}
