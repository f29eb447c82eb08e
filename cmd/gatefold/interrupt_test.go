package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestInterrupt_SaysThatFinishedWorkIsKept(t *testing.T) {
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	ctx, interrupt := context.WithCancel(t.Context())
	interrupt()
	var out, errs bytes.Buffer
	a := &app{in: strings.NewReader(""), out: &out, errs: &errs, now: time.Now}
	assert.Equal(t, int(exitInterrupted), a.run(ctx, []string{"status", race}))
	assert.Empty(t, out.String())
	assert.Equal(t, "gatefold: interrupted; finished work is kept\n", errs.String())
}
