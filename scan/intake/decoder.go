package intake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"gocv.io/x/gocv"

	"gatefold/scan"
)

// Picture is one page of a file: a photo has one, a TIFF or PDF any number.
type Picture struct {
	Grey  gocv.Mat // 8 bits, upright; closed by who took it
	Meta  scan.Meta
	Page  int // from 1
	Pages int
}

// Options of a Decoder.
type Options struct {
	Limits Limits
	// Command starts a worker. Default: this very program with WorkerArgument.
	Command []string
}

// Decoder unpacks files in a worker process that it starts, and starts again when a file has ended it.
// One goroutine at a time; a program that reads side by side opens one for each.
type Decoder struct {
	broke  bool // the worker's last end was no matter of time
	opt    Options
	limits Limits
	child  *child
}

// child is a running worker.
type child struct {
	cmd     *exec.Cmd
	in      *os.File // its standard input
	out     *os.File
	greeted bool
	files   int
	slow    atomic.Bool // it was ended for that
}

// Open returns a Decoder; the caller closes it. Its first worker starts at once, while the caller goes on.
func Open(opt Options) (*Decoder, error) {
	d := &Decoder{opt: opt, limits: opt.Limits.withDefaults()}
	if len(opt.Command) == 0 {
		self := "/proc/self/exe" // what runs, also after an update has replaced its file
		if runtime.GOOS != "linux" {
			var err error
			if self, err = os.Executable(); err != nil {
				return nil, fmt.Errorf("photo decoder: %w", err)
			}
		}
		d.opt.Command = []string{self, WorkerArgument}
	}
	return d, d.start()
}

// Close ends the worker.
func (d *Decoder) Close() error {
	d.stop()
	return nil
}

// Pictures unpacks a file and yields its pictures in order, each with its Mat, which the caller closes.
//
// A *scan.FileError stands for a page, or for the file where it comes alone; it never ends the Decoder. Any
// other error does end the sequence: ctx is done, or no worker can be started. name is used in messages only.
func (d *Decoder) Pictures(ctx context.Context, name string, file []byte) iter.Seq2[Picture, error] {
	return func(yield func(Picture, error) bool) {
		if len(file) > MaxFile {
			yield(Picture{}, &scan.FileError{Name: name,
				Detail: fmt.Sprintf("%d million bytes are more than %d", len(file)>>20, MaxFile>>20), Remedy: "send it smaller"})
			return
		}
		if err := d.ask(ctx, name, file); err != nil {
			yield(Picture{}, err)
			return
		}
		for first := true; ; first = false {
			used := d.child.files > 1
			d.broke = false
			p, last, err := d.next(ctx, name)
			if last && err == nil {
				return
			}
			// A worker of earlier files that says nothing at all of this one may have died before it came:
			// its pipe can outlive it for a moment. A fresh worker's end is the file's own doing.
			if first && used && d.broke {
				if err := d.ask(ctx, name, file); err != nil {
					yield(Picture{}, err)
					return
				}
				continue
			}
			if !yield(p, err) {
				if !last {
					d.stop() // what is still in the pipe belongs to this file
				}
				return
			}
			if last {
				return
			}
		}
	}
}

// ask sends a file to the worker, with a fresh one if there is none or its time has come.
func (d *Decoder) ask(ctx context.Context, name string, file []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d.child != nil && d.child.files >= d.limits.Renew {
		d.stop()
	}
	// One that died in between, of whatever, is no fault of this file: its pipe tells, and one fresh try is made.
	for try := range 2 {
		if d.child == nil {
			if err := d.start(); err != nil {
				return err
			}
		}
		err := d.patiently(ctx, func() error {
			if !d.child.greeted {
				var hello reply
				if err := readHead(d.child.out, &hello); err != nil || hello.Kind != ready {
					return cmp.Or(err, errors.New("it doesn't say that it is ready"))
				}
				d.child.greeted = true
			}
			if err := writeHead(d.child.in, request{Name: name, Size: len(file), Limits: d.limits}); err != nil {
				return err
			}
			_, err := d.child.in.Write(file)
			return err
		})
		if err == nil {
			d.child.files++
			return nil
		}
		d.stop()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if try == 1 {
			return fmt.Errorf("photo decoder: its process does not start: %w", err)
		}
	}
	return nil
}

// next reads the worker's next frame. last: nothing more comes of this file.
func (d *Decoder) next(ctx context.Context, name string) (p Picture, last bool, err error) {
	c := d.child
	var r reply
	err = d.patiently(ctx, func() error {
		if err := readHead(c.out, &r); err != nil {
			return err
		}
		if r.Kind != pictureIs {
			return nil
		}
		// A worker that a file has taken over may say anything.
		if err := scan.CheckSize(name, r.Meta.Width, r.Meta.Height); err != nil {
			return err
		}
		p = Picture{Grey: gocv.NewMatWithSize(r.Meta.Height, r.Meta.Width, gocv.MatTypeCV8U), Meta: r.Meta, Page: r.Page, Pages: r.Pages}
		pixels, err := p.Grey.DataPtrUint8()
		if err == nil {
			_, err = io.ReadFull(c.out, pixels)
		}
		if err != nil {
			_ = p.Grey.Close()
		}
		return err
	})
	switch {
	case ctx.Err() != nil:
		d.stop()
		if err == nil && r.Kind == pictureIs {
			_ = p.Grey.Close()
		}
		return Picture{}, true, ctx.Err()
	case err != nil:
		return Picture{}, true, d.died(name, err)
	case r.Kind == pictureIs:
		return p, false, nil
	case r.Kind == refusedIs:
		if r.Last {
			d.stop()
		}
		return Picture{}, r.Last, &scan.FileError{Name: name, Detail: r.Detail, Remedy: r.Remedy}
	case r.Kind == endIs:
		return Picture{}, true, nil
	}
	return Picture{}, true, d.died(name, fmt.Errorf("it says %q", r.Kind))
}

// died says what ended a worker in the middle of a file.
func (d *Decoder) died(name string, err error) error {
	c := d.child
	slow := c.slow.Load()
	how := d.stop()
	detail := fmt.Sprintf("unpacking it broke off (%s): it is damaged, or needs more than %d MB", cmp.Or(how, err.Error()), d.limits.Memory>>20)
	if slow {
		detail = fmt.Sprintf("it can't be unpacked within %.0f s", d.limits.Wall.Seconds())
	}
	d.broke = !slow
	return &scan.FileError{Name: name, Detail: detail, Remedy: remedyPlain}
}

// patiently does something with the worker's pipes, and ends the worker when ctx or patience ends.
func (d *Decoder) patiently(ctx context.Context, do func() error) error {
	c := d.child
	defer context.AfterFunc(ctx, func() { kill(c.cmd) })()
	defer time.AfterFunc(d.limits.Wall, func() { c.slow.Store(true); kill(c.cmd) }).Stop()
	return do()
}

// kept are the variables that a worker gets of our environment; the rest is none of its business.
var kept = []string{"PATH", "LD_LIBRARY_PATH", "GOCOVERDIR"}

// start starts a worker and doesn't wait for it.
func (d *Decoder) start() error {
	c := exec.Command(d.opt.Command[0], d.opt.Command[1:]...) //nolint:noctx // it outlives the call; Close ends it
	c.Args[0] = "gatefold"
	// One thread each: threads of OpenCV's companions take address space and gain nothing for one picture.
	// One arena: glibc reserves up to 128 MB for each further one, which the limit on memory would count.
	c.Env = []string{"LC_ALL=C", "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1", "MALLOC_ARENA_MAX=1"}
	for _, v := range os.Environ() {
		if key, _, _ := strings.Cut(v, "="); slices.Contains(kept, key) {
			c.Env = append(c.Env, v)
		}
	}
	apart(c)
	theirIn, in, err := os.Pipe()
	if err != nil {
		return fmt.Errorf("photo decoder: %w", err)
	}
	out, theirOut, err := os.Pipe()
	if err != nil {
		return fmt.Errorf("photo decoder: %w", errors.Join(err, theirIn.Close(), in.Close()))
	}
	widen(in)
	widen(out)
	c.Stdin, c.Stdout = theirIn, theirOut
	err = c.Start()
	err = errors.Join(err, theirIn.Close(), theirOut.Close())
	if err != nil {
		return fmt.Errorf("photo decoder: %w", errors.Join(err, in.Close(), out.Close()))
	}
	d.child = &child{cmd: c, in: in, out: out}
	return nil
}

// stop ends the worker, if there is one, and returns how it had ended by itself, if it had.
func (d *Decoder) stop() string {
	c := d.child
	if c == nil {
		return ""
	}
	d.child = nil
	_ = c.in.Close()
	ended := make(chan string, 1)
	go func() {
		_ = c.cmd.Wait()
		ended <- c.cmd.ProcessState.String()
	}()
	defer c.out.Close() //nolint:errcheck // a pipe that was only read
	select {
	case how := <-ended:
		return how
	case <-time.After(200 * time.Millisecond):
		// It is busy, or its last words fill the pipe.
		kill(c.cmd)
		<-ended
		return ""
	}
}
