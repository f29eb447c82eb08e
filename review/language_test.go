package review_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/say"
	"gatefold/review/stack/stacktest"
)

// wide is the language in which every letter of ours is a wide one.
func wide(t testing.TB) *say.Catalogue {
	t.Helper()
	all, err := say.Extract(os.DirFS(".."))
	require.NoError(t, err)
	c, err := say.Parse("wide.po", say.Pseudo(all))
	require.NoError(t, err)
	return c
}

// seenTexts are the texts of a page that people see or hear.
func seenTexts(t testing.TB, page string) []string {
	t.Helper()
	var all, open []string
	d := xml.NewDecoder(strings.NewReader(strings.TrimPrefix(page, "<!doctype html>")))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err, page)
		switch token := token.(type) {
		case xml.StartElement:
			open = append(open, token.Name.Local)
			for _, a := range token.Attr {
				if slices.Contains([]string{"title", "alt", "aria-label", "placeholder"}, a.Name.Local) {
					all = append(all, a.Value)
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if slices.Contains(open, "script") || slices.Contains(open, "style") || slices.Contains(open, "kbd") {
				continue // names of keys
			}
			all = append(all, strings.Join(strings.Fields(string(token)), " "))
		}
	}
}

// namesOfData are what the invented race and its people put on the pages: no texts of ours. Our own logic.
var namesOfData = regexp.MustCompile(`gatefold|PDF|CSV|JSON|https?://\S+|[0-9A-Z]{4}-[0-9A-Z]{4}|\S+\.jpg|` +
	// People, places, courses and groups of the race.
	`Ada|Bo|Ida|Lou|Uma|Olli Fernbucket|Petra Mossladle|Quirin Snowbasket|Runa Hazelspoon|Sepp Otterhammer|Trude Larchbroom|Ulla Copperpail|Volker Birchsaddle|` +
	`Wim Thistlebarrel|Xenia Cinderplank|Yoris Willowcask|Zita Pebblerope|Quibble Valley Children's Giant Slalom|Blue|Red|(?i:girls|boys)|` +
	// What people wrote, and what the league's code book and rule set say in its own language.
	`the judge has left|gate missed or straddled|hindered by somebody or something|ICR|TD|technical delegate, referee, chief of race|technical delegate|referee|chief of race|` +
	`Step back and retake with the whole card in view|common practice|second-hand; look it up|local rule no\. \d|our practice; .* calls the drawing indispensable|Three Valleys Youth League \(invented\), children`)

var plainWord = regexp.MustCompile(`[A-Za-z]{2,}`)

var hrefs = regexp.MustCompile(`href="(/[^"#]*)`)

// Every page of desk and phone in a language of wide letters: what is left in plain ones is data, or was forgotten. The pages
// are found by their links, those of forms that were sent wrongly besides. Our own logic.
func TestLanguage_EveryPage_IsLeftWithoutPlainEnglish(t *testing.T) {
	h := openHut(t, afternoon(t), func(o *review.Options) { o.Language = wide(t) })
	left := map[string]string{}
	look := func(where, page string) {
		assert.Contains(t, page, `<html lang="en-x-wide"`, where)
		for _, text := range seenTexts(t, page) {
			if plainWord.MatchString(namesOfData.ReplaceAllString(text, "")) {
				left[text] = where
			}
		}
	}
	visited := map[string]bool{}
	crawl := func(name string, p *person, queue ...string) {
		for len(queue) > 0 && len(visited) < 400 {
			path := queue[0]
			queue = queue[1:]
			if visited[name+path] || strings.HasPrefix(path, "/static/") || strings.HasPrefix(path, "/ink/") || strings.HasPrefix(path, "/live") {
				continue
			}
			visited[name+path] = true
			a := p.get(path)
			if !strings.HasPrefix(a.header.Get("Content-Type"), "text/html") {
				continue
			}
			look(name+" "+path, a.body)
			for _, m := range hrefs.FindAllStringSubmatch(a.body, -1) {
				queue = append(queue, strings.ReplaceAll(m[1], "&amp;", "&"))
			}
		}
	}
	h.pair("Ida", "photos")
	h.code("hear")
	crawl("laptop", sit(t, h.here, "Lou"), append([]string{"/", "/who", "/nowhere", "/tour", "/phones"}, pages...)...)
	for _, roles := range [][]string{{"photos"}, {"hear"}, {"settle"}, {"view"}} {
		p := h.pair("Uma", roles...)
		crawl(roles[0], p, "/", "/pair", "/photos", "/readback", "/placing")
	}
	stranger := h.stranger()
	look("pairing", stranger.get("/pair").body)
	look("pairing", stranger.send("/pair", url.Values{"code": {"AAAA-AAAA"}, "name": {"X"}}).body)
	desk := sit(t, h.here, "Lou")
	for _, path := range []string{"/questions", "/heard", "/undo", "/posting", "/packet", "/phones", "/head", "/empties", bibPage(1, 2), "/placing"} {
		look("empty form to "+path, desk.send(path, url.Values{}).body)
	}
	entry := desk.get(bibPage(1, 2))
	look("typed", desk.typed(entry, "14", "paper").body)
	require.Greater(t, len(visited), 60)
	if len(left) > 0 {
		var all []string
		for _, text := range slices.Sorted(maps.Keys(left)) {
			all = append(all, fmt.Sprintf("%-22s %s", left[text], text))
		}
		t.Errorf("%d texts did not go through the catalogue: put them where review/say.Extract finds them, and name their field in review/web.sentences\n%s", len(left), strings.Join(all, "\n"))
	}
}

// What phones' scripts are told is in the language as well. Our own logic.
func TestLanguage_WhatScriptsSay_IsHandedOver(t *testing.T) {
	h := openHut(t, stacktest.New(t), func(o *review.Options) { o.Language = wide(t) })
	page := sit(t, h.here, "Lou").get("/").body
	assert.Contains(t, page, say.Wide("the next entry that waits"))
	p := h.pair("Ida", "photos")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", strings.NewReader("no photo at all, whatever its name"))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/octet-stream")
	r.Header.Set("Origin", p.base)
	assert.Contains(t, p.do(r).body, say.Wide("This is no photo that gatefold knows"))
}
