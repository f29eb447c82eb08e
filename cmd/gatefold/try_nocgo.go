//go:build !cgo

package main

import (
	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
)

func tryCommand(*app) *cobra.Command {
	return &cobra.Command{
		Use:   "try LAYOUT.yaml --blank PICTURE",
		Short: "Try how well a card of another make would be read, before you trust it",
		RunE:  func(*cobra.Command, []string) error { return reading.ErrNoImaging },
	}
}
