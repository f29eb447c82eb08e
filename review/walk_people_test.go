package review_test

import (
	"cmp"
	"fmt"
	"html"
	"io"
	"maps"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// walker is somebody at a browser, with the pages that they have open.
type walker struct {
	name  string
	at    *walkLaptop
	http  *http.Client
	pages []*openPage
}

// openPage is a page as somebody has it before them. What it shows is remembered as it was then.
type openPage struct {
	path    string
	body    string
	forms   []walkForm
	answers map[string]func() string // of questions; empty: this person can't tell
	shown   map[int64]*store.Sheet   // sides that the page may show
	opened  int                      // in which step
}

// walkForm is a form of a page.
type walkForm struct {
	action  string
	values  url.Values // hidden ones, and what is in the fields
	inputs  []string   // names of the fields
	choices map[string][]string
	buttons [][2]string // name and value
}

// direct brings requests to a desk without a network, so that a panic is one of the test.
type direct struct{ to http.Handler }

func (h direct) RoundTrip(r *http.Request) (*http.Response, error) {
	w := httptest.NewRecorder()
	r = r.Clone(r.Context())
	r.Host, r.RemoteAddr = r.URL.Host, "127.0.0.1:50000"
	if r.Body == nil {
		r.Body = http.NoBody
	}
	h.to.ServeHTTP(w, r)
	res := w.Result()
	res.Request = r
	return res, nil
}

func (d *walkDay) sit(l *walkLaptop, name string) *walker {
	jar, err := cookiejar.New(nil)
	require.NoError(d.t, err)
	p := &walker{name: name, at: l, http: &http.Client{Jar: jar, Transport: direct{l.desk.Handler()}}}
	a := d.request(p, http.MethodPost, "/who", url.Values{"name": {name}, "to": {"/"}})
	require.Equal(d.t, http.StatusOK, a.status, a.body)
	return p
}

var (
	walkNumber  = regexp.MustCompile(`\b5\d\d\d\b`)
	walkFormed  = regexp.MustCompile(`(?s)<form method="post" action="([^"]*)"[^>]*>(.*?)</form>`)
	walkInput   = regexp.MustCompile(`<input ([^>]*)>`)
	walkSelect  = regexp.MustCompile(`(?s)<select ([^>]*)>(.*?)</select>`)
	walkOption  = regexp.MustCompile(`<option(?: value="([^"]*)")?[^>]*>([^<]*)</option>`)
	walkButton  = regexp.MustCompile(`<button([^>]*)>`)
	walkAttr    = regexp.MustCompile(`([a-z-]+)="([^"]*)"`)
	walkHeading = regexp.MustCompile(`(?s)<h1[^>]*>(.*?)</h1>`)
)

// request sends a request and follows where it leads; whatever the answer is, it is none that says the desk has broken.
func (d *walkDay) request(p *walker, method, path string, form url.Values) answer {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r, err := http.NewRequestWithContext(d.t.Context(), method, "http://127.0.0.1:8484"+path, body)
	require.NoError(d.t, err)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	defer func() {
		if e := recover(); e != nil {
			d.fault("%s %s %v: panic: %v", method, path, form, e)
		}
	}()
	res, err := p.http.Do(r)
	require.NoError(d.t, err)
	all, err := io.ReadAll(res.Body)
	require.NoError(d.t, err)
	require.NoError(d.t, res.Body.Close())
	a := answer{res.StatusCode, res.Request.URL.Path, res.Header, string(all)}
	if a.status >= 500 || a.status >= 400 && len(walkHeading.FindString(a.body)) < 10 {
		d.fault("%s %s %v: %d: %s", method, path, form, a.status, a.body)
	}
	d.moments++
	for _, at := range walkNumber.FindAllStringIndex(a.body, -1) {
		n := a.body[at[0]:at[1]]
		if _, before := p.at.seen[toldTo{p.name, n}]; !before && !strings.HasSuffix(path, "="+n) { // what they asked for themselves they know from elsewhere
			p.at.seen[toldTo{p.name, n}] = sight{d.moments, fmt.Sprintf("step %d, %s, %s: …%s…", d.stepNo, p.at.name, a.path, a.body[max(0, at[0]-200):min(len(a.body), at[1]+60)])}
		}
	}
	return a
}

func attrsOf(text string) map[string]string {
	all := map[string]string{}
	for _, m := range walkAttr.FindAllStringSubmatch(text, -1) {
		all[m[1]] = html.UnescapeString(m[2])
	}
	return all
}

func formsOf(body string) []walkForm {
	var all []walkForm
	for _, m := range walkFormed.FindAllStringSubmatch(body, -1) {
		f := walkForm{action: html.UnescapeString(m[1]), values: url.Values{}, choices: map[string][]string{}}
		for _, in := range walkInput.FindAllStringSubmatch(m[2], -1) {
			a := attrsOf(in[1])
			switch a["type"] {
			case "hidden":
				f.values.Add(a["name"], a["value"])
			case "radio", "checkbox":
				f.choices[a["name"]] = append(f.choices[a["name"]], a["value"])
			default:
				f.inputs = append(f.inputs, a["name"])
				f.values.Set(a["name"], a["value"])
			}
		}
		for _, in := range walkSelect.FindAllStringSubmatch(m[2], -1) {
			name := attrsOf(in[1])["name"]
			for _, o := range walkOption.FindAllStringSubmatch(in[2], -1) {
				value := o[1]
				if !strings.Contains(o[0], "value=") {
					value = o[2]
				}
				f.choices[name] = append(f.choices[name], html.UnescapeString(value))
			}
		}
		for _, b := range walkButton.FindAllStringSubmatch(m[2], -1) {
			a := attrsOf(b[1])
			if !strings.Contains(b[1], "disabled") {
				f.buttons = append(f.buttons, [2]string{a["name"], a["value"]})
			}
		}
		all = append(all, f)
	}
	return all
}

// openPage has somebody open a page.
func (d *walkDay) openPage(l *walkLaptop, p *walker) {
	st, said := d.load(l)
	card := store.CardName(d.keyOf(1 + d.r.IntN(walkCards)))
	path := ""
	switch n := d.r.IntN(20); {
	case n < 6:
		path = "/next"
	case n < 8 && len(st.Rows) > 0:
		row := st.Rows[d.r.IntN(len(st.Rows))]
		entry := pick(d.r, row.BibSeen, row.BibSeen, row.Code, row.Gate)
		path = "/entry/" + entry.Key
	case n < 12:
		path = "/questions"
	case n < 15:
		path = "/card/" + card
	case n < 16:
		path = "/readback/" + card
	case n < 17 && d.kind == "spare": // and what only rests on it
		path = "/card/" + store.CardName(d.keyOf(3))
	case n < 18:
		path = pick(d.r, "/draft", "/", "/spot", "/why?bib=5001", "/draft/draft.json", "/draft/draft.csv")
	case n < 19:
		path = pick(d.r, "/posting", "/heard")
	default:
		path = "/packet?bib=" + fmt.Sprint(5000+d.r.IntN(d.truths-5000+1))
		if len(said.Calls) > 0 {
			path = "/packet?bib=" + said.Calls[d.r.IntN(len(said.Calls))].Bib
		}
	}
	if path == "/entry/" {
		return
	}
	d.took(l, p, d.request(p, http.MethodGet, path, nil))
}

// took lays a page that came on somebody's desk.
func (d *walkDay) took(l *walkLaptop, p *walker, a answer) {
	if a.status >= 500 || a.body == "" {
		return
	}
	o := &openPage{path: a.path, body: a.body, forms: formsOf(a.body), opened: d.stepNo, answers: map[string]func() string{}, shown: map[int64]*store.Sheet{}}
	st, said := d.load(l)
	sheets, err := l.store.Sheets(d.t.Context())
	require.NoError(d.t, err)
	for i := range sheets {
		o.shown[sheets[i].ID] = &sheets[i]
	}
	if o.path == "/questions" {
		for i := range st.Questions {
			o.answers[st.Questions[i].Key] = d.truthOfPhotos(l, st, o, &st.Questions[i])
		}
		for i := range said.Findings {
			if f := &said.Findings[i]; f.Question != nil {
				o.answers[f.Question.Key] = d.truthOfRule(l, st, f)
			}
		}
	}
	p.pages = append(p.pages, o)
	if len(p.pages) > 5 {
		p.pages = p.pages[1:]
	}
}

// sendSomething has somebody look through what they have open for something that they can say, and send it.
func (d *walkDay) sendSomething(l *walkLaptop, p *walker) {
	for range 6 {
		if d.sendOne(l, p) {
			return
		}
	}
}

// sendOne has somebody fill a form of a page that they have open, the newest mostly, and send it; false: nothing was sent.
func (d *walkDay) sendOne(l *walkLaptop, p *walker) bool {
	if len(p.pages) == 0 {
		d.openPage(l, p)
		return false
	}
	at := len(p.pages) - 1
	if d.r.IntN(3) == 0 && !d.without["stale"] {
		at = d.r.IntN(len(p.pages))
	}
	o := p.pages[at]
	if d.without["stale"] && o.opened != d.stepNo { // open it once more
		p.pages = nil
		d.took(l, p, d.request(p, http.MethodGet, o.path, nil))
		o = p.pages[0]
	}
	var can []walkForm
	for _, f := range o.forms {
		if d.r.IntN(4) > 0 || f.action != "/undo" && f.action != "/redo" && f.values.Get("do") != "again" {
			can = append(can, f)
		}
	}
	if len(can) == 0 {
		p.pages = slices.Delete(p.pages, at, at+1)
		d.openPage(l, p)
		return false
	}
	f := can[d.r.IntN(len(can))]
	if strings.HasPrefix(o.path, "/entry/") { // mostly what the page is for
		for _, g := range can {
			if strings.HasPrefix(g.action, "/entry/") && d.r.IntN(3) > 0 {
				f = g
				break
			}
		}
	}
	values, after := d.fill(l, p, o, f)
	if values == nil {
		if d.r.IntN(2) == 0 {
			d.openPage(l, p)
		}
		return false
	}
	d.say("%s: %s, page %s of step %d, sends %s %v", l.name, p.name, o.path, o.opened, f.action, values)
	a := d.request(p, http.MethodPost, f.action, values)
	d.log[len(d.log)-1] += fmt.Sprintf(" → %d %s", a.status, a.path)
	d.counts[fmt.Sprintf("sent %s: %d", pathWord(f.action), a.status)]++
	if after != nil {
		after()
	}
	if d.r.IntN(3) > 0 {
		p.pages = slices.DeleteFunc(p.pages, func(other *openPage) bool { return other == o })
	}
	d.took(l, p, a)
	return true
}

func pathWord(path string) string { return strings.SplitN(strings.TrimPrefix(path, "/"), "/", 2)[0] }

func clone(v url.Values) url.Values {
	c := url.Values{}
	for k, all := range v {
		c[k] = slices.Clone(all)
	}
	return c
}

// fill fills a form as an honest person does who has that page before them; nil: they leave it.
func (d *walkDay) fill(l *walkLaptop, p *walker, o *openPage, f walkForm) (url.Values, func()) {
	v := clone(f.values)
	word := pathWord(f.action)
	if d.without[word] {
		return nil, nil
	}
	switch word {
	case "entry":
		return d.fillEntry(l, p, o, f, v)
	case "readback":
		return d.fillReadBack(l, p, o, f, v)
	case "questions":
		key := v.Get("question")
		if len(f.buttons) > 0 && f.buttons[0][1] == "again" {
			v.Set("do", "again")
			return v, nil
		}
		truth := o.answers[key]
		if truth == nil {
			return nil, nil
		}
		value := truth()
		kind := strings.SplitN(key, "/", 2)[0]
		if value == "" && slices.Contains(f.buttons, [2]string{"answer", "set-aside"}) && d.r.IntN(6) == 0 {
			value = "set-aside"
		}
		if value == "" || !slices.Contains(f.buttons, [2]string{"answer", value}) {
			d.counts["left unanswered: "+kind]++
			return nil, nil
		}
		d.counts["answered: "+kind]++
		v.Set("answer", value)
		v.Set("note", "I, from the paper")
		return v, nil
	case "undo", "redo":
		return v, nil
	case "which":
		return d.fillWhich(l, o, f, v)
	case "bind":
		gates := d.gates(3)
		if !strings.HasSuffix(f.action, fmt.Sprint("-", spareCard)) {
			return nil, nil
		}
		v.Set("run", "1")
		v.Set("course", "Blue")
		v.Set("gates", gates[0]+"-"+gates[len(gates)-1])
		v.Set("judge", "Quirin Snowbasket")
		return v, nil
	case "strike":
		return d.fillStrike(o, v, f)
	case "addrow":
		return d.fillAddRow(o, v, f)
	case "gap":
		if d.r.IntN(3) > 0 {
			return nil, nil
		}
		v.Set("why", "lost")
		v.Set("do", pick(d.r, "close", "close", "open"))
		return v, nil
	case "paper":
		if d.r.IntN(2) > 0 {
			return nil, nil
		}
		n := 0
		for row := 1; row <= walkRows; row++ {
			if is, written := d.now(spot{d.cardOf(o.path), row, inBib}); written && is.truth != "" {
				n = row
			}
		}
		v.Set("rows", fmt.Sprint(n))
		return v, nil
	case "head":
		return d.fillHead(l, o, f, v)
	case "empties":
		return d.fillEmpties(l, o, f, v)
	case "back":
		do := f.buttons[0][1]
		if do == "seen" && d.drawnOn(d.cardOf(f.action)) || do != "seen" && d.r.IntN(3) > 0 {
			return nil, nil
		}
		v.Set("do", do)
		if do == "close" {
			v.Set("why", "gone")
		}
		return v, nil
	case "posting":
		return d.fillPosting(o, v, f)
	case "packet":
		if len(f.buttons) < 3 || d.r.IntN(2) == 0 {
			return nil, nil
		}
		v.Set("do", pick(d.r, "protest", "protest", "upheld", "overruled", "posted"))
		v.Set("from", "team official")
		v.Set("reason", "for this test")
		v.Set("word", "1")
		for _, m := range f.choices["present"] {
			v.Add("present", m)
		}
		for _, protest := range f.choices["answers"] {
			if d.r.IntN(2) == 0 {
				v.Add("answers", protest)
			}
		}
		if v.Get("do") == "overruled" {
			d.decided[fmt.Sprint(v.Get("bib"), " at gate ", v.Get("gate"), " ", v.Get("code"))] = true
		}
		return v, nil
	case "heard":
		return d.fillHeard(v, f)
	}
	d.counts["form left: "+word]++
	return nil, nil
}

// fillWhich says which card a side is, or that it isn't the one it was taken for.
func (d *walkDay) fillWhich(l *walkLaptop, o *openPage, f walkForm, v url.Values) (url.Values, func()) {
	id, _ := strconv.ParseInt(v.Get("sheet"), 10, 64)
	s := o.shown[id]
	if s == nil {
		return nil, nil
	}
	truly := int(s.Quality.BlurMM)
	if len(f.buttons) > 0 && f.buttons[0][0] == "do" { // on the page of a card
		if d.paperOf(s.Card) == truly {
			return nil, nil
		}
		v.Set("do", f.buttons[0][1])
		return v, nil
	}
	v.Set("run", fmt.Sprint(max(1, d.keyOf(truly).Run)))
	v.Set("course", "Blue")
	v.Set("card", fmt.Sprint(map[bool]int{true: d.keyOf(truly).Card, false: truly}[d.second]))
	if slices.Contains(f.choices["same"], "yes") { // all photos that have this number are of it, as they see
		for _, other := range o.shown {
			if other.Card == d.keyOf(truly) && int(other.Quality.BlurMM) != truly {
				return nil, nil
			}
		}
		v.Set("same", "yes")
	}
	return v, nil
}

var walkCardName = regexp.MustCompile(`(?:run\d+/[^/]+|spare)/card-\d+`)

// cardOf is the card that a path is about.
func (d *walkDay) cardOf(path string) int {
	key, _ := store.ParseCardName(walkCardName.FindString(path))
	return d.paperOf(key)
}

// slip is what somebody types who means to type the truth: mostly that. Nobody makes a slip where somebody has made one.
func (d *walkDay) slip(at spot, mend int, is walkInk) string {
	key := fmt.Sprint(at, is.truth)
	if is.truth == "" || is.alike == "" || d.slips[key] || d.r.IntN(15) > 0 || at.part != inBib { // what happened and gates rest on one person, as we decided
		return is.truth
	}
	d.slips[key] = true
	return is.alike
}

// inkOn is the ink of a box as a sheet shows it that somebody has before them; the paper itself where there is none.
func (d *walkDay) inkOn(l *walkLaptop, o *openPage, sheet int64, at spot) (is walkInk, mend int, ok bool) {
	if sheet == 0 {
		is, _ = d.now(at)
		return is, len(d.paper[at]) - 1, true
	}
	s := o.shown[sheet]
	if s == nil {
		return is, 0, false
	}
	shot := l.photos[s.Photo]
	if shot == nil {
		return is, 0, false
	}
	mend, known := shot.shows[at]
	if !known {
		return is, 0, false
	}
	return d.inkIn(at, mend), mend, true
}

// paperAt is the card that a sheet shows, or that which has a number where there is none.
func (d *walkDay) paperAt(o *openPage, sheet int64, key sheetmodel.CardKey) int {
	if s := o.shown[sheet]; s != nil {
		return int(s.Quality.BlurMM)
	}
	return d.paperOf(key)
}

func (d *walkDay) fillEntry(l *walkLaptop, p *walker, o *openPage, f walkForm, v url.Values) (url.Values, func()) {
	key, err := url.PathUnescape(strings.TrimPrefix(f.action, "/entry/"))
	require.NoError(d.t, err)
	card, _, field, err := store.ParseKey(key)
	require.NoError(d.t, err)
	row, _ := strconv.Atoi(strings.TrimPrefix(strings.SplitN(field, ".", 2)[0], "row-"))
	sheet, err := strconv.ParseInt(v.Get("sheet"), 10, 64)
	require.NoError(d.t, err)
	at := spot{d.paperAt(o, sheet, card), row, strings.SplitN(field, ".", 2)[1]}
	is, mend, ok := d.inkOn(l, o, sheet, at)
	if !ok || at.part != inBib && at.part != inCode && at.part != inGate {
		return nil, nil
	}
	if slices.Contains(f.buttons, [2]string{"do", "aside"}) && !slices.Contains(f.inputs, "text") {
		if d.r.IntN(4) > 0 {
			return nil, nil
		}
		v.Set("do", "aside")
		v.Set("note", "the judge has left")
		return v, nil
	}
	whole, _, _ := d.inkOn(l, o, sheet, spot{at.card, at.row, inBib})
	ways := f.choices["how"]
	if len(ways) == 0 || !slices.Contains(f.inputs, "text") {
		return nil, nil
	}
	how := ways[d.r.IntN(len(ways))]
	if slices.Contains(ways, "paper") && d.r.IntN(2) == 0 {
		how = "paper"
	}
	text := d.slip(at, mend, is)
	inks := []int{mend}
	if how != "paper" { // the judge, with the card in the hand
		now, _ := d.now(at)
		standing, _ := d.now(spot{at.card, at.row, inBib})
		if standing.struck || now.truth == "" || standing.truth == "" {
			return nil, nil
		}
		text, inks = now.truth, []int{len(d.paper[at]) - 1}
	} else if whole.struck && d.r.IntN(2) == 0 {
		return nil, nil
	}
	if d.r.IntN(25) == 0 {
		v.Set("do", "later")
		return v, nil
	}
	if text == "" {
		if !slices.Contains(f.buttons, [2]string{"do", "nothing"}) {
			return nil, nil
		}
		v.Set("text", "")
		v.Set("do", "nothing")
		if whole.truth != "" {
			if !slices.Contains(f.buttons, [2]string{"do", "nothing-here"}) {
				return nil, nil
			}
			v.Set("do", "nothing-here")
		}
	} else {
		v.Set("text", text)
		v.Set("do", "settle")
		v.Set("sure", text)
	}
	v.Set("how", how)
	if w := d.types(&typedWord{by: p.name, text: text, at: at, inks: inks, judge: how != "paper"}); d.told(l, w) {
		d.say("%s had been told %s: %s", p.name, text, l.seen[toldTo{p.name, text}].words)
	}
	return v, nil
}

// types notes what somebody is about to send.
func (d *walkDay) types(w *typedWord) *typedWord {
	d.moments++
	w.moment, w.alone = d.moments, d.kind != "unnamed" && d.kind != "twins" && !d.reused[w.text]
	d.words = append(d.words, w)
	return w
}

// told reports whether somebody had been sent a text before they typed it, as far as a laptop can know: on it, or on another one
// that it has joined, or been copied from, since. Somebody who sits down at two laptops that know nothing of each other is two people to both;
// once they are joined, no more. A text that they had typed themselves before anybody told them may be what they were sent.
func (d *walkDay) told(l *walkLaptop, w *typedWord) bool {
	s, sent := l.seen[toldTo{w.by, w.text}]
	return sent && w.alone && s.moment < w.moment && !slices.ContainsFunc(d.words, func(o *typedWord) bool {
		return o.by == w.by && o.text == w.text && o.moment < s.moment
	})
}

// seenByEither is what two laptops know together.
func seenByEither(l, o *walkLaptop) map[toldTo]sight {
	both := maps.Clone(l.seen)
	for to, s := range o.seen {
		if was, known := both[to]; !known || s.moment < was.moment {
			both[to] = s
		}
	}
	return both
}

func (d *walkDay) fillReadBack(l *walkLaptop, p *walker, o *openPage, f walkForm, v url.Values) (url.Values, func()) {
	card, n := d.cardOf(o.path), 0
	say := func(row int, name string) bool {
		at := spot{card, row, inBib}
		is, written := d.now(at)
		if !written || is.truth == "" || is.struck {
			v.Set(name, "")
			return false
		}
		n++
		v.Set(name, is.truth)
		d.types(&typedWord{by: p.name, text: is.truth, at: at, inks: []int{len(d.paper[at]) - 1}, judge: true})
		return true
	}
	for _, name := range f.inputs {
		if row, found := strings.CutPrefix(name, "row-"); found && d.r.IntN(5) > 0 {
			number, err := strconv.Atoi(row)
			require.NoError(d.t, err)
			say(number, name)
		}
	}
	if more := f.choices["more-row"]; len(more) > 1 && d.r.IntN(2) == 0 {
		name := more[1+d.r.IntN(len(more)-1)]
		number, _ := strconv.Atoi(strings.TrimPrefix(name, "row-"))
		if say(number, "more") {
			v.Set("more-row", name)
		}
	}
	if n == 0 {
		return nil, nil
	}
	return v, nil
}

// fillHead types the number of rows that stand, or the gates, as they are written on the card in the photo before them.
func (d *walkDay) fillHead(l *walkLaptop, o *openPage, f walkForm, v url.Values) (url.Values, func()) {
	id, _ := strconv.ParseInt(v.Get("sheet"), 10, 64)
	s := o.shown[id]
	if s == nil || l.photos[s.Photo] == nil {
		return nil, nil
	}
	card := int(s.Quality.BlurMM)
	for _, name := range f.inputs {
		gates := d.headGates(card)
		switch part := sheetmodel.Part(name); {
		case part == sheetmodel.PartRowCount:
			v.Set(name, fmt.Sprint(d.standing(l.photos[s.Photo], card)))
		case part == sheetmodel.PartGateFrom && gates != nil:
			v.Set(name, gates[0])
		case part == sheetmodel.PartGateTo && gates != nil:
			v.Set(name, gates[1])
		case part == sheetmodel.PartJudge && d.heads:
			v.Set(name, d.judgeOf(card))
		default:
			return nil, nil
		}
	}
	return v, nil
}

// fillEmpties marks the cards on whose photo no row holds ink, and those on whose back nothing is written as they are in the hand.
func (d *walkDay) fillEmpties(l *walkLaptop, o *openPage, f walkForm, v url.Values) (url.Values, func()) {
	n := 0
	for _, name := range f.choices["rows"] {
		id, _ := strconv.ParseInt(v.Get("front-"+name), 10, 64)
		s := o.shown[id]
		if s == nil || l.photos[s.Photo] == nil {
			return nil, nil
		}
		shot, card := l.photos[s.Photo], int(s.Quality.BlurMM)
		if ink := slices.ContainsFunc(sortedSpots(shot.shows), func(at spot) bool {
			return at.card == card && at.part != under && d.inkIn(at, shot.shows[at]).truth != ""
		}); ink {
			continue
		}
		v.Add("rows", name)
		n++
		if slices.Contains(f.choices["back"], name) && d.r.IntN(2) == 0 && !d.drawnOn(card) {
			v.Add("back", name)
		}
	}
	if len(f.choices["rows"]) == 0 { // backs alone
		for _, name := range f.choices["back"] {
			id, _ := strconv.ParseInt(v.Get("front-"+name), 10, 64)
			if s := o.shown[id]; s != nil && d.r.IntN(3) == 0 && !d.drawnOn(int(s.Quality.BlurMM)) {
				v.Add("back", name)
				n++
			}
		}
	}
	if n == 0 {
		return nil, nil
	}
	return v, nil
}

// drawnOn reports whether anything is written on the back of a card now.
func (d *walkDay) drawnOn(card int) bool {
	for row := 1; row <= walkRows; row++ {
		if is, written := d.now(spot{card, row, under}); written && is.truth != "" {
			return true
		}
	}
	return false
}

func sortedSpots(shows map[spot]int) []spot {
	return slices.SortedFunc(maps.Keys(shows), func(a, b spot) int {
		return cmp.Or(a.card-b.card, a.row-b.row, strings.Compare(a.part, b.part))
	})
}

func (d *walkDay) frontOf(o *openPage, v url.Values) *store.Sheet {
	id, _ := strconv.ParseInt(v.Get("front"), 10, 64)
	return o.shown[id]
}

// fillStrike marks a row as struck out that is so on the photo before them, or says that it isn't.
func (d *walkDay) fillStrike(o *openPage, v url.Values, f walkForm) (url.Values, func()) {
	row, _ := strconv.Atoi(v.Get("row"))
	front, _ := strconv.ParseInt(v.Get("front"), 10, 64)
	card := d.paperAt(o, front, d.keyOf(d.cardOf(o.path)))
	is, ok := d.onFront(o, v, spot{card, row, inBib})
	if !ok || len(f.buttons) == 0 {
		return nil, nil
	}
	do := f.buttons[0][1]
	if now, _ := d.now(spot{card, row, inBib}); is.struck != (do == "on") && (do == "off" || !now.struck) {
		return nil, nil // neither the photo says so nor the judge, with the card in the hand
	}
	v.Set("do", do)
	v.Set("note", "I, from the paper")
	return v, nil
}

func (d *walkDay) onFront(o *openPage, v url.Values, at spot) (walkInk, bool) {
	s := d.frontOf(o, v)
	if s == nil {
		if v.Get("front") != "0" {
			return walkInk{}, false
		}
		return d.now(at)
	}
	for _, l := range d.laptops {
		if shot := l.photos[s.Photo]; shot != nil {
			mend, known := shot.shows[at]
			return d.inkIn(at, mend), known
		}
	}
	return walkInk{}, false
}

func (d *walkDay) fillAddRow(o *openPage, v url.Values, f walkForm) (url.Values, func()) {
	if v.Get("row") != "" { // take it out again
		row, _ := strconv.Atoi(v.Get("row"))
		is, written := d.now(spot{d.cardOf(o.path), row, inBib})
		if written && is.truth != "" {
			return nil, nil
		}
		v.Set("do", "away")
		return v, nil
	}
	for _, choice := range f.choices["row"] {
		row, err := strconv.Atoi(choice)
		if err != nil || row > walkRows || d.r.IntN(3) == 0 {
			continue
		}
		front, _ := strconv.ParseInt(v.Get("front"), 10, 64)
		if is, ok := d.onFront(o, v, spot{d.paperAt(o, front, d.keyOf(d.cardOf(o.path))), row, inBib}); ok && is.truth != "" && !is.struck { // a row that is struck out isn't missed
			v.Set("row", choice)
			return v, nil
		}
	}
	return nil, nil
}

func (d *walkDay) fillPosting(o *openPage, v url.Values, f walkForm) (url.Values, func()) {
	if lines := f.choices["line"]; len(lines) > 0 {
		v.Set("line", lines[d.r.IntN(len(lines))])
		v.Set("word", "1")
		v.Set("do", "posted")
		return v, nil
	}
	if d.r.IntN(3) > 0 {
		return nil, nil
	}
	v.Set("why", "for this test")
	v.Set("do", pick(d.r, "withdrawn", "corrected"))
	return v, nil
}

// fillHeard writes down what a judge calls of a row of theirs.
func (d *walkDay) fillHeard(v url.Values, f walkForm) (url.Values, func()) {
	card, row := 1+d.r.IntN(walkCards), 1+d.r.IntN(2)
	is, written := d.now(spot{card, row, inBib})
	gate, _ := d.now(spot{card, row, inGate})
	if !written || is.truth == "" || len(f.choices["at"]) == 0 || gate.truth == "" {
		return nil, nil
	}
	v.Set("at", fmt.Sprint(max(1, d.keyOf(card).Run), " Blue"))
	if !slices.Contains(f.choices["at"], v.Get("at")) {
		return nil, nil
	}
	v.Set("clock", "09:30")
	v.Set("from", "gate "+gate.truth)
	v.Set("bib", is.truth)
	v.Set("gate", gate.truth)
	v.Set("words", "for this test")
	return v, nil
}

// truthOfPhotos is what is answered to a question about photos by somebody who has its page before them; nil or empty: they can't tell.
func (d *walkDay) truthOfPhotos(l *walkLaptop, st *stack.Stack, o *openPage, q *stack.PhotoQuestion) func() string {
	question := *q
	shotOf := func(sheet int64) *walkShot {
		if s := o.shown[sheet]; s != nil {
			return l.photos[s.Photo]
		}
		return nil
	}
	earlier, later := shotOf(q.Earlier), shotOf(q.Later)
	card := d.paperAt(o, q.Later, q.Card)
	same := q.Earlier == 0 || card == d.paperAt(o, q.Earlier, q.Card)
	rowAt := func(part string) spot { return spot{card, q.Rows[0], part} }
	switch strings.SplitN(q.Key, "/", 2)[0] {
	case "two-photos":
		if earlier == nil || later == nil {
			return nil
		}
		value := stack.AnswerLater
		switch {
		case !same:
			value = stack.AnswerTwo
		case earlier.taken > later.taken:
			value = stack.AnswerEarlier
		}
		return func() string { return value }
	case "row-again":
		if earlier == nil || later == nil {
			return nil
		}
		if !same {
			return func() string { return stack.AnswerOther }
		}
		value := stack.AnswerSame
		for _, part := range []string{inBib, inCode, inGate} {
			a, b := d.inkIn(rowAt(part), earlier.shows[rowAt(part)]), d.inkIn(rowAt(part), later.shows[rowAt(part)])
			if a.truth != b.truth || a.struck != b.struck {
				value = stack.AnswerOther
			}
		}
		if value == stack.AnswerOther && len(q.Answers) > 2 && earlier.taken > later.taken {
			value = stack.AnswerEarlier
		}
		return func() string { return value }
	case "row-entered":
		at := rowAt(inBib)
		return func() string { // with the paper in the hand
			switch is, _ := d.now(at); {
			case is.truth == "":
				return stack.AnswerNotThere
			case is.struck:
				return ""
			}
			return stack.AnswerStands
		}
	case "rows-counted":
		listed := map[int]bool{}
		for i := range st.Rows {
			if d.paperOf(st.Rows[i].Ref.CardKey) == d.paperOf(question.Card) {
				listed[st.Rows[i].Ref.Row] = true
			}
		}
		return func() string {
			for row := 1; row <= walkRows; row++ {
				if is, written := d.now(spot{card, row, inBib}); written && is.truth != "" && !listed[row] {
					return ""
				}
			}
			return stack.AnswerSeen
		}
	case "aside-again":
		return func() string { return stack.AnswerSeen }
	case "mark-again", "marks-left": // they go and look at the page of the card first
		struck := map[int]bool{}
		for _, n := range question.Rows {
			struck[n] = st.Answers[stack.StruckKey(question.Card, n)] == stack.Marked
			for i := range st.Rows {
				if r := &st.Rows[i]; d.paperOf(r.Ref.CardKey) == d.paperOf(question.Card) && r.Ref.Row == n && r.Struck {
					struck[n] = true
				}
			}
		}
		return func() string {
			for _, n := range question.Rows {
				if is, _ := d.now(spot{card, n, inBib}); is.struck != struck[n] {
					return ""
				}
			}
			if len(question.Rows) == 0 {
				return ""
			}
			return stack.AnswerSeen
		}
	}
	return nil
}

// truthOfRule is the same for what a rule asks.
func (d *walkDay) truthOfRule(l *walkLaptop, st *stack.Stack, f *sheetmodel.Finding) func() string {
	type seenRow struct {
		at spot
		is walkInk
	}
	var rows []seenRow
	for _, ref := range f.Rows {
		r := st.Row(ref)
		at := spot{d.paperOf(ref.CardKey), ref.Row, inBib}
		is, _ := d.now(at)
		if r != nil && r.Sheet != nil {
			at.card = int(r.Sheet.Quality.BlurMM)
			is = d.inkIn(at, l.photos[r.Sheet.Photo].shows[at])
		}
		rows = append(rows, seenRow{at, is})
	}
	switch f.Rule {
	case "struck-row":
		value := "stands"
		if rows[0].is.struck {
			value = "struck"
		}
		return func() string { return value }
	case "lost-ski":
		which := map[int]bool{}
		for i, r := range rows {
			row := st.Row(f.Rows[i])
			if r.is.truth == "" || r.is.struck || row != nil && row.Bib != "" && row.Bib != r.is.truth { // written over: no loss of this racer's any more
				return nil
			}
			which[r.is.event] = true
		}
		return func() string { return fmt.Sprint(len(which)) }
	case "left-course", "went-on": // they ask the judges of the rows that they see
		cause := map[string]string{"left-course": "P", "went-on": "H"}[f.Rule]
		counts := map[string]string{"left-course": "counts", "went-on": "went-on"}[f.Rule]
		unreal := map[bool]int{}
		for i, ref := range f.Rows {
			if r := st.Row(ref); r != nil && r.Row.Code != cause {
				unreal[rows[i].is.unreal]++
			}
		}
		switch {
		case unreal[true] > 0 && unreal[false] > 0:
			return nil
		case unreal[true] > 0:
			return func() string { return "set-aside" }
		}
		return func() string { return counts }
	case "drawing":
		return func() string { return "none" }
	case "gate-in-section", "neighbours-gates": // the judge says that they saw it there, where the paper says what the page does
		for i := range st.Rows {
			r := &st.Rows[i]
			if f.Rule == "gate-in-section" && !slices.Contains(f.Rows, r.Ref) || f.Card == nil || r.Ref.CardKey != *f.Card {
				continue
			}
			at := d.spotOf(r, inGate)
			is, _ := d.now(at)
			if r.Sheet != nil {
				is = d.inkIn(at, l.photos[r.Sheet.Photo].shows[at])
			}
			if is.truth != r.Row.Gate {
				return func() string { return "" }
			}
		}
		return func() string { return "counts" }
	case "heard":
		return func() string { // all calls are of rows that are or were on a card
			for at, inks := range d.paper {
				if is := inks[len(inks)-1]; at.part == inBib && is.truth == f.Bib && !is.struck {
					return "written"
				}
			}
			return ""
		}
	case "row-count":
		listed := map[int]bool{}
		for i := range st.Rows {
			if r := &st.Rows[i]; r.Ref.CardKey == *f.Card {
				listed[r.Ref.Row] = true
			}
		}
		return func() string {
			for row := 1; row <= walkRows; row++ {
				if is, written := d.now(spot{d.paperOf(*f.Card), row, inBib}); written && is.truth != "" && !is.struck && !listed[row] {
					return ""
				}
			}
			return "all"
		}
	}
	return func() string { return "" } // nobody can tell; it may be set aside
}
