package main

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// said is output that one goroutine writes and another reads.
type said struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

var deskAddress = regexp.MustCompile(`http://127\.0\.0\.1:[0-9]+/`)

func TestDesk_OpensServesAndCloses(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	var out, errs said
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	a := &app{out: &out, errs: &errs, now: time.Now}
	code := make(chan int, 1)
	go func() { code <- a.run(ctx, []string{"desk", race, "--open-none"}) }()
	require.Eventually(t, func() bool { return deskAddress.MatchString(out.String()) }, 20*time.Second, 20*time.Millisecond, errs.String())
	address := deskAddress.FindString(out.String())

	body := fetch(t, address)
	assert.Contains(t, body, "Who sits here?")
	assert.Contains(t, body, "Quibble Valley")

	// A judge is placed while the desk is open: the race file is read again.
	file := filepath.Join(race, "race.yaml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, bytes.Replace(text, []byte("Quibble Valley"), []byte("Quibbledale"), 1), 0o600))
	assert.Contains(t, fetch(t, address), "Quibbledale")

	cancel()
	assert.Equal(t, int(exitDone), <-code, errs.String())
	assert.Contains(t, out.String(), "everything settled is kept")
}

func TestDesk_AddressTaken_SaysWhatToDo(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	var out, errs said
	a := &app{out: &out, errs: &errs, now: time.Now}
	assert.Equal(t, int(exitFailed), a.run(t.Context(), []string{"desk", race, "--open-none", "--listen", "127.0.0.1:99999"}))
	assert.Contains(t, errs.String(), "choose another with --listen")
}

// Others in the network come in with a code or not at all.
func TestDesk_ListenOnTheNetwork_IsRefused(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	var out, errs said
	a := &app{out: &out, errs: &errs, now: time.Now}
	for _, address := range []string{"0.0.0.0:0", "[::]:0", ":0"} {
		assert.Equal(t, int(exitUsage), a.run(t.Context(), []string{"desk", race, "--open-none", "--listen", address}), address)
		assert.Contains(t, errs.String(), "let phones in with --network instead")
	}
	assert.NotContains(t, out.String(), "the desk is open")
}

func TestDesk_Network_LetsPhonesInByCode(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	var out, errs said
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	a := &app{out: &out, errs: &errs, now: time.Now}
	code := make(chan int, 1)
	go func() { code <- a.run(ctx, []string{"desk", race, "--open-none", "--network=127.0.0.1:0"}) }()
	come := regexp.MustCompile(`phones come in at (http://127\.0\.0\.1:[0-9]+), with a code from the page (http://127\.0\.0\.1:[0-9]+/)phones`)
	require.Eventually(t, func() bool { return come.MatchString(out.String()) }, 20*time.Second, 20*time.Millisecond, errs.String())
	at := come.FindStringSubmatch(out.String())
	assert.NotEqual(t, at[1]+"/", at[2])
	page := fetch(t, at[1])
	assert.Contains(t, page, "Pair this phone")
	assert.NotContains(t, page, "Quibble Valley")
	assert.Contains(t, fetch(t, at[2]), "Who sits here?")
	cancel()
	assert.Equal(t, int(exitDone), <-code, errs.String())
}

// Source: the address blocks of RFC 1918, RFC 4193 and RFC 5737.
func TestAddressesOf_LikeliestFirst(t *testing.T) {
	ips := func(texts ...string) (all []net.IP) {
		for _, text := range texts {
			all = append(all, net.ParseIP(text))
		}
		return all
	}
	own := ips("127.0.0.1", "::1", "fe80::1", "fd00::5", "203.0.113.5", "192.168.7.1", "169.254.9.9", "10.0.0.4")
	assert.Equal(t, []string{"http://192.168.7.1:8470", "http://10.0.0.4:8470", "http://203.0.113.5:8470", "http://[fd00::5]:8470"},
		addressesOf(&net.TCPAddr{IP: net.IPv6unspecified, Port: 8470}, own))
	assert.Equal(t, []string{"http://192.168.7.1:99"}, addressesOf(&net.TCPAddr{IP: net.ParseIP("192.168.7.1"), Port: 99}, own))
	assert.Empty(t, addressesOf(&net.TCPAddr{IP: net.IPv4zero, Port: 8470}, ips("127.0.0.1")))
}

func fetch(t *testing.T, address string) string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	require.NoError(t, err)
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	return string(body)
}
