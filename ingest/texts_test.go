package ingest

import (
	"context"
	"path/filepath"
	"testing"

	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

func TestTextsAreKeptAsTheyAreShown(t *testing.T) {
	path := filepath.Join("testdata", "keepers", "s02_wide_title_totals.xlsx")
	for _, keep := range []bool{false, true} {
		sets, err := Load(context.Background(), []string{path}, Options{Today: today(), KeepTexts: keep})
		if err != nil {
			t.Fatal(err)
		}
		l := sets[0].Ledgers[0]
		if !keep {
			if l.Texts != nil {
				t.Error("texts are kept that nobody asked for")
			}
			continue
		}
		if got := l.Texts[3][4]; got != "2024-05-18" {
			t.Errorf("a date is shown as %q", got)
		}
		for r, row := range l.Texts {
			for c, text := range row {
				if (text == "") != (l.At(int32(r+1), int32(c+1)) == record.Blank) {
					t.Errorf("row %d, column %d: %q has the fate %s", r+1, c+1, text, l.At(int32(r+1), int32(c+1)))
				}
			}
		}
	}
}

func TestShown(t *testing.T) {
	for _, c := range []struct {
		cell sheet.Cell
		want string
	}{
		{sheet.Cell{Kind: sheet.Text, Raw: " <b> "}, " <b> "},
		{sheet.Cell{Kind: sheet.Number, Raw: "612.5"}, "612.5"},
		{sheet.Cell{Kind: sheet.Percent, Raw: "4.3"}, "430 %"},
		{sheet.Cell{Kind: sheet.Bool, Raw: "0"}, "FALSE"},
		{sheet.Cell{Kind: sheet.Date, Raw: "45292"}, "2024-01-01"},
		{sheet.Cell{Kind: sheet.Date, Raw: "45292.5"}, "2024-01-01 12:00"},
		{sheet.Cell{Kind: sheet.Date, Raw: "2024-01-01T00:00:00"}, "2024-01-01"},
		{sheet.Cell{Kind: sheet.Blank, Formula: true}, "(formula)"},
	} {
		if got := shown(&c.cell, false); got != c.want {
			t.Errorf("%+v is shown as %q, want %q", c.cell, got, c.want)
		}
	}
}
