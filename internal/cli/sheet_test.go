package cli

import (
	"bytes"
	"encoding/xml"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// sheetCell is one cell as the spreadsheet took it: its type ("float", "date",
// "boolean", "string", "" for an empty one), its value and its formula.
type sheetCell struct{ kind, value, formula string }

// TestSpreadsheetOpensExport opens files of the export command in LibreOffice
// and looks at what became of each cell: the columns stay apart, numbers are
// numbers, days are days, the empty stay empty, and no name is run as a formula.
func TestSpreadsheetOpensExport(t *testing.T) {
	if os.Getenv("FIRSTCUE_SHEET") == "" {
		t.Skip("SKIPPED: not opened in a spreadsheet; make sheet-test does, and needs LibreOffice")
	}
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("soffice is missing (Debian: apt-get install libreoffice-calc)")
	}
	s := demoKennel(t)
	s.must("firstcue dog add '=1+2' --arrived 2026-03-19 --goal sit")
	write(t, filepath.Join(s.dir, "note.txt"), []byte(`dog: =1+2; handler: Ailsa
start: 2026-03-20 07:05; place: paddock; leash: off; distraction: 2
weather: +5 degrees, "wet"; reward: @home
sit +1.6
sit - @leash +
stay 2:00 -45s
heel 3:20 2-
`))
	s.must("firstcue log --new note.txt")
	for _, c := range []struct{ name, flags, filter string }{
		// The fields of the filter: separator, quote, UTF-8, first line, cell
		// formats, language, quoted as text, detect numbers and dates.
		{"plain", "", "44,34,76,1,,1033,false,true"},
		{"excel", "--excel", "59,34,76,1,,1033,false,true"},
		{"comma", "--excel --decimal-comma", "59,34,76,1,,1031,false,true"},
		{"tab", "--separator tab", "9,34,76,1,,1033,false,true"},
	} {
		s.must("firstcue export '=1+2' " + c.flags + " -o " + c.name + ".csv")
		rows := openInSheet(t, soffice, s.dir, c.name+".csv", c.filter)
		header := rows[0]
		if len(rows) != 5 {
			t.Fatalf("%s: %d rows", c.name, len(rows))
		}
		at := func(column string) int {
			i := slices.IndexFunc(header, func(x sheetCell) bool { return x.value == column })
			if i < 0 {
				t.Fatalf("%s: no column %q in %v", c.name, column, header)
			}
			return i
		}
		check := func(row int, column, kind, value string) {
			t.Helper()
			got := sheetCell{}
			if i := at(column); i < len(rows[row]) {
				got = rows[row][i]
			}
			if got.kind != kind || got.value != value || got.formula != "" {
				t.Errorf("%s: %s of row %d is %+v, not %s %q", c.name, column, row, got, kind, value)
			}
		}
		for row := 1; row <= 4; row++ {
			check(row, "dog", "string", "'=1+2")
			check(row, "date", "date", "2026-03-20")
			check(row, "distraction", "float", "2")
			check(row, "trial", "float", strconv.Itoa(row))
			check(row, "device", "", "")
			if c.name == "comma" { // read as German, which has another word for it
				check(row, "baseline", "string", "false")
			} else {
				check(row, "baseline", "boolean", "false")
			}
		}
		check(1, "weather", "string", `'+5 degrees, "wet"`)
		check(1, "reward", "string", "'@home")
		check(1, "latencySeconds", "float", "1.6")
		check(2, "latencySeconds", "", "")
		check(2, "asks", "float", "2")
		check(3, "heldSeconds", "float", "45")
		check(3, "outcome", "string", "broke")
		check(4, "walkedSeconds", "float", "200")
		check(4, "breaks", "float", "2")
		if header[0].value != "session" {
			t.Errorf("%s: the first header is %q: a byte order mark?", c.name, header[0].value)
		}
	}
	s.must("firstcue export Tarn --summary -o summary.csv")
	rows := openInSheet(t, soffice, s.dir, "summary.csv", "44,34,76,1,,1033,false,true")
	if len(rows) != 5 {
		t.Fatalf("summary: %d rows", len(rows))
	}
	for _, r := range rows[1:] {
		for i, h := range rows[0] {
			if i < len(r) && (h.value == "first_rate" || h.value == "trials" || h.value == "sessions") && r[i].kind != "float" {
				t.Errorf("summary: %s is %+v", h.value, r[i])
			}
			if i < len(r) && r[i].formula != "" {
				t.Errorf("summary: %s is a formula, %s", h.value, r[i].formula)
			}
		}
	}
}

func openInSheet(t *testing.T, soffice, dir, file, filter string) [][]sheetCell {
	t.Helper()
	cmd := exec.Command(soffice, "-env:UserInstallation=file://"+filepath.Join(dir, "office"), "--headless", "--infilter=CSV:"+filter, "--convert-to", "fods", "--outdir", dir, filepath.Join(dir, file))
	cmd.Env = append(os.Environ(), "HOME="+dir)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", file, err, out)
	}
	data, err := os.ReadFile(filepath.Join(dir, strings.TrimSuffix(file, ".csv")+".fods"))
	if err != nil {
		t.Fatal(err)
	}
	return sheetCells(t, data)
}

// sheetCells reads the first table of a flat OpenDocument file (ISO/IEC 26300).
func sheetCells(t *testing.T, data []byte) [][]sheetCell {
	t.Helper()
	var rows [][]sheetCell
	var cell *sheetCell
	times := 1
	inText := false
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := tok.(type) {
		case xml.StartElement:
			attr := func(name string) string {
				for _, a := range x.Attr {
					if a.Name.Local == name {
						return a.Value
					}
				}
				return ""
			}
			switch x.Name.Local {
			case "table-row":
				if n, _ := strconv.Atoi(attr("number-rows-repeated")); n > 100 {
					return rows // the empty rest of the sheet
				}
				rows = append(rows, nil)
			case "table-cell":
				c := sheetCell{kind: attr("value-type"), formula: attr("formula")}
				for _, n := range []string{"value", "date-value", "boolean-value"} {
					for _, a := range x.Attr {
						if a.Name.Local == n && strings.HasSuffix(a.Name.Space, "office:1.0") {
							c.value = a.Value
						}
					}
				}
				times, _ = strconv.Atoi(attr("number-columns-repeated"))
				cell = &c
			case "p":
				inText = cell != nil && cell.kind == "string"
			}
		case xml.CharData:
			if inText {
				cell.value += string(x)
			}
		case xml.EndElement:
			switch x.Name.Local {
			case "p":
				inText = false
			case "table-cell":
				for range max(1, min(times, 500)) {
					rows[len(rows)-1] = append(rows[len(rows)-1], *cell)
				}
				cell = nil
			case "table":
				return rows
			}
		}
	}
}
