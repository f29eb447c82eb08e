package byprint_test

import (
	"os"
	"testing"

	"gatefold/scan/scantest/mats"
)

func TestMain(m *testing.M) { os.Exit(mats.Run(m)) }
