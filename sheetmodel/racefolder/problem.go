package racefolder

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// FileError is one mistake in one file: where, what is wrong and what to do.
type FileError struct {
	File string // path as the caller named the folder
	Line int    // from 1; 0: the file as a whole
	What string // what is wrong; what to do
}

func (e *FileError) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s", e.File, e.What)
	}
	return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.What)
}

// maxProblems bounds a list of mistakes: more than this, and the file is not what it claims to be.
const maxProblems = 50

// problems gathers the mistakes of one file, so that a person mends them in one go.
type problems struct {
	file string
	list []*FileError

	behind int      // mistakes that may only follow from one that is listed
	notes  []string // no mistakes, but worth a look
}

func (p *problems) at(line int, format string, args ...any) {
	p.list = append(p.list, &FileError{File: p.file, Line: line, What: fmt.Sprintf(format, args...)})
}

// follows notes a mistake that is none by itself if unsure: then it is only counted, so that it doesn't
// bury the one it may come from.
func (p *problems) follows(unsure bool, line int, format string, args ...any) {
	if unsure {
		p.behind++
		return
	}
	p.at(line, format, args...)
}

func (p *problems) note(what string) { p.notes = append(p.notes, what) }

// err joins the problems in the order of their lines, or returns nil.
func (p *problems) err() error {
	slices.SortStableFunc(p.list, func(a, b *FileError) int { return cmp.Compare(a.Line, b.Line) })
	var all []error
	for i, one := range p.list {
		if i == maxProblems {
			all = append(all, &FileError{File: p.file, What: fmt.Sprintf("and %d more mistakes; mend these first", len(p.list)-i)})
			break
		}
		all = append(all, one)
	}
	if p.behind > 0 {
		all = append(all, &FileError{File: p.file, What: fmt.Sprintf("and %d more that may come from the same mistake; mend the others first, then look again", p.behind)})
	}
	return errors.Join(all...)
}
