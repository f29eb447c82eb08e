package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"gatefold/sheetmodel"
)

// GridPoint ties a point of the sheet to the photo: bent paper needs many.
type GridPoint struct {
	Sheet sheetmodel.SheetPoint `json:"sheet_mm"`
	Photo sheetmodel.PhotoPoint `json:"photo_px"`
}

// Quality is what the straightening could be judged by.
type Quality struct {
	MarksSeen  int     `json:"marks_seen"`
	MarksTotal int     `json:"marks_total"`
	ResidualMM float64 `json:"residual_mm"`
	BlurMM     float64 `json:"blur_mm"`   // sigma on paper
	PxPerMM    float64 `json:"px_per_mm"` // of the photo
	Flaws      []Flaw  `json:"flaws,omitempty"`
}

// Flaw is what the photo lacks for some fields: glare, something that lies over them, a shadow's edge. Their
// readings are doubtful whatever they say.
type Flaw struct {
	Kind   string   `json:"kind"`
	Fields []string `json:"fields"`
	Detail string   `json:"detail"` // as in "glare over rows 3 and 4"
	Remedy string   `json:"remedy"`
}

// SideRead is all that a reader makes of one side: the readings, and which texts stand alone.
//
// Alone lists the fields whose text has no plausible rival, by a threshold of its own in the reader.
// A field that isn't listed has one: a missing statement never makes a look.
type SideRead struct {
	Reading sheetmodel.SheetReading `json:"reading"`
	Alone   []string                `json:"alone,omitempty"`
	// Plain is set where the card carries no identity of its own; see Sheet.Named.
	Plain *PlainCard `json:"plain,omitempty"`
}

// NewSheet is one side of one card found in a photo. The store keeps Page, the straightened image
// as PNG or JPEG, durably; Page may be empty.
type NewSheet struct {
	Part        int // which of the photo's sides, from 1; a side without an identity keeps the one that an earlier reader gave it
	Identity    sheetmodel.Identity
	Card        sheetmodel.CardKey // as printed, the course by name; run 0 for a spare; zero: nobody knows yet, see SideRead.Plain
	Layout      string             // content hash, all of it
	Corners     [4]sheetmodel.PhotoPoint
	Grid        []GridPoint
	Quality     Quality
	Page        []byte
	PagePxPerMM float64
	Read        SideRead
}

// Sheet is one side of one card as it was found in a photo by a reader.
type Sheet struct {
	ID          int64                    `json:"id"`
	Photo       string                   `json:"photo"`
	PhotoOrder  int64                    `json:"photo_order"`
	Part        int                      `json:"part"`
	Card        sheetmodel.CardKey       `json:"card"`
	Side        sheetmodel.SideName      `json:"side"`
	Race        string                   `json:"race"` // 4 hex digits of the identity
	Layout      string                   `json:"layout"`
	Corners     [4]sheetmodel.PhotoPoint `json:"corners"`
	Grid        []GridPoint              `json:"grid"`
	Quality     Quality                  `json:"quality"`
	Page        string                   `json:"page"` // file, empty: none was kept
	PageSHA256  string                   `json:"page_sha256,omitempty"`
	PagePxPerMM float64                  `json:"page_px_per_mm"`
	At          time.Time                `json:"at"`
	Read        SideRead                 `json:"read"`
	// Code is the card that the side's identity says it is, where somebody said that two papers carry it: see TwoPapers.
	Code sheetmodel.CardKey `json:"-"`
}

// Key returns the stable name of a field on this sheet.
func (s Sheet) Key(field string) string { return Key(s.Card, s.Side, field) }

// AddSheets accepts a photo and keeps everything that was found in it, all or nothing. It replaces
// what an earlier reader found in the same photo; no decision is lost, for decisions hang on the
// paper's keys. reader is the version of reader, weights and thresholds. further says of other cards in
// the same photo why they are not used.
func (s *Store) AddSheets(ctx context.Context, photo, reader string, sheets []NewSheet, further ...Refusal) error {
	return s.addSheets(ctx, nil, photo, reader, sheets, further)
}

func (s *Store) addSheets(ctx context.Context, guards []Guard, photo, reader string, sheets []NewSheet, further []Refusal) error {
	pages := make([]kept, len(sheets))
	for i, n := range sheets {
		if len(n.Page) == 0 {
			continue
		}
		var err error
		if pages[i], err = s.keep(PagesName, bytes.NewReader(n.Page), int64(len(n.Page))); err != nil {
			return fmt.Errorf("photo %s: page %d: %w", photo, i+1, err)
		}
	}
	return s.append(ctx, func(j *journal) error {
		if err := j.let(guards); err != nil {
			return err
		}
		outcome, err := s.outcome(j, photo, reader, nil, further)
		if err != nil {
			return err
		}
		parts, err := j.keptParts(photo, sheets)
		if err != nil {
			return err
		}
		for i, n := range sheets {
			n.Part = parts[i]
			n.Read.Plain = n.Read.Plain.renumbered(sheets, parts)
			if err = addSheet(j, outcome, photo, reader, n, pages[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

func addSheet(j *journal, outcome int64, photo, reader string, n NewSheet, page kept) error {
	side := n.Read.Reading.Side
	corners, err1 := json.Marshal(n.Corners)
	grid, err2 := json.Marshal(n.Grid)
	quality, err3 := json.Marshal(n.Quality)
	body, err4 := json.Marshal(n.Read)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return fmt.Errorf("photo %s: %w", photo, err)
	}
	if n.Identity.Side != "" && n.Identity.Side != side {
		return fmt.Errorf("photo %s: the %s was read as the %s", photo, n.Identity.Side, side)
	}
	at := stampOf(j.at)
	sheet, err := j.add(`INSERT INTO sheets (id, outcome, photo, part, run, course, card, side, race, layout, corners, grid,
		quality, page_file, page_sha256, page_px_per_mm, at_utc, at_offset_s)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`,
		outcome, photo, n.Part, n.Card.Run, n.Card.Course, n.Card.Card, string(side), n.Identity.Race, n.Layout,
		string(corners), string(grid), string(quality), page.file, page.sha, n.PagePxPerMM, at.utc, at.offset)
	if err != nil {
		return err
	}
	if n.Read.Plain != nil && n.Card.Card > 0 { // its head may be read otherwise than before
		if _, err = j.seenElsewhere(photo, n.Part, n.Card); err != nil {
			return err
		}
	}
	read, err := j.add(`INSERT INTO reads (id, sheet, reader, body, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6)`,
		sheet, reader, string(body), at.utc, at.offset)
	if err != nil {
		return err
	}
	for _, r := range n.Read.Reading.Readings() {
		_, err = j.add(`INSERT INTO readings (id, read_id, reading, text, state, certainty, curve) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			read, Key(n.Card, side, r.Field), r.Text, string(r.State), r.Certainty.Value(), r.Certainty.Curve())
		if err != nil {
			return err
		}
	}
	return nil
}

const selectSheets = `SELECT s.id, s.photo, p.id, s.part, s.run, s.course, s.card, s.side, s.race, s.layout, s.corners, s.grid,
	s.quality, s.page_file, s.page_sha256, s.page_px_per_mm, s.at_utc, s.at_offset_s
	FROM sheets s JOIN photos p ON p.sha256 = s.photo`

// Sheets returns what the newest reader found in each accepted photo, in the order of arrival, with
// its readings. Two photos of one side give two sheets: which one counts is not the store's to say. Of one paper that
// was read as several forms only the one is returned that a person says it is, or all while nobody does.
// The sheets share memory with later calls: callers must not change what they point to.
func (s *Store) Sheets(ctx context.Context) ([]Sheet, error) {
	ids, err := collect(ctx, s.db, func(scan func(...any) error) (id int64, err error) {
		return id, scan(&id)
	}, `SELECT s.id FROM sheets s JOIN photos p ON p.sha256 = s.photo
		WHERE s.outcome = (SELECT MAX(x.id) FROM outcomes x WHERE x.photo = s.photo) ORDER BY p.id, s.part, s.id`)
	if err != nil {
		return nil, err
	}
	sheets := make([]Sheet, 0, len(ids))
	for _, id := range ids {
		sheet, err := s.sheetAsRead(ctx, id)
		if err != nil {
			return nil, err
		}
		sheets = append(sheets, sheet)
	}
	passed, err := s.name(ctx, sheets)
	return slices.DeleteFunc(sheets, func(s Sheet) bool { return passed[s.ID] }), err
}

// Sheet returns one sheet with its readings, also one that a later reader replaced, or ErrNotFound.
// It shares memory with later calls, as Sheets does.
func (s *Store) Sheet(ctx context.Context, id int64) (Sheet, error) {
	one := make([]Sheet, 1)
	var err error
	if one[0], err = s.sheetAsRead(ctx, id); err == nil {
		_, err = s.name(ctx, one)
	}
	return one[0], err
}

func (s *Store) sheetAsRead(ctx context.Context, id int64) (Sheet, error) {
	s.mu.Lock()
	sheet, ok := s.sheets[id]
	s.mu.Unlock()
	if ok {
		return sheet, nil
	}
	sheet, err := single(ctx, s.db, fmt.Sprintf("sheet %d", id), scanSheet, selectSheets+` WHERE s.id = $1`, id)
	if err == nil {
		sheet.Read, err = s.read(ctx, id)
	}
	if err != nil {
		return Sheet{}, err
	}
	s.mu.Lock()
	s.sheets[id] = sheet
	s.mu.Unlock()
	return sheet, nil
}

func scanSheet(scan func(...any) error) (Sheet, error) {
	var s Sheet
	var at stamp
	var corners, grid, quality string
	err := scan(&s.ID, &s.Photo, &s.PhotoOrder, &s.Part, &s.Card.Run, &s.Card.Course, &s.Card.Card, &s.Side, &s.Race, &s.Layout,
		&corners, &grid, &quality, &s.Page, &s.PageSHA256, &s.PagePxPerMM, &at.utc, &at.offset)
	if err != nil {
		return s, err
	}
	err = errors.Join(json.Unmarshal([]byte(corners), &s.Corners), json.Unmarshal([]byte(grid), &s.Grid),
		json.Unmarshal([]byte(quality), &s.Quality))
	if err == nil {
		s.At, err = at.time()
	}
	return s, err
}

// read decodes a sheet's readings, the one place where a Certainty comes back from disk.
func (s *Store) read(ctx context.Context, sheet int64) (SideRead, error) {
	return single(ctx, s.db, fmt.Sprintf("readings of sheet %d", sheet), func(scan func(...any) error) (r SideRead, err error) {
		var body string
		if err = scan(&body); err == nil {
			err = json.Unmarshal([]byte(body), &r)
		}
		return r, err
	}, `SELECT body FROM reads WHERE sheet = $1 ORDER BY id DESC`, sheet)
}
