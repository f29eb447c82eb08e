package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"

	"gatefold/review/store"
)

// keptPages are the straightened pages of the photos in a race: they tell when one of them has to be made
// anew, and when a photo shows what another one shows, bit for bit.
type keptPages struct {
	store *store.Store
	of    map[string][]store.Sheet // by photo
	first map[string]keptPhoto     // by the page's SHA-256: the photo that it was first made from
}

// keptPhoto is a photo as a person knows it.
type keptPhoto struct{ id, name string }

func pagesOf(ctx context.Context, s *store.Store) (*keptPages, error) {
	k := &keptPages{store: s, of: map[string][]store.Sheet{}, first: map[string]keptPhoto{}}
	photos, err := s.Photos(ctx)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, p := range photos {
		names[p.ID] = p.Sent
	}
	sheets, err := s.Sheets(ctx)
	if err != nil {
		return nil, err
	}
	for _, sheet := range sheets {
		k.of[sheet.Photo] = append(k.of[sheet.Photo], sheet)
		k.note(sheet.PageSHA256, keptPhoto{sheet.Photo, names[sheet.Photo]})
	}
	return k, nil
}

func (k *keptPages) note(sha string, p keptPhoto) {
	if _, there := k.first[sha]; !there && sha != "" {
		k.first[sha] = p
	}
}

// spoilt reports whether a page of a photo is missing, or no longer what it was.
func (k *keptPages) spoilt(photo string) bool {
	for _, sheet := range k.of[photo] {
		if sheet.Page == "" {
			continue
		}
		f, err := k.store.OpenFile(sheet.Page)
		if err != nil {
			return true
		}
		sum := sha256.New()
		_, err = io.Copy(sum, f)
		_ = f.Close()
		if err != nil || hex.EncodeToString(sum.Sum(nil)) != sheet.PageSHA256 {
			return true
		}
	}
	return false
}

// same takes in the pages that were made from a photo, and returns the name of an earlier one from which all
// of them came just so: its pixels are the same, though its bytes are others. It is empty where there is none.
func (k *keptPages) same(photo, name string, pages []store.NewSheet) (earlier string) {
	var other keptPhoto
	all := len(pages) > 0
	for _, p := range pages {
		sum := sha256.Sum256(p.Page)
		sha := hex.EncodeToString(sum[:])
		k.note(sha, keptPhoto{photo, name})
		first := k.first[sha]
		all = all && len(p.Page) > 0 && first.id != photo && (other.id == "" || other == first)
		other = first
	}
	if !all {
		return ""
	}
	return other.name
}
