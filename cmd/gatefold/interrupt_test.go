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
	var out, errs bytes.Buffer
	a := &app{in: strings.NewReader(""), out: &pressKey{&out, interrupt}, errs: &errs, now: time.Now}
	code := a.run(ctx, []string{"desk", race, "--open-none"})
	assert.Equal(t, int(exitInterrupted), code)
	assert.Contains(t, out.String(), "the desk is open at http://127.0.0.1:")
	assert.Equal(t, "gatefold: interrupted; finished work is kept\n", errs.String())
}

// pressKey interrupts as soon as something is printed.
type pressKey struct {
	to    *bytes.Buffer
	press func()
}

func (p *pressKey) Write(b []byte) (int, error) {
	defer p.press()
	return p.to.Write(b)
}
