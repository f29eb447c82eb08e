package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/review/store"
)

// pictures are the endings under which photos and scans come, in small letters. What is in a file of a
// folder is not looked at before; a file that is named by itself may have any name.
var pictures = []string{".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".pdf"}

// ownFolders are where a race keeps pictures of its own: nothing in them is a photo that arrives.
func ownFolders(race string) []string {
	return []string{filepath.Join(race, store.OriginalsName), filepath.Join(race, store.PagesName)}
}

// isFolder reports whether two names lead to one folder.
func isFolder(a, b string) bool {
	one, err1 := os.Stat(a)
	other, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(one, other)
}

// photosIn replaces each folder among args by the photos in it, in the order of their names. skipped says
// what else lay in the folders. A folder without a photo, or one that can't be read, is an error; the
// rest is returned all the same.
func photosIn(args []string) (files, skipped []string, err error) {
	var errs []error
	for _, arg := range args {
		if info, err := os.Stat(arg); err != nil || !info.IsDir() {
			files = append(files, arg)
			continue
		}
		entries, err := os.ReadDir(arg)
		if err != nil {
			errs = append(errs, fmt.Errorf("folder %s: %w; check that it may be read", arg, reasonOf(err)))
			continue
		}
		var others, folders []string
		found := 0
		for _, e := range entries {
			switch {
			case strings.HasPrefix(e.Name(), "."):
			case !e.IsDir() && slices.Contains(pictures, strings.ToLower(filepath.Ext(e.Name()))):
				files = append(files, filepath.Join(arg, e.Name()))
				found++
			case e.IsDir():
				folders = append(folders, e.Name())
			default:
				others = append(others, e.Name())
			}
		}
		if found == 0 {
			errs = append(errs, fmt.Errorf("folder %s: no photo in it; photos end in %s", arg, strings.Join(pictures, ", ")))
		}
		if len(folders) > 0 {
			skipped = append(skipped, fmt.Sprintf("folder %s: folders in it are not looked into, name them too: %s", arg, fewNames(folders)))
		}
		if found > 0 && len(others) > 0 {
			skipped = append(skipped, fmt.Sprintf("folder %s: skipped, for by its name it is no photo: %s", arg, fewNames(others)))
		}
	}
	return files, skipped, errors.Join(errs...)
}

// fewNames lists names, the first few of many.
func fewNames(names []string) string {
	const few = 5
	if len(names) > few {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:few], ", "), len(names)-few)
	}
	return strings.Join(names, ", ")
}
