//go:build cgo && linux

package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/resident"
	"gatefold/review/store"
)

var loadStack = flag.Int("stack", 0, "send a desk a stack of so many photos from phones; 0: don't")

// Source of both: our own logic, the same as for the load and for a stack that is collected.
const (
	stackPeakMB = 500
	stackP99    = loadP99
)

// Phones send a desk a whole stack as fast as it takes them. Every photo that is answered with yes is kept and read, the
// page answers meanwhile, and the desk with its helpers holds no more memory than a collecting.
//
//	go test ./cmd/gatefold -run TestLoad_StackFromPhones -stack 500 -v -timeout 1h
func TestLoad_StackFromPhones_NeitherBlocksThePageNorSwaps(t *testing.T) {
	if *loadStack == 0 {
		t.Skip("takes minutes and a machine of its own; run with -stack 500")
	}
	race := raceCopy(t)
	photos, err := filepath.Glob(filepath.Join(demoStackDir, "photos", "*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, photos)
	d := &openDesk{t: t, race: race}
	c := exec.Command("gatefold", "desk", race, "--open-none", "--network=127.0.0.1:0")
	c.Stdout, c.Stderr = &d.out, &d.errs
	require.NoError(t, c.Start())
	defer func() {
		require.NoError(t, c.Process.Signal(os.Interrupt))
		_ = c.Wait() // it says that it was interrupted
	}()
	require.Eventually(t, func() bool { return cameIn.MatchString(d.out.String()) }, 30*time.Second, 20*time.Millisecond)
	at := cameIn.FindStringSubmatch(d.out.String())
	d.phones, d.here = at[1], at[2]

	stop := make(chan struct{})
	peak := resident.Peak(c.Process.Pid, stop)

	const phones = 4 // as many as the desk takes at once
	start := time.Now()
	var mu sync.Mutex
	var ids []string
	turnedAway := 0
	var sending sync.WaitGroup
	for n := range phones {
		phone := d.pair(fmt.Sprintf("Phone %c", 'A'+n), "photos")
		sending.Go(func() {
			for i := n; i < *loadStack; i += phones {
				data := append(fileOf(t, photos[i%len(photos)]), fmt.Sprintf("again %d", i)...)
				for {
					status, body := phone.do(http.MethodPost, "/photos", "application/octet-stream", strings.NewReader(string(data)), "Gatefold-Name", "again.jpg")
					var got toldOf
					mu.Lock()
					if status == http.StatusOK && assert.NoError(t, json.Unmarshal([]byte(body), &got), body) {
						ids = append(ids, got.ID)
						mu.Unlock()
						break
					}
					turnedAway++
					mu.Unlock()
					time.Sleep(100 * time.Millisecond)
				}
			}
		})
	}
	// A person looks at a page, and 100 ms after it has come at the next.
	lou := newCaller(t, d.here)
	lou.form("/who", url.Values{"name": {"Lou"}, "to": {"/"}})
	done := make(chan struct{})
	var took []time.Duration
	looked := make(chan struct{})
	go func() {
		defer close(looked)
		paths := []string{"/", "/next", "/draft", "/questions"}
		for k := 0; ; k++ {
			select {
			case <-done:
				return
			case <-time.After(100 * time.Millisecond):
			}
			asked := time.Now()
			status, body := lou.do(http.MethodGet, paths[k%len(paths)], "", nil)
			assert.Equal(t, http.StatusOK, status, body)
			took = append(took, time.Since(asked))
		}
	}()
	sending.Wait()
	sent := time.Since(start)
	require.Len(t, ids, *loadStack)

	// By the store: asking the desk itself would be load of its own.
	s, err := store.Open(t.Context(), race, store.Options{Now: time.Now})
	require.NoError(t, err)
	var reached []string
	step := max(1, *loadStack/5)
	for left := *loadStack; left > 0; time.Sleep(500 * time.Millisecond) {
		kept, err := s.Photos(t.Context())
		require.NoError(t, err)
		left = *loadStack
		for _, p := range kept {
			if p.Fate != store.FateUnread {
				left--
			}
		}
		for len(reached) < (*loadStack-left)/step {
			reached = append(reached, fmt.Sprintf("%d after %s", (len(reached)+1)*step, time.Since(start).Round(time.Second)))
		}
	}
	close(done)
	<-looked
	close(stop)
	kept, err := s.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.Close())
	in := map[string]bool{}
	for _, p := range kept {
		in[p.ID] = true
	}
	for _, id := range ids {
		assert.True(t, in[id], "photo %s was acknowledged and is lost", id)
	}
	slices.Sort(took)
	p := func(share float64) time.Duration {
		return took[int(share*float64(len(took)-1))].Round(time.Millisecond)
	}
	mb := <-peak
	t.Logf("%d photos sent in %s, %d times turned away for the moment; read: %s; %d pages asked for: p50 %s, p95 %s, p99 %s, longest %s; peak %.0f MB",
		len(ids), sent.Round(time.Second), turnedAway, strings.Join(reached, ", "), len(took), p(0.5), p(0.95), p(0.99), took[len(took)-1].Round(time.Millisecond), mb)
	assert.LessOrEqual(t, mb, float64(stackPeakMB))
	assert.LessOrEqual(t, p(0.99), stackP99)
}
