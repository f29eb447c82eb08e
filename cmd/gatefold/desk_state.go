package main

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"path/filepath"

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
	return &standing{folder: folder, store: s}, nil
}

func (s *standing) Close() error { return s.store.Close() }

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

// draft makes the draft as of now.
func (s *standing) draft(ctx context.Context, opt draft.Options) (*draft.Draft, error) {
	st, result, err := s.look(ctx)
	if err != nil {
		return nil, err
	}
	if opt.Layout, err = s.layouts(); err != nil {
		return nil, err
	}
	return draft.New(st, result, opt)
}

// cutter shows the ink of this race's pages.
func (s *standing) cutter() *crop.Cutter {
	return &crop.Cutter{Open: func(file string) (io.ReadCloser, error) {
		return s.store.OpenFile(filepath.ToSlash(file))
	}}
}
