package camera

import (
	"runtime"
	"sync"
)

// bands calls do for rows 0 to n in bands, on as many cores as the program may use. Results must not
// depend on where bands begin.
func bands(n int, do func(from, to int)) {
	workers := runtime.GOMAXPROCS(0)
	const least = 64 // rows; smaller bands cost more than they save
	if workers == 1 || n < 2*least {
		do(0, n)
		return
	}
	size := max(least, (n+4*workers-1)/(4*workers))
	var wg sync.WaitGroup
	gate := make(chan struct{}, workers)
	for from := 0; from < n; from += size {
		wg.Add(1)
		gate <- struct{}{}
		go func() {
			defer wg.Done()
			do(from, min(n, from+size))
			<-gate
		}()
	}
	wg.Wait()
}
