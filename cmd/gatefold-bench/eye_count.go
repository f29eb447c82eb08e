package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/scan/camera"
)

// eyeGroup is what machine and eyes together accept of bibs written once.
type eyeGroup struct {
	MadeWith
	Eyes     string     `json:"eyes"` // who looked
	Ordinary *eyeCounts `json:"ordinary"`
	Hard     *eyeCounts `json:"hard"`
}

// eyeCounts of one level. Fooled: the machine saw no plausible rival, misread the bib, and the eye typed the same.
type eyeCounts struct {
	Bibs         int     `json:"bibs"`          // well written
	Misread      int     `json:"misread"`       // by the machine; all were shown
	Alone        int     `json:"alone"`         // no plausible rival
	AloneMisread int     `json:"alone_misread"` // of these
	Fooled       [2]int  `json:"fooled"`        // by each eye
	EitherFooled int     `json:"either_fooled"` // at least one of them
	Upper95      float64 `json:"upper95"`       // of either_fooled / alone, over draws: for these hands
	FooledAll    [2]int  `json:"fooled_all"`    // each eye typed what the machine misread, with or without a rival
	Others       int     `json:"others"`        // read rightly and shown among them
	OthersWrong  [2]int  `json:"others_wrong"`  // an eye typed another bib
	OthersUnread [2]int  `json:"others_unread"` // an eye could not tell
}

// eyeCount compares two lists of what eyes typed with what was sealed, and keeps counts and the list itself.
func eyeCount(_ context.Context, s settings) error {
	data, err := os.ReadFile(filepath.Join(s.work, "eye", "sealed.json"))
	if err != nil {
		return err
	}
	var sealed eyeFile
	if err := json.Unmarshal(data, &sealed); err != nil {
		return fmt.Errorf("sealed.json: %w", err)
	}
	names := strings.Split(s.labels, ",")
	if len(names) != 2 {
		return errors.New("-labels: name two files, with a comma between")
	}
	var typed [2]map[int]string
	for i, name := range names {
		if typed[i], err = readTyped(name, sealed.Items); err != nil {
			return err
		}
	}
	g := eyeGroup{MadeWith: sealed.Made, Eyes: s.note, Ordinary: countEyes(sealed.Items, camera.Ordinary, typed), Hard: countEyes(sealed.Items, camera.Hard, typed)}
	if err := keepTyped(filepath.Join(s.out, "eyes.csv"), sealed.Items, typed); err != nil {
		return err
	}
	return keep(s, "bib1p", g)
}

// readTyped reads lines of "number,text"; a text of "?" says that it can't be told. Every bib shown must be there.
func readTyped(name string, items []eyeItem) (_ map[int]string, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r := csv.NewReader(f)
	r.FieldsPerRecord = 2
	rows, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	typed := map[int]string{}
	for _, row := range rows {
		no, err := strconv.Atoi(strings.TrimSpace(row[0]))
		if err != nil {
			return nil, fmt.Errorf("%s: %q is no number of a picture", name, row[0])
		}
		if _, twice := typed[no]; twice {
			return nil, fmt.Errorf("%s: picture %d is typed twice", name, no)
		}
		typed[no] = strings.TrimSpace(row[1])
	}
	for _, it := range items {
		if _, ok := typed[it.No]; it.No > 0 && !ok {
			return nil, fmt.Errorf("%s: picture %d is not typed", name, it.No)
		}
	}
	return typed, nil
}

func countEyes(items []eyeItem, level string, typed [2]map[int]string) *eyeCounts {
	c := &eyeCounts{}
	for _, it := range items {
		if it.Level != level {
			continue
		}
		c.Bibs++
		alone := it.Alone && !it.JudgeOnl
		if alone {
			c.Alone++
		}
		wrong := it.Machine != it.Truth && it.Machine != ""
		if wrong {
			c.Misread++
			if alone {
				c.AloneMisread++
			}
		} else if it.No > 0 {
			c.Others++
		}
		fooled := false
		for i := range typed {
			switch text := typed[i][it.No]; {
			case it.No == 0:
			case wrong && text == it.Machine:
				c.FooledAll[i]++
				if alone {
					c.Fooled[i]++
					fooled = true
				}
			case !wrong && text == "?":
				c.OthersUnread[i]++
			case !wrong && text != it.Truth:
				c.OthersWrong[i]++
			}
		}
		if fooled {
			c.EitherFooled++
		}
	}
	c.Upper95 = calib.Upper(c.EitherFooled, c.Alone, missed)
	return c
}

// keepTyped writes the list of all bibs shown, so that anyone can count again and draw any of them again by its seed.
func keepTyped(path string, items []eyeItem, typed [2]map[int]string) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := csv.NewWriter(f)
	if err := w.Write([]string{"no", "level", "seed", "field", "truth", "machine", "clear", "no_rival", "only_its_judge", "eye_1", "eye_2"}); err != nil {
		return err
	}
	shown := slices.DeleteFunc(slices.Clone(items), func(it eyeItem) bool { return it.No == 0 })
	slices.SortFunc(shown, func(a, b eyeItem) int { return a.No - b.No })
	for _, it := range shown {
		if err := w.Write([]string{
			strconv.Itoa(it.No), it.Level, strconv.FormatUint(it.Seed, 10), it.Field, it.Truth, it.Machine,
			strconv.FormatBool(it.Clear), strconv.FormatBool(it.Alone), strconv.FormatBool(it.JudgeOnl), typed[0][it.No], typed[1][it.No],
		}); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}
