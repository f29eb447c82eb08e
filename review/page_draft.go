package review

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"time"

	"gatefold/review/draft"
	"gatefold/sheetmodel"
)

type draftView struct {
	frame
	Draft    *draft.Draft
	Sections []draftSection
	Covered  int // rows whose bib is not shown yet
	Spot     *spotView
}

type draftSection struct {
	draft.Section
	Name string
	// Lines and rows with what a page needs beside them.
	Proposed, Waiting, Overruled      []draftLine
	WaitRows, SetAsides, RecordedRows []draftRow
	Nothings                          []draftRow // on which nothing is written, as people say
	Open                              []openThing
	Asks                              []openFinding
	Missed, Backless                  []missingView
}

type draftLine struct {
	draft.Line
	Packet  string // its page
	Rows    []draftRow
	Further []draftRow
}

// draftRow is a row as evidence, with its ink.
type draftRow struct {
	draft.Row
	Words   string
	Says    string // what happened and where it stands, as far as it may be said
	Ink     *inkView
	Drawing *inkView
	Hidden  bool  // its bib may still be typed unseen
	Undo    int64 // decision that set it aside
	Entry   string
}

func (d *Desk) showDraft(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "The draft", "draft")
	if err != nil {
		return err
	}
	dr, err := d.draft(m)
	if err != nil {
		return err
	}
	v := draftView{frame: f, Draft: dr}
	for _, sec := range dr.Sections {
		of := d.draftSection(m, sec, s)
		v.Sections = append(v.Sections, of)
	}
	for _, row := range m.shown.Rows {
		if m.covered[row.BibSeen.Key] || m.drawn[row.BibSeen.Key] {
			v.Covered++
		}
	}
	if err := d.serveAll(r, s, m, "draft"); err != nil {
		return err
	}
	v.Spot = d.spotView(m, s) // of what is left to whoever has seen this page
	return d.render(w, "draft", http.StatusOK, v)
}

// draft makes the draft of what may be shown.
func (d *Desk) draft(m *moment) (*draft.Draft, error) {
	return draft.New(m.shown, m.said, draft.Options{At: d.opt.Now(), Layout: d.opt.Layout})
}

// serveAll logs that every text which isn't covered is given away.
func (d *Desk) serveAll(r *http.Request, s *session, m *moment, what string) error {
	keys := m.heardTold()
	for i := range m.shown.Rows {
		keys = append(keys, openKeys(m, &m.shown.Rows[i])...)
	}
	return d.serve(r.Context(), s, what, 0, true, keys...)
}

func (d *Desk) draftSection(m *moment, s draft.Section, sits *session) draftSection {
	v := draftSection{Section: s, Name: courseWords(s.Run, s.Course), Open: d.openThings(m, s)}
	for _, f := range s.Conflicts {
		ask := openFinding{Finding: f}
		if !m.viewer {
			ask.Path = d.findingPath(m, f)
		}
		v.Asks = append(v.Asks, ask)
	}
	missing := func(c draft.MissingCard) missingView {
		v := missingView{MissingCard: c, Words: gateWords(c.Gates, m.gatesIn(s.Run, s.Course))}
		if at := m.full.Card(sheetmodel.CardKey{Run: s.Run, Course: s.Course, Card: c.Card}); at != nil {
			v.Judge = at.Judge // none on the page of those who only look
			if !m.viewer {
				v.Path = "/card/" + cardPath(at.Printed)
			}
		}
		return v
	}
	for _, c := range s.Missing {
		v.Missed = append(v.Missed, missing(c))
	}
	for _, c := range s.Backs {
		v.Backless = append(v.Backless, missing(c))
	}
	line := func(l draft.Line) draftLine {
		return draftLine{l, packetPath(l.Bib, l.Group), m.draftRows(l.Rows), m.draftRows(l.Further)}
	}
	for _, l := range s.Proposed {
		v.Proposed = append(v.Proposed, line(l))
	}
	for _, l := range s.Waiting {
		v.Waiting = append(v.Waiting, line(l))
	}
	for _, l := range s.Overruled {
		v.Overruled = append(v.Overruled, line(l))
	}
	v.WaitRows, v.RecordedRows = m.draftRows(s.Rows), m.draftRows(s.Recorded)
	for _, r := range m.draftRows(s.SetAside) {
		row, _ := m.row(r.Reading)
		if row == nil || len(row.Nothing) == 0 {
			v.SetAsides = append(v.SetAsides, r)
			continue
		}
		if m.viewer {
			v.Nothings = append(v.Nothings, r)
			continue
		}
		r.Entry = entryPath(r.Reading)
		for _, dec := range m.full.Decisions {
			if dec.Reading == r.Reading && dec.Basis == sheetmodel.BasisNoWriting && dec.Undone == nil && mine(dec, sits) {
				r.Undo = dec.ID
			}
		}
		v.Nothings = append(v.Nothings, r)
	}
	return v
}

func (m *moment) draftRows(rows []draft.Row) []draftRow {
	var all []draftRow
	for _, r := range rows {
		v := draftRow{Row: r, Words: fmt.Sprintf("Card %d, row %d", r.Card, r.Row), Hidden: m.covered[r.Reading] || m.drawn[r.Reading]}
		v.Says = rowSays(r)
		if r.Place != "" {
			v.Words += ", place " + r.Place
		}
		if r.Picture != nil {
			v.Ink = &inkView{Src: inkPath(r.Picture.Sheet, fmt.Sprintf("row-%02d", r.Row)), Rect: r.Picture.Rect, Alt: "Photo of " + strings.ToLower(v.Words[:1]) + v.Words[1:]}
		}
		if r.Drawing != nil && !v.Hidden {
			v.Drawing = &inkView{Src: inkPath(r.Drawing.Sheet, "panel-"+strings.ToLower(r.Panel)), Rect: r.Drawing.Rect, Alt: fmt.Sprintf("Drawing in panel %s of card %d", r.Panel, r.Card)}
		}
		for _, w := range m.waits {
			if w.Row == (sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: r.Run, Course: r.Course, Card: r.Card}, Row: r.Row}) {
				v.Entry = waitPath(w)
				break
			}
		}
		for _, dec := range m.shown.Decisions {
			if dec.Reading == r.Reading && dec.Undone == nil {
				v.Undo = 0
				if dec.Basis == sheetmodel.BasisSetAside {
					v.Undo = dec.ID
				}
			}
		}
		if m.viewer {
			v.Undo, v.Entry = 0, ""
		}
		all = append(all, v)
	}
	return all
}

func rowSays(r draft.Row) string {
	var says []string
	state := sheetmodel.BibState(r.BibState)
	if r.Bib != "" && (state == sheetmodel.BibOneLook || state == sheetmodel.BibTwoLooks) {
		says = append(says, "bib "+r.Bib)
	}
	if r.Code != "" {
		says = append(says, r.Code)
	}
	if r.Gate != "" {
		says = append(says, "gate "+r.Gate)
	}
	words := strings.Join(says, ", ")
	if r.Why == "" {
		return sentence(words)
	}
	if words == "" {
		return sentence(r.Why)
	}
	return sentence(words + ": " + r.Why)
}

// showDownload sends the draft as a file. Like the page it holds no covered text.
func (d *Desk) showDownload(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	dr, err := d.draft(m)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	var kind string
	file := r.PathValue("file")
	switch file {
	case "draft.pdf":
		// Pictures that can't be shown are named in the file itself.
		kind, _ = "application/pdf", dr.WritePDF(&b, d.cutter)
	case "draft.csv":
		kind, err = "text/csv; charset=utf-8", dr.WriteCSV(&b)
	case "draft.json":
		kind, err = "application/json", dr.WriteJSON(&b)
	default:
		return &pageError{http.StatusNotFound, "There is no such file", "The draft comes as draft.pdf, draft.csv and draft.json."}
	}
	if err != nil {
		return err
	}
	if err := d.serveAll(r, s, m, file); err != nil {
		return err
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+file+`"`)
	_, _ = w.Write(b.Bytes()) // the browser has gone: there is nobody left to tell
	return nil
}

func lookWords(l draft.Look) string {
	switch l.Kind {
	case sheetmodel.LookWriting, sheetmodel.LookSecondBox, sheetmodel.LookStrip:
		return l.Words
	case sheetmodel.LookReadBack, sheetmodel.LookBlind, sheetmodel.LookJudgeAsked, sheetmodel.LookPaper:
	}
	words := l.Words + ", " + l.By
	if l.At != nil {
		words += ", " + l.At.Format("15:04")
	}
	return words
}

func settledWords(s draft.Settled) string {
	part, _, _ := partWords(sheetmodel.Part(s.Field))
	var how string
	switch {
	case s.Basis == sheetmodel.BasisSetAside:
		how = "set aside"
	case s.Basis == sheetmodel.BasisNoWriting && s.Blind:
		how = "seen as no writing"
	case s.Basis == sheetmodel.BasisNoWriting:
		how = "seen as no writing, not unseen (does not count)"
	case s.Basis == sheetmodel.BasisJudgeAsked && s.ReadBack:
		how = s.Text + ", named by the judge"
	case s.Basis == sheetmodel.BasisJudgeAsked:
		how = s.Text + ", shown to the judge, who agreed (no look)"
	case s.ReadBack:
		how = s.Text + ", read aloud by the judge"
	case s.Blind:
		how = s.Text + ", typed unseen"
	default:
		how = s.Text + ", typed, not unseen (no look)"
	}
	words := part + " " + how + " by " + s.By + ", " + s.At.Format("15:04")
	if s.Note != "" {
		words += ": " + s.Note
	}
	if s.Undone {
		words = "taken back: " + words
	}
	return words
}

func listWords(l draft.List) string {
	if l.Given == sheetmodel.ListGiven {
		return fmt.Sprintf("given (%d)", l.Bibs)
	}
	return string(l.Given)
}

func clockWords(t any) string {
	if at, ok := t.(time.Time); ok {
		return at.Format("15:04:05")
	}
	return ""
}
