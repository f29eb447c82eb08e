package hand

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
)

// ReadImages reads two gzipped IDX files, one of images of 28 × 28 and one of their labels.
//
// Source of the format: LeCun, Cortes, Burges, The MNIST database of handwritten digits.
func ReadImages(images, labels string) ([]Glyph, error) {
	pix, err := ReadGzip(images)
	if err != nil {
		return nil, err
	}
	values, err := ReadGzip(labels)
	if err != nil {
		return nil, err
	}
	const imagesHead, labelsHead, px = 16, 8, 28 * 28
	if len(pix) < imagesHead || len(values) < labelsHead ||
		binary.BigEndian.Uint32(pix) != 0x803 || binary.BigEndian.Uint32(values) != 0x801 {
		return nil, fmt.Errorf("%s: %w", images, errNotIDX)
	}
	n := int(binary.BigEndian.Uint32(pix[4:]))
	if len(pix) != imagesHead+n*px || len(values) != labelsHead+n {
		return nil, fmt.Errorf("%s: %d images announced: %w", images, n, errNotIDX)
	}
	out := make([]Glyph, n)
	for i := range out {
		copy(out[i].Pix[:], pix[imagesHead+i*px:])
		out[i].Label = values[labelsHead+i]
	}
	return out, nil
}

// ReadWriters returns who wrote which of MNIST's digits, by the digit's index: columns index and writer (the first and the
// fourth) of a gzipped CSV.
func ReadWriters(path string) (map[int]int, error) {
	data, err := ReadGzip(path)
	if err != nil {
		return nil, fmt.Errorf("writer ids: %w", err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("writer ids %s: %w", path, err)
	}
	ids := make(map[int]int, len(rows))
	for i, row := range rows {
		if i == 0 {
			continue // the columns' names
		}
		index, err1 := strconv.Atoi(row[0])
		writer, err2 := strconv.Atoi(row[min(3, len(row)-1)])
		if err := errors.Join(err1, err2); err != nil {
			return nil, fmt.Errorf("writer ids %s: %v is no index and writer", path, row)
		}
		ids[index] = writer
	}
	return ids, nil
}

// ReadGzip unpacks a file of at most a gigabyte.
func ReadGzip(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	const most = 1 << 30
	data, err := io.ReadAll(io.LimitReader(z, most))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return data, nil
}
