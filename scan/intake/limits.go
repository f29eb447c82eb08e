package intake

import "time"

// Limits are what one file may cost. The zero value of each means its default.
type Limits struct {
	Memory int64         // bytes a worker may take beyond what it starts with; default DefaultMemory; Linux only
	CPU    time.Duration // of the processor's time for a small picture or a page; default DefaultCPU
	Each   time.Duration // of it for each megapixel that is declared and allowed; default DefaultEach. HEIC gets three times that
	Wall   time.Duration // between two signs of life; default DefaultWall
	Pages  int           // of one TIFF or PDF; default DefaultPages
	Pixels int           // of all its pages together; default DefaultPixels
	Renew  int           // files after which a worker is replaced by a fresh one; default DefaultRenew
}

// What a file may cost where nothing else is said.
const (
	// DefaultMemory lets every kind be unpacked up to scan.MaxPixels, also JPEG in many passes: report.md says
	// what each takes.
	DefaultMemory = 512 << 20
	// DefaultCPU and DefaultEach are two and a half to ten times what good files took (report.md), for a laptop
	// may be that much slower; with both a picture of 12 megapixels that can't be unpacked is refused within 1 s.
	DefaultCPU  = 500 * time.Millisecond
	DefaultEach = 30 * time.Millisecond
	// DefaultWall ends a worker that hangs. It is long, for a laptop may be busy with something else.
	DefaultWall  = 30 * time.Second
	DefaultPages = 200
	// DefaultPixels are 200 pages of A4 at 300 dots an inch, and some more.
	DefaultPixels = 2_000_000_000
	DefaultRenew  = 500

	// MaxFile is the largest file in bytes that a worker takes. Phone photos have 2 to 25 million.
	MaxFile = 128 << 20
)

// withDefaults returns l with its zeros replaced.
func (l Limits) withDefaults() Limits {
	if l.Memory <= 0 {
		l.Memory = DefaultMemory
	}
	if l.CPU <= 0 {
		l.CPU = DefaultCPU
	}
	if l.Each <= 0 {
		l.Each = DefaultEach
	}
	if l.Wall <= 0 {
		l.Wall = DefaultWall
	}
	if l.Pages <= 0 {
		l.Pages = DefaultPages
	}
	if l.Pixels <= 0 {
		l.Pixels = DefaultPixels
	}
	if l.Renew <= 0 {
		l.Renew = DefaultRenew
	}
	return l
}
