// Command makepot writes the template of all texts of the pages, gatefold.pot, into the folder it is run in:
// review/say.
package main

import (
	"log"
	"os"

	"gatefold/review/say"
)

func main() {
	all, err := say.Extract(os.DirFS("../.."))
	if err == nil {
		err = os.WriteFile("gatefold.pot", say.POT(all), 0o644) //nolint:gosec // it is source
	}
	if err != nil {
		log.Fatal(err)
	}
}
