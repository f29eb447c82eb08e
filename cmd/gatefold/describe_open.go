package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"

	"gatefold/cmd/internal/finish"
	"gatefold/review"
	"gatefold/sheetmodel"
)

// finishLayout lets a person finish a layout on a page, a new one from its picture or the one that the file holds, until
// they close it.
func (a *app) finishLayout(ctx context.Context, picture, out string, w, h sheetmodel.MM, style sheetmodel.Style, browse bool, says ...sayPart) error {
	draft, before, err := draftOf(ctx, picture, out, w, h, style, says)
	if err != nil {
		return err
	}
	ctx, done := context.WithCancel(ctx)
	defer done()
	saved := false
	page, err := finish.Handler(finish.Options{Draft: draft, Done: done, Save: func(l *sheetmodel.Layout) error {
		text, err := sheetmodel.EncodeDraft(l, "In mm. Finish it on its page again with gatefold describe --open, or here with any editor.")
		if err != nil {
			return err
		}
		if before != nil {
			if err := writeFile(out+".before", func(f io.Writer) error { _, err := f.Write(before); return err }); err != nil {
				return err
			}
			before = nil
		}
		if err := writeFile(out, func(f io.Writer) error { _, err := f.Write(text); return err }); err != nil {
			return err
		}
		saved = true
		return nil
	}})
	if err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return fmt.Errorf("no page can be opened on this computer: %w", err)
	}
	address := "http://" + l.Addr().String() + "/"
	a.printf("finish the layout at %s (Ctrl-C closes it)\n", address)
	if browse {
		openBrowser(ctx, address)
	}
	if err := serveAll(ctx, []served{{review.HTTP(page), l}}); err != nil {
		return err
	}
	if !saved {
		a.printf("closed; nothing was saved\n")
		return nil
	}
	a.printf("saved in %s\nnext: gatefold try %s --blank %s\n", out, out, picture)
	return nil
}

// draftOf is what the page starts from. before is what stands in the file already, nil if it is new.
func draftOf(ctx context.Context, picture, out string, w, h sheetmodel.MM, style sheetmodel.Style, says []sayPart) (d finish.Draft, before []byte, err error) {
	d.Sides = map[sheetmodel.SideName]finish.Side{}
	before, err = os.ReadFile(out)
	if errors.Is(err, fs.ErrNotExist) {
		l, proposals, _, err := proposeLayout(ctx, picture, w, h, style, says)
		if err != nil {
			return d, nil, err
		}
		l.Name = sheetmodel.Printable(strings.TrimSuffix(filepath.Base(out), ".yaml"))
		d.Layout = l
		for i, p := range proposals {
			d.Sides[l.Sides[i].Name] = finish.Side{Picture: p.Picture, Unsure: p.Unsure}
		}
		return d, nil, nil
	}
	if err != nil {
		return d, nil, fmt.Errorf("layout %s: %w", out, err)
	}
	if d.Layout, err = sheetmodel.ParseLayout(out, before); err != nil {
		return d, nil, err
	}
	blanks, err := blanksOf(ctx, out, picture, d.Layout)
	if err != nil {
		return d, nil, err
	}
	for name, img := range blanks {
		d.Sides[name] = finish.Side{Picture: img}
	}
	return d, before, nil
}
