package review_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
)

// stream is all that one person's page has been sent so far.
type stream struct {
	mu   sync.Mutex
	sent strings.Builder
}

func (s *stream) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sent.String()
}

func (s *stream) read(body io.Reader) {
	buf := make([]byte, 4096)
	for {
		n, err := body.Read(buf)
		s.mu.Lock()
		s.sent.Write(buf[:n])
		s.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// Every person, at the laptop and on phones of each role, listens at every entry that waits, while others type what is
// written there, type it otherwise, and take it back: no event holds a text of the ink, of a rival or of what was typed,
// nor the name of who typed it. Source: our own logic.
func TestSecrecy_EveryEvent_HoldsNoTextThatMayStillBeTyped(t *testing.T) {
	b, secrets := secretStack(t)
	h := openHut(t, b)
	st, result := b.Load()
	waits := st.Waiting(result)
	require.GreaterOrEqual(t, len(waits), 6)
	who := map[string]*person{"the laptop": sit(t, h.here, "Lou"), "settle": h.pair("Sam", "settle"), "view": h.pair("Vic", "view"), "all": h.pair("All", "photos", "hear", "settle", "view")}
	ctx, hangUp := context.WithCancel(t.Context())
	defer hangUp()
	streams := map[string]*stream{}
	for name, p := range who {
		for _, w := range waits {
			at := name + " at " + w.Entry.Key
			streams[at] = &stream{}
			r, err := http.NewRequestWithContext(ctx, http.MethodGet, p.base+"/live?here=next&at=-1&entry="+url.QueryEscape(w.Entry.Key), nil)
			require.NoError(t, err)
			res, err := p.http.Do(r)
			require.NoError(t, err)
			defer func() { _ = res.Body.Close() }()
			require.Equal(t, http.StatusOK, res.StatusCode, at)
			require.Equal(t, "text/event-stream", res.Header.Get("Content-Type"), at)
			go streams[at].read(res.Body)
		}
	}
	events := func(n int) {
		t.Helper()
		require.Eventually(t, func() bool {
			for _, s := range streams {
				if strings.Count(s.text(), "event: news") < n {
					return false
				}
			}
			return true
		}, 60*time.Second, 100*time.Millisecond)
	}
	events(1)

	typed := []string{}
	zoe := sit(t, h.here, "Zoraida")
	for i, w := range waits {
		if w.Need != look.NeedEntry {
			continue
		}
		text := w.Entry.Seen.Text
		if i%2 == 0 {
			text = "2" + text // otherwise than was read
		}
		page := zoe.get("/entry/" + w.Entry.Key)
		require.Equal(t, "/entry/"+w.Entry.Key, page.path)
		next := zoe.filled(page, url.Values{"text": {text}, "how": {"paper"}, "do": {"settle"}, "sure": {text}})
		typed = append(typed, text)
		if undo := undoField.FindStringSubmatch(next.body); undo != nil && i%3 == 0 {
			zoe.send("/undo", url.Values{"decision": {undo[1]}})
		}
	}
	require.GreaterOrEqual(t, len(typed), 4)
	events(2)
	time.Sleep(time.Second) // the last of them
	hangUp()
	for at, s := range streams {
		sent := s.text()
		assert.Contains(t, sent, "missing", "what is left is told: %s", at)
		for _, secret := range append(append([]string{"Zoraida"}, secrets...), typed...) {
			assert.NotContains(t, sent, secret, at)
		}
	}
}
