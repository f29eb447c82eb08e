//go:build cgo

package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCollect_PDFOfAScanner_GivesEveryPagesCard puts both sides of a card and a page without one into a PDF,
// as an office scanner does: both sides are read, the third page is named, the original is kept as it came.
func TestCollect_PDFOfAScanner_GivesEveryPagesCard(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	doc := fpdf.New("P", "mm", "A4", "")
	for _, name := range []string{"card-01-front.jpg", "card-01-back.jpg", ""} {
		doc.AddPage()
		if name != "" {
			doc.ImageOptions(filepath.Join(demoStackDir, "photos", name), 0, 0, 210, 0, false, fpdf.ImageOptions{}, 0, "")
		}
	}
	var scan bytes.Buffer
	require.NoError(t, doc.Output(&scan))
	file := filepath.Join(t.TempDir(), "scan.pdf")
	require.NoError(t, os.WriteFile(file, scan.Bytes(), 0o600))

	code, text, complaint := runApp(t, "collect", dir, file, "--json")
	assert.Equal(t, int(exitRefused), code, complaint)
	assert.Contains(t, complaint, "photo scan.pdf: a further card in it is not used: page 3: no card found")
	var report collectReport
	require.NoError(t, json.Unmarshal([]byte(text), &report))
	require.Len(t, report.Photos, 1)
	assert.Equal(t, []string{"Blue, run 1, card 1, front", "Blue, run 1, card 1, back"}, report.Photos[0].Cards)
	kept, err := os.ReadFile(filepath.Join(dir, "originals", report.Photos[0].SHA256+".pdf"))
	require.NoError(t, err)
	assert.Equal(t, scan.Bytes(), kept)
}
