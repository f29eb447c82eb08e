package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDesk_SecondOnOneRace_IsToldWhereTheFirstIs(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	var out, errs said
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	first := &app{out: &out, errs: &errs, now: time.Now}
	code := make(chan int, 1)
	go func() { code <- first.run(ctx, []string{"desk", race, "--open-none"}) }()
	require.Eventually(t, func() bool { return deskAddress.MatchString(out.String()) }, 20*time.Second, 20*time.Millisecond, errs.String())

	var out2, errs2 said
	second := &app{out: &out2, errs: &errs2, now: time.Now}
	assert.Equal(t, int(exitFailed), second.run(t.Context(), []string{"desk", race, "--open-none"}))
	assert.Contains(t, errs2.String(), "another desk is open at "+deskAddress.FindString(out.String()))
	assert.Regexp(t, `\(process \d+ on \S+, since \d\d:\d\d\); use that page, or close that desk with Ctrl-C`, errs2.String())
	assert.Empty(t, out2.String())

	// Closed with Ctrl-C, it leaves nothing behind.
	cancel()
	require.Equal(t, int(exitDone), <-code, errs.String())
	assert.NoFileExists(t, filepath.Join(race, deskLeaseName))
}

// A file that a crash left behind names a desk that is gone; its process number may be another's now.
func TestDeskLease_LeftBehindByACrash_BlocksNobody(t *testing.T) {
	race := t.TempDir()
	for _, left := range []string{`{"process":1,"address":"http://127.0.0.1:1/","since":"2027-01-23T12:00:00Z"}`, "", "no json", `{"process":`} {
		require.NoError(t, os.WriteFile(filepath.Join(race, deskLeaseName), []byte(left), 0o600))
		l, err := takeDeskLease(race, time.Now())
		require.NoError(t, err, left)
		_, err = takeDeskLease(race, time.Now())
		var taken *deskTakenError
		require.ErrorAs(t, err, &taken, left)
		assert.Contains(t, err.Error(), "just being opened")
		require.NoError(t, l.say("http://127.0.0.1:4711/", time.Date(2027, 1, 23, 9, 5, 0, 0, time.UTC)))
		_, err = takeDeskLease(race, time.Now())
		require.ErrorAs(t, err, &taken)
		assert.Equal(t, os.Getpid(), taken.Holder.Process)
		assert.Contains(t, err.Error(), "open at http://127.0.0.1:4711/")
		assert.Contains(t, err.Error(), "since 09:05")
		require.NoError(t, l.Close())
	}
}

func TestDeskLease_FolderGone_SaysSo(t *testing.T) {
	_, err := takeDeskLease(filepath.Join(t.TempDir(), "none"), time.Now())
	require.ErrorContains(t, err, "check that the folder may be written")
}
