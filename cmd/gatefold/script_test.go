package main

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/draw"
	_ "image/jpeg" // photos of the demo
	"image/png"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"gatefold/cmd/internal/reading"
	"gatefold/sheetmodel/racefolder"
)

// scriptCommands are what the scripts can do besides testscript's own commands.
var scriptCommands = map[string]func(*testscript.TestScript, bool, []string){
	"exits": exits, "matches": matches, "copy": copyFolder, "same": sameFolder, "grey": grey, "cover": cover, "cut": cut, "flip": flip, "bytes": rawBytes, "twin": twin,
}

// scriptCondition knows [cgo]: whether this program can look at images.
func scriptCondition(name string) (bool, error) {
	if name != "cgo" {
		return false, errors.New("no such condition")
	}
	_, err := reading.Open(nil, reading.Options{})
	return !errors.Is(err, reading.ErrNoImaging), nil
}

// arguments demands n arguments.
func arguments(ts *testscript.TestScript, neg bool, args []string, n int, usage string) {
	if neg || len(args) != n {
		ts.Fatalf("usage: %s", usage)
	}
}

// copyFolder copies a folder with all in it; the new one must not be there.
func copyFolder(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "copy FROM TO")
	ts.Check(os.CopyFS(ts.MkAbs(args[1]), os.DirFS(ts.MkAbs(args[0]))))
}

// sameFolder demands that two folders hold the same files with the same bytes.
func sameFolder(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: same FOLDER FOLDER")
	}
	differs := difference(ts.MkAbs(args[0]), ts.MkAbs(args[1]))
	if neg == (differs == "") {
		ts.Fatalf("folders %s and %s: difference %q", args[0], args[1], differs)
	}
}

// difference names the first file that is not the same in two folders, or "".
func difference(a, b string) string {
	have, err := contents(a)
	if err != nil {
		return err.Error()
	}
	want, err := contents(b)
	if err != nil {
		return err.Error()
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if got, ok := have[name]; !ok || got != want[name] {
			return name
		}
		delete(have, name)
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		return name
	}
	return ""
}

// contents reads all files of a folder, by their names with slashes.
func contents(dir string) (map[string]string, error) {
	all := map[string]string{}
	root := os.DirFS(dir)
	err := fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := fs.ReadFile(root, name)
		all[name] = string(data)
		return err
	})
	return all, err
}

// grey writes a PNG that is a picture, but of nothing.
func grey(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "grey FILE")
	img := image.NewGray(image.Rect(0, 0, 1200, 900))
	for i := range img.Pix {
		img.Pix[i] = 128
	}
	var b bytes.Buffer
	ts.Check(png.Encode(&b, img))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o644))
}

// cover writes a photo as a grey PNG with something plain lying on it, from one pixel to another.
func cover(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 7, "cover FROM TO GREY LEFT TOP RIGHT BOTTOM")
	photo, _, err := image.Decode(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	var n [5]int
	for i, text := range args[2:] {
		n[i], err = strconv.Atoi(text)
		ts.Check(err)
	}
	img := image.NewGray(photo.Bounds())
	draw.Draw(img, img.Bounds(), photo, photo.Bounds().Min, draw.Src)
	draw.Draw(img, image.Rect(n[1], n[2], n[3], n[4]), image.NewUniform(color.Gray{Y: uint8(n[0])}), image.Point{}, draw.Src)
	var b bytes.Buffer
	ts.Check(png.Encode(&b, img))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b.Bytes(), 0o644))
}

// twin lets a race keep its card of another make once more under another name, one field less: what gatefold admit refuses,
// and a copy by hand does.
func twin(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "twin RACE NAME")
	folder, err := racefolder.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	layouts, err := folder.Layouts()
	ts.Check(err)
	blanks, err := folder.Blanks(layouts[0])
	ts.Check(err)
	l := *layouts[0]
	l.Name, l.Sides = args[1], slices.Clone(l.Sides)
	l.Sides[0].Fields = l.Sides[0].Fields[:len(l.Sides[0].Fields)-1]
	_, err = folder.SaveForeign(&l, blanks)
	ts.Check(err)
}

// cut writes the first n bytes of a file to another.
func cut(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 3, "cut BYTES FROM TO")
	n, err := strconv.Atoi(args[0])
	ts.Check(err)
	data := ts.ReadFile(args[1])
	if n >= len(data) {
		ts.Fatalf("%s has %d bytes only", args[1], len(data))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(data[:n]), 0o644))
}

// flip turns the lowest bit of a file's byte in the middle.
func flip(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "flip FILE")
	data := []byte(ts.ReadFile(args[0]))
	data[len(data)/2] ^= 1
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

// rawBytes writes a file from Go's notation of a string, for bytes that no script can hold.
func rawBytes(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "bytes FILE TEXT")
	text, err := strconv.Unquote(`"` + strings.Trim(args[1], `"`) + `"`)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o644))
}
