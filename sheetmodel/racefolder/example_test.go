package racefolder_test

import (
	"fmt"

	"gatefold/sheetmodel/racefolder"
)

func ExampleOpen() {
	folder, err := racefolder.Open("../../testdata/demo-race")
	if err != nil {
		fmt.Println(err)
		return
	}
	race := folder.Race()
	fmt.Println(race.Name)
	for _, p := range race.Run(1).Course("Blue").Places[:2] {
		fmt.Println("card", p.Card, "gates", racefolder.SpellGates(p.Gates, race.Run(1).Course("Blue").Gates))
	}
	// Output:
	// Quibble Valley Children's Giant Slalom
	// card 1 gates 1-6
	// card 2 gates 6-12
}
