package workbook_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// oddNames are names that a spreadsheet program would run, or that a reader may take for something else than a bird. All
// are invented.
func oddNames() []string {
	return []string{"@SUM(1+1)", "=cmd", "=cmd|' /C calc'!A1", "+44 Speckle", "-Dot-", "total", "Average", "Mean", "Sum", "1/2", "May", "12E3", "'Quote", "Žofie",
		"Legend", "Note", "hen", "TRUE", "Max", "Min", "Count", "Gain", "Lice", "x", "Red"}
}

// oddFlock is a register of odd names, each weighed once under its ring, else under its name.
func oddFlock(t *testing.T, ringed bool) season {
	s := season{name: "odd", flock: ""}
	for i, name := range append([]string{"Bess"}, oddNames()...) {
		b, by := record.Bird{ID: name, Name: name, Sex: record.Female}, name
		if ringed {
			by = fmt.Sprintf("R%d", i+1)
			b.ID, b.Ring = by, by
		}
		s.birds = append(s.birds, b)
		s.lines = append(s.lines, line("Weights", "Date", on(t, "2026-03-04")+record.Day(i), "Ring", by, "Weight (g)", 1100+7*i%60))
	}
	return s
}

func TestOddlyNamedBirdsReadBackWithoutAQuestion(t *testing.T) {
	for _, ringed := range []bool{true, false} {
		s := oddFlock(t, ringed)
		path := filepath.Join(t.TempDir(), "odd.xlsx")
		if err := os.WriteFile(path, s.fill(t), 0o600); err != nil {
			t.Fatal(err)
		}
		d := s.load(t, path)
		for _, q := range d.Questions {
			t.Errorf("ringed %v: question %s: %s", ringed, q.Class, q.Message)
		}
		for _, r := range d.Rejects {
			t.Errorf("ringed %v: refused: %s", ringed, r.Message)
		}
		for _, b := range s.birds {
			i := slices.IndexFunc(d.Birds, func(o record.Bird) bool {
				return o.Name == b.Name && o.Ring == b.Ring || b.Ring == "" && o.ID == b.Name
			})
			if i < 0 {
				t.Errorf("%q (ringed %v) does not read back", b.Name, ringed)
			} else if n := len(d.Of(d.Birds[i].ID, record.Weight)); n != 1 {
				t.Errorf("%q (ringed %v) has %d weights", b.Name, ringed, n)
			}
		}
		if len(d.Birds) != len(s.birds) {
			t.Errorf("ringed %v: %d birds, want %d", ringed, len(d.Birds), len(s.birds))
		}
	}
}

// Names stand as text that stays text when somebody edits the cell, never as formulas.
func TestOddNamesNeverRun(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(oddFlock(t, false).fill(t)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for i, name := range append([]string{"Bess"}, oddNames()...) {
		at := fmt.Sprintf("A%d", i+2)
		kind, err := f.GetCellType("Birds", at)
		formula, _ := f.GetCellFormula("Birds", at)
		value, _ := f.GetCellValue("Birds", at)
		if err != nil || kind != excelize.CellTypeSharedString && kind != excelize.CellTypeInlineString || formula != "" || value != name {
			t.Errorf("%q is stored as %v %q, formula %q (%v)", name, kind, value, formula, err)
		}
	}
}
