package sheet

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// The workbooks of testdata/keeper are invented, each after one keeper's habit, with an answer key beside it.

type keyed struct {
	Sheet, Cell string
	Raw         any
}

type answerKey struct {
	Files           []string
	Expect          string
	FileReason      string `json:"file_reason"`
	Records, Issues []keyed
}

func keys(t *testing.T) map[string]answerKey {
	t.Helper()
	paths, err := filepath.Glob("testdata/keeper/*.key.json")
	if err != nil || len(paths) < 20 {
		t.Fatalf("%d keys, %v", len(paths), err)
	}
	out := make(map[string]answerKey)
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var k answerKey
		if err := json.Unmarshal(text, &k); err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		for _, f := range k.Files {
			out[f] = k
		}
	}
	return out
}

func keeper(t testing.TB, name string) (*Book, error) {
	t.Helper()
	return OpenFile(context.Background(), filepath.Join("testdata/keeper", name), Limits{})
}

// Every cell that an answer key names must be there with the text that the key gives, and every file that the
// key refuses must be refused for the same reason.
func TestKeepersFiles(t *testing.T) {
	for name, key := range keys(t) {
		t.Run(name, func(t *testing.T) {
			book, err := keeper(t, name)
			if strings.HasSuffix(name, ".xls") {
				key.Expect, key.FileReason = "refuse", string(LegacyXLS)
			}
			switch key.Expect {
			case "refuse":
				r, ok := err.(*Refusal)
				if !ok || string(r.Reason) != key.FileReason {
					t.Errorf("got %v, want a refusal for %s", err, key.FileReason)
				}
				return
			case "refuse_or_import", "nothing_to_import":
				if r, ok := err.(*Refusal); ok {
					if key.FileReason != "" && string(r.Reason) != key.FileReason {
						t.Errorf("refused for %s, want %s", r.Reason, key.FileReason)
					}
					return
				}
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, k := range append(key.Records, key.Issues...) {
				if k.Cell != "" && k.Sheet != "*" {
					checkKeyed(t, book, k)
				}
			}
		})
	}
}

func checkKeyed(t *testing.T, book *Book, k keyed) {
	t.Helper()
	for _, g := range book.Grids {
		if g.Sheet != k.Sheet {
			continue
		}
		c := cell(t, g, k.Cell)
		if c.Kind == Blank && !c.Formula && k.Raw != nil {
			t.Errorf("%s!%s is blank; the key has %v", k.Sheet, k.Cell, k.Raw)
			return
		}
		switch raw := k.Raw.(type) {
		case string:
			if !c.Formula && c.Kind == Text && strings.TrimSpace(c.Raw) != strings.TrimSpace(raw) {
				t.Errorf("%s!%s is %q; the key has %q", k.Sheet, k.Cell, c.Raw, raw)
			}
		case float64:
			if f, err := strconv.ParseFloat(c.Raw, 64); err == nil && f != raw {
				t.Errorf("%s!%s is %v; the key has %v", k.Sheet, k.Cell, f, raw)
			}
		}
		return
	}
	t.Errorf("there is no sheet %q", k.Sheet)
}

// Excelize's own reader is the outside witness for the text of every cell of every sound workbook.
func TestAgreesWithExcelize(t *testing.T) {
	checked := 0
	for name := range keys(t) {
		if filepath.Ext(name) != ".xlsx" {
			continue
		}
		book, err := keeper(t, name)
		if err != nil || book.Grids[0].Sheet == "" {
			continue
		}
		f, err := excelize.OpenFile(filepath.Join("testdata/keeper", name), excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		defer f.Close()
		for _, g := range book.Grids {
			rows, err := f.GetRows(g.Sheet)
			if err != nil {
				t.Fatal(err)
			}
			for i, row := range rows {
				for j, want := range row {
					at, _ := excelize.CoordinatesToCellName(j+1, i+1)
					if c := cell(t, g, at); c.Raw != want && !(c.Kind == Bool && (want == "TRUE" || want == "FALSE")) {
						t.Errorf("%s, %s!%s: %q, excelize %q", name, g.Sheet, at, c.Raw, want)
					}
					checked++
				}
			}
		}
	}
	if checked < 1000 {
		t.Errorf("only %d cells were compared", checked)
	}
}

// One set of sheets saved as xlsx and as ods must read alike.
func TestOdsAgreesWithXlsx(t *testing.T) {
	x, err := keeper(t, "s04_bird_sheets.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	o, err := keeper(t, "s04_bird_sheets.ods")
	if err != nil {
		t.Fatal(err)
	}
	if len(x.Grids) != 5 || len(o.Grids) != len(x.Grids) {
		t.Fatalf("%d sheets in the xlsx, %d in the ods", len(x.Grids), len(o.Grids))
	}
	for i, g := range x.Grids {
		if o.Grids[i].Sheet != g.Sheet || len(o.Grids[i].Rows) != len(g.Rows) {
			t.Fatalf("sheet %d: %q with %d rows, %q with %d", i, g.Sheet, len(g.Rows), o.Grids[i].Sheet, len(o.Grids[i].Rows))
		}
		for j, row := range g.Rows {
			other := o.Grids[i].Rows[j]
			if fmt.Sprint(row.N, len(row.Cells)) != fmt.Sprint(other.N, len(other.Cells)) {
				t.Fatalf("%s row %d: %d cells; row %d: %d cells", g.Sheet, row.N, len(row.Cells), other.N, len(other.Cells))
			}
			for k, c := range row.Cells {
				if c.Kind == Date { // a serial here, an ISO date there
					n, err := strconv.Atoi(c.Raw)
					if err != nil {
						t.Fatal(err)
					}
					c.Raw = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n).Format(time.DateOnly)
				}
				if d := other.Cells[k]; c.Raw != d.Raw || c.Kind != d.Kind {
					t.Errorf("%s row %d column %d: %+v, %+v", g.Sheet, row.N, k+1, c, d)
				}
			}
		}
	}
}

func TestHashAndName(t *testing.T) {
	b, err := keeper(t, "s12_really_csv.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	// sha256sum s12_really_csv.xlsx
	const want = "dc4e2e17234de1a0d1ddbb586856aeca2c2abb9509a86409f8f60d08d5510776"
	if b.Hash != want || b.File != "s12_really_csv.xlsx" || b.Grids[0].File != b.File {
		t.Errorf("%s %s %s", b.File, b.Hash, b.Grids[0].File)
	}
}

// A diary whose lines happen to have the same number of words is no table; the lines are invented.
func TestDiaryIsNotPartedAtItsSpaces(t *testing.T) {
	for _, text := range []string{"4 Oct 2025 Bess 850\n18 Oct 2025 Bess 861\n25 Oct 2025 Clary 910\n", "Sat 4 October Bess 850\nSat 18 October Bess 861\nSat 25 October Clary 910\n"} {
		if s := newSpaced(text); s != nil {
			t.Errorf("%q is parted into %d fields", text, s.width)
		}
	}
	if newSpaced("R1 4/10/25 850\nR2 4/10/25 910\nR3 4/10/25 870\n") == nil {
		t.Error("a table parted by single spaces is not parted")
	}
}
