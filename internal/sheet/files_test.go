package sheet

import (
	"os"
	"testing"
)

func TestFilesAsSpreadsheetsSaveThem(t *testing.T) {
	for _, c := range []struct{ name, want string }{
		{"semicolons.csv", "Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 1: sit +1.8; down -\nTarn 2026-03-15T09:10+01:00 Ailsa paddock off 2: come +2.05\n"},
		{"utf16.csv", "Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 1: sit - +1.6 > said \"no\", then sat\n"},
	} {
		text, err := os.ReadFile("../../testdata/sheets/" + c.name)
		if err != nil {
			t.Fatal(err)
		}
		check(t, read(string(text), Mapping{}, Wishes{}, Options{}), c.want)
	}
}
