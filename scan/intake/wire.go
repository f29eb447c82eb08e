package intake

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"

	"gatefold/scan"
)

// Between program and worker go frames: the length of a head as four bytes, the head as JSON, and what the
// head announces: a file's bytes one way, a picture's grey values the other.

// request asks for the pictures of one file; Size bytes of it follow.
type request struct {
	Name   string `json:"name"`
	Size   int    `json:"size"`
	Limits Limits `json:"limits"`
}

// replyKind says what a worker's frame means.
type replyKind string

const (
	ready     replyKind = "ready"   // once, before the first request
	pictureIs replyKind = "picture" // Width * Height grey values follow
	refusedIs replyKind = "refused" // one page, or the file as a whole
	endIs     replyKind = "end"     // of a file
)

// reply is a frame of a worker.
type reply struct {
	Kind   replyKind `json:"kind"`
	Meta   scan.Meta `json:"meta"`
	Page   int       `json:"page,omitempty"`
	Pages  int       `json:"pages,omitempty"`
	Detail string    `json:"detail,omitempty"`
	Remedy string    `json:"remedy,omitempty"`
	Last   bool      `json:"last,omitempty"` // the worker ends after this
}

// longestHead bounds what is believed of a worker that a file may have taken over.
const longestHead = 1 << 16

func writeHead(w io.Writer, head any) error {
	b, err := json.Marshal(head)
	if err != nil {
		return err
	}
	if len(b) > longestHead {
		return fmt.Errorf("head of %d bytes", len(b))
	}
	_, err = w.Write(append(binary.BigEndian.AppendUint32(nil, uint32(len(b))), b...))
	return err
}

func readHead(r io.Reader, head any) error {
	var length [4]byte
	if _, err := io.ReadFull(r, length[:]); err != nil {
		return err
	}
	n := binary.BigEndian.Uint32(length[:])
	if n > longestHead {
		return fmt.Errorf("head of %d bytes", n)
	}
	b := make([]byte, n)
	if _, err := io.ReadFull(r, b); err != nil {
		return err
	}
	return json.Unmarshal(b, head)
}
