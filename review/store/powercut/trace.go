package powercut

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// TraceArguments are what strace needs before the program's own words; the recording goes to file.
func TraceArguments(file string) []string {
	// --seccomp-bpf: only the calls named stop the program; each stop costs.
	return []string{"-f", "--seccomp-bpf", "-xx", "-s", "16777216", "-o", file, "-e", "trace=" + strings.Join([]string{
		"open", "openat", "creat", "close", "write", "pwrite64", "writev", "pwritev", "pwritev2", "lseek", "ftruncate", "truncate", "fallocate",
		"fsync", "fdatasync", "rename", "renameat", "renameat2", "unlink", "unlinkat", "mkdir", "mkdirat", "rmdir",
		"link", "linkat", "symlink", "symlinkat", "copy_file_range", "sendfile", "splice", "dup", "dup2", "dup3",
		"clone", "clone3", "fork", "vfork",
	}, ",")}
}

// Call is one system call that succeeded.
type Call struct {
	Name   string
	Args   []string // as strace writes them, without the texts
	Texts  []string // the arguments in quotation marks, decoded
	Result int64
	Start  int // line at which it began: what it writes may be on the disk from here on
	End    int // line at which it returned: what it promises holds from here on

	thread string
}

var (
	resumed = regexp.MustCompile(`^<\.\.\. \w+ resumed>(.*)$`)
	whole   = regexp.MustCompile(`^(\w+)\((.*)\)\s+= (-?\d+|\?|0x[0-9a-f]+)`)
)

// ParseTrace reads a recording of one process with all its threads. Calls that failed are left out, and those of
// processes that it started: their open files have numbers of their own, and nothing of them reaches the folder.
// They come in the order in which they began.
func ParseTrace(r io.Reader) ([]Call, error) {
	lines := bufio.NewReaderSize(r, 1<<20)
	begun := map[string]Call{} // by thread
	half := map[string]string{}
	var calls []Call
	for n := 1; ; n++ {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) && line == "" {
			break
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("recording, line %d: %w", n, err)
		}
		thread, text, ok := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		text = strings.TrimLeft(text, " ")
		if !ok || strings.HasPrefix(text, "---") || strings.HasPrefix(text, "+++") {
			continue
		}
		start := n
		if head, unfinished := strings.CutSuffix(text, " <unfinished ...>"); unfinished {
			begun[thread], half[thread] = Call{Start: n}, head
			continue
		}
		if m := resumed.FindStringSubmatch(text); m != nil {
			start, text = begun[thread].Start, half[thread]+m[1]
			delete(half, thread)
		}
		c, err := parseCall(text)
		if err != nil {
			return nil, fmt.Errorf("recording, line %d: %w", n, err)
		}
		if c.Start, c.End, c.thread = start, n, thread; c.Result >= 0 {
			calls = append(calls, c)
		}
	}
	calls = ofFirst(calls)
	slices.SortStableFunc(calls, func(a, b Call) int { return a.Start - b.Start })
	return calls, nil
}

// ofFirst leaves out the calls of every process but the first, and those that start threads and processes. A process may
// call before the call that started it returns, so all is looked through first.
func ofFirst(calls []Call) []Call {
	starter := map[string]string{} // of a thread, the one that started it; "" for the first thread of another process
	for _, c := range calls {
		switch c.Name {
		case "clone", "clone3":
			by := ""
			if strings.Contains(strings.Join(c.Args, ","), "CLONE_THREAD") {
				by = c.thread
			}
			starter[strconv.FormatInt(c.Result, 10)] = by
		case "fork", "vfork":
			starter[strconv.FormatInt(c.Result, 10)] = ""
		}
	}
	return slices.DeleteFunc(calls, func(c Call) bool {
		switch c.Name {
		case "clone", "clone3", "fork", "vfork":
			return true
		}
		thread, started := c.thread, true
		for thread != "" && started {
			c.thread = thread
			thread, started = starter[c.thread]
		}
		return started // the climb ended at another process's first thread, not at one that nobody started
	})
}

// parseCall takes one call apart. Texts are most of a recording, so they are cut out by hand first.
func parseCall(text string) (Call, error) {
	var c Call
	var rest strings.Builder
	for {
		before, after, ok := strings.Cut(text, `"`)
		rest.WriteString(before)
		if !ok {
			break
		}
		inside, after, ok := strings.Cut(after, `"`)
		b, err := hex.DecodeString(strings.ReplaceAll(inside, `\x`, ""))
		if !ok || err != nil || strings.HasPrefix(after, "...") {
			return c, fmt.Errorf("a text is cut short: %.80s", rest.String())
		}
		c.Texts = append(c.Texts, string(b))
		rest.WriteString("text")
		text = after
	}
	m := whole.FindStringSubmatch(rest.String())
	if m == nil {
		return c, fmt.Errorf("not a call: %.80s", rest.String())
	}
	c.Name, c.Result = m[1], -1 // "?": it never returned
	if n, err := strconv.ParseInt(m[3], 0, 64); err == nil {
		c.Result = n
	}
	for a := range strings.SplitSeq(m[2], ",") {
		c.Args = append(c.Args, strings.TrimSpace(a))
	}
	return c, nil
}

// number is argument i, 0 where it is none.
func (c Call) number(i int) int64 {
	if i >= len(c.Args) {
		return 0
	}
	n, _ := strconv.ParseInt(c.Args[i], 0, 64) // 0 is what is said above
	return n
}
