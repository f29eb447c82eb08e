package intake

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"gatefold/scan"
	"gatefold/scan/cmem"
)

// WorkerArgument is the only argument of a process that is to be a worker.
const WorkerArgument = "unpack-photos"

// Asked reports whether a command line, os.Args, asks for a worker.
func Asked(args []string) bool { return len(args) == 2 && args[1] == WorkerArgument }

// worker is the unpacking side: one file after the other, until its input ends.
type worker struct {
	in  io.Reader
	out io.Writer

	mu     sync.Mutex // over out and ended: the watchdog speaks, too
	ended  bool
	budget atomic.Int64 // of the processor's time for the present picture, in ns
	began  atomic.Int64 // processor's time when it began
	idle   atomic.Bool  // nothing is being unpacked
}

// Serve is what a worker process does, with its standard input and output. It returns when the input ends,
// and then the process should exit. The limit on memory is set with the first file and can't be raised.
func Serve(in io.Reader, out io.Writer) error {
	w := &worker{in: in, out: out}
	w.idle.Store(true)
	if err := w.say(reply{Kind: ready}); err != nil {
		return err
	}
	limited := false
	for {
		var ask request
		if err := readHead(in, &ask); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if ask.Size < 0 || ask.Size > MaxFile {
			return fmt.Errorf("file of %d bytes", ask.Size)
		}
		limits := ask.Limits.withDefaults()
		if !limited {
			if err := limitProcess(limits); err != nil {
				return fmt.Errorf("limit on memory: %w", err)
			}
			limited = true
		}
		file := make([]byte, ask.Size)
		if _, err := io.ReadFull(in, file); err != nil {
			return err
		}
		j := &job{name: ask.Name, file: file, limits: limits, worker: w}
		j.allow(0)
		if err := w.watched(j.unpack); err != nil {
			return err
		}
		if err := w.say(reply{Kind: endIs}); err != nil {
			return err
		}
		cmem.AfterPhoto()
	}
}

// say writes one frame without anything behind it.
func (w *worker) say(r reply) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ended {
		return errors.New("the worker has ended")
	}
	return writeHead(w.out, r)
}

// watched runs unpack, and ends the process when a picture takes too long. It says so in unpack's place: a
// library that is busy can't be asked to stop.
func (w *worker) watched(unpack func() error) error {
	w.idle.Store(false)
	done := make(chan struct{})
	defer close(done)
	defer w.idle.Store(true)
	go func() {
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
			}
			if !w.overdue() {
				continue
			}
			w.mu.Lock()
			if !w.overdue() { // it became ready just now
				w.mu.Unlock()
				continue
			}
			w.ended = true
			_ = writeHead(w.out, reply{Kind: refusedIs, Last: true, Remedy: remedyPlain,
				Detail: fmt.Sprintf("it can't be unpacked within %.1f s", time.Duration(w.budget.Load()).Seconds())})
			os.Exit(0) //nolint:forbidigo // the one way to stop a library; this process is all the file's own
		}
	}()
	return unpack()
}

func (w *worker) overdue() bool {
	return !w.idle.Load() && processorTime()-time.Duration(w.began.Load()) > time.Duration(w.budget.Load())
}

// job is one file in a worker.
type job struct {
	name   string
	file   []byte
	limits Limits
	worker *worker
}

// allow begins the time of a picture or page that declares so many pixels.
func (j *job) allow(pixels int) {
	j.worker.began.Store(int64(processorTime()))
	j.worker.budget.Store(int64(j.budgetOf(pixels)))
}

func (j *job) budgetOf(pixels int) time.Duration {
	return j.limits.CPU + time.Duration(pixels/1000)*j.limits.Each/1000
}

// send hands a picture over: its head, then its rows.
func (j *job) send(meta scan.Meta, page, pages int, grey []byte) error {
	// Writing waits for the program, and that is nobody's fault.
	j.worker.idle.Store(true)
	defer j.worker.idle.Store(false)
	j.worker.mu.Lock()
	defer j.worker.mu.Unlock()
	if j.worker.ended {
		return errors.New("the worker has ended")
	}
	if err := writeHead(j.worker.out, reply{Kind: pictureIs, Meta: meta, Page: page, Pages: pages}); err != nil {
		return err
	}
	_, err := j.worker.out.Write(grey)
	return err
}

// refuse says what is wrong with a page, or with the whole file where page is 0.
func (j *job) refuse(page, pages int, detail, remedy string) error {
	if page > 0 && pages > 1 {
		detail = fmt.Sprintf("page %d: %s", page, detail)
	}
	return j.worker.say(reply{Kind: refusedIs, Page: page, Pages: pages, Detail: detail, Remedy: remedy})
}

// ServeStdio is Serve over the process's standard input and output, buffered where that helps.
func ServeStdio() error { return Serve(bufio.NewReaderSize(os.Stdin, 1<<16), os.Stdout) }
