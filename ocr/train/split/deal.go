package main

import (
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"os"
	"slices"
	"strconv"

	"gatefold/testdata/split"
)

// Sizes of the parts, in writers; threshold gets the rest (69 of 539).
const (
	trainWriters       = 400
	selectWriters      = 40 // of the 400
	calibrationWriters = 70
)

// salt keeps the hash from being one that others might have split by.
const salt = "gatefold split 1:"

// readWriters returns the writer of each digit of MNIST's training part, in MNIST's order.
func readWriters(path string) ([]int, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	rows, err := csv.NewReader(z).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(rows) != split.Digits+1 {
		return nil, fmt.Errorf("%s: %d rows, want %d; take the ids of the training part", path, len(rows)-1, split.Digits)
	}
	ids := make([]int, split.Digits)
	for n, row := range rows[1:] {
		index, err := strconv.Atoi(row[0])
		if err != nil || index != n {
			return nil, fmt.Errorf("%s:%d: index %q, want %d", path, n+2, row[0], n)
		}
		if ids[n], err = strconv.Atoi(row[3]); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", path, n+2, err)
		}
	}
	return ids, nil
}

// deal returns the indices of each part, by the name of its list; ids[i] is the writer of digit i.
func deal(ids []int) map[string][]int {
	hash := make(map[int]string)
	for _, id := range ids {
		if _, ok := hash[id]; !ok {
			sum := sha256.Sum256([]byte(salt + strconv.Itoa(id)))
			hash[id] = hex.EncodeToString(sum[:])
		}
	}
	writers := make([]int, 0, len(hash))
	for id := range hash {
		writers = append(writers, id)
	}
	slices.SortFunc(writers, func(a, b int) int { return cmp.Compare(hash[a], hash[b]) })
	place := make(map[int]int, len(writers))
	for n, id := range writers {
		place[id] = n
	}
	lists := make(map[string][]int)
	for i, id := range ids {
		n := place[id]
		switch {
		case n < trainWriters:
			lists["train"] = append(lists["train"], i)
			if n < selectWriters {
				lists["select"] = append(lists["select"], i)
			}
		case n < trainWriters+calibrationWriters:
			lists["calibration"] = append(lists["calibration"], i)
		default:
			lists["threshold"] = append(lists["threshold"], i)
		}
	}
	return lists
}
