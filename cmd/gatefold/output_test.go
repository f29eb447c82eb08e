package main

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A card's file system may hold names that a terminal would obey.
func TestComplain_NameThatClearsTheScreen_IsOnlyShown(t *testing.T) {
	var errs bytes.Buffer
	(&app{errs: &errs}).complain("photo \x1b[2Jé\r.jpg: no card found")
	assert.Equal(t, "gatefold: photo \ufffd[2Jé\ufffd.jpg: no card found\n", errs.String())
}
