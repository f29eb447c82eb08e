package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"gatefold/review"
	"gatefold/review/crop"
	"gatefold/review/draft"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// standing is a race with its store, as one command works on it. Close it.
type standing struct {
	folder *racefolder.Folder
	store  *store.Store
	empty  string // a folder for an empty store, gone on Close; none if the race has a store of its own
}

// openRace opens a race with its store, which is made if nothing was collected yet.
func (a *app) openRace(ctx context.Context, dir string) (*standing, error) {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return nil, err
	}
	s, err := store.Open(ctx, dir, store.Options{Now: a.now})
	if err != nil {
		return nil, err
	}
	if half := halfForgotten(folder); half != "" {
		a.complain(half)
	}
	return &standing{folder: folder, store: s}, nil
}

// openToLook opens a race with its store for a command that only looks. A race for which nothing was
// collected has no store yet, and looking makes none: an empty one stands elsewhere until Close.
func (a *app) openToLook(ctx context.Context, dir string) (*standing, error) {
	if hasStore(dir) {
		return a.openRace(ctx, dir)
	}
	folder, err := racefolder.Open(dir)
	if err != nil {
		return nil, err
	}
	empty, err := os.MkdirTemp("", "gatefold-empty-*")
	if err != nil {
		return nil, fmt.Errorf("race folder %s: %w; make room in the folder for temporary files", dir, reasonOf(err))
	}
	s, err := store.Open(ctx, empty, store.Options{Now: a.now})
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(empty))
	}
	return &standing{folder: folder, store: s, empty: empty}, nil
}

// hasStore reports whether anything was ever collected or settled for a race. Whatever has the store's
// name counts: opening it says what is wrong with it.
func hasStore(dir string) bool {
	for _, name := range []string{store.FileName, store.AddressName} {
		if _, err := os.Lstat(filepath.Join(dir, name)); !errors.Is(err, fs.ErrNotExist) {
			return true
		}
	}
	return false
}

// lookAt opens a race to look, lays its stack out, and hands all of it to see.
func (a *app) lookAt(ctx context.Context, dir string, see func(*standing, *stack.Stack, rules.Result) error) (err error) {
	s, err := a.openToLook(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	st, result, err := s.look(ctx)
	if err != nil {
		return err
	}
	return see(s, st, result)
}

func (s *standing) Close() error {
	err := s.store.Close()
	if s.empty != "" {
		err = errors.Join(err, os.RemoveAll(s.empty))
	}
	return err
}

// look lays the stack out and lets the rules look at it.
func (s *standing) look(ctx context.Context) (*stack.Stack, rules.Result, error) {
	st, err := stack.Load(ctx, s.folder.Race(), s.store)
	if err != nil {
		return nil, rules.Result{}, err
	}
	return st, rules.Check(st.Facts()), nil
}

// layouts finds a printed layout by its whole hash, or nil.
func (s *standing) layouts() (func(hash string) *sheetmodel.Layout, error) {
	all, err := s.folder.Layouts()
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	all = append(all, sheetmodel.BuiltinLayouts()...)
	byHash := map[string]*sheetmodel.Layout{}
	for _, l := range all {
		byHash[l.Hash()] = l
	}
	return func(hash string) *sheetmodel.Layout { return byHash[hash] }, nil
}

// draft makes the draft as of now. Unless uncovered, it holds nothing of what may still be typed unseen,
// and covered is the number of rows whose bib it leaves out.
func (s *standing) draft(ctx context.Context, opt draft.Options, uncovered bool) (d *draft.Draft, covered int, err error) {
	st, result, err := s.look(ctx)
	if err != nil {
		return nil, 0, err
	}
	if opt.Layout, err = s.layouts(); err != nil {
		return nil, 0, err
	}
	if !uncovered {
		st, result, covered = review.Veil(st, result)
	}
	d, err = draft.New(st, result, opt)
	return d, covered, err
}

// cutter shows the ink of this race's pages.
func (s *standing) cutter() *crop.Cutter {
	return &crop.Cutter{Open: func(file string) (io.ReadCloser, error) {
		return s.store.OpenFile(filepath.ToSlash(file))
	}}
}
