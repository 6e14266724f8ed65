package reading

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/ask"
	"keelmark/ingest/evidence"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// sheetOf builds a sheet of text cells from lines of fields parted by "|".
func sheetOf(name string, lines ...string) sheet.Grid {
	g := sheet.Grid{File: "a.xlsx", Sheet: name}
	for i, text := range lines {
		row := sheet.Row{N: int32(i + 1)}
		for _, f := range strings.Split(text, "|") {
			c := sheet.Cell{Raw: f, Kind: sheet.Text}
			if f == "" {
				c = sheet.Cell{}
			}
			row.Cells = append(row.Cells, c)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

// read reads sheets and lists what was seen of which sighting, and the classes of the questions.
func read(t *testing.T, grids ...sheet.Grid) (looks, asked []string) {
	t.Helper()
	book := &sheet.Book{File: "a.xlsx", Grids: grids}
	replies := ask.NewReplies(nil)
	c := New(record.Settings{}, replies)
	if err := c.Read(context.Background(), evidence.Weigh(book, record.Settings{}, replies, 0)); err != nil {
		t.Fatal(err)
	}
	f := c.Flock("")
	for i, o := range f.Looks {
		who, flag := "-", ""
		if s := f.Links[i].Who; s != nil {
			who = s.Ring + s.Name
		}
		if o.Flagged {
			flag = " ?"
		}
		if p := o.Detail().Pen; p != "" {
			flag += " in " + p
		}
		looks = append(looks, fmt.Sprintf("%s %s %s %g%s", o.At.Cell(), who, o.On, o.Value, flag))
	}
	for _, q := range f.Ask.Questions() {
		asked = append(asked, q.Class+" "+q.At.Cell())
	}
	return looks, asked
}

// What only a workbook can hold: merged names, comments, struck and hidden cells, birds and pens as sheets.
func TestWorkbookHabits(t *testing.T) {
	plain := []string{"Bird|Date|Weight g|BCS 0-3", "Bess|13/4/2025|850|2", "|20/4/2025|870|2", "Clary|13/4/2025|790|3", "|20/4/2025|800|1"}
	all := []string{"C2 Bess 2025-04-13 850", "D2 Bess 2025-04-13 2", "C3 Bess 2025-04-20 870", "D3 Bess 2025-04-20 2",
		"C4 Clary 2025-04-13 790", "D4 Clary 2025-04-13 3", "C5 Clary 2025-04-20 800", "D5 Clary 2025-04-20 1"}
	merged := func() sheet.Grid {
		g := sheetOf("Sheet1", plain...)
		g.Merged = []sheet.Span{{Row1: 2, Col1: 1, Row2: 3, Col2: 1}, {Row1: 4, Col1: 1, Row2: 5, Col2: 1}}
		return g
	}
	marked := func(want ...int) []string {
		out := slices.Clone(all)
		for _, i := range want {
			out[i] += " ?"
		}
		return out
	}
	comment, struck, row, column, hidden := merged(), merged(), merged(), merged(), merged()
	comment.Rows[3].Cells[2].Comment = "dusted for lice"
	struck.Rows[4].Cells[2].Struck = true
	row.Rows[4].Hidden = true
	column.HiddenCols = []int32{4}
	hidden.Hidden = true
	for name, c := range map[string]struct {
		grids []sheet.Grid
		looks []string
		asked []string
	}{
		"names merged over their rows":      {[]sheet.Grid{merged()}, all, nil},
		"a treatment in a comment":          {[]sheet.Grid{comment}, all, []string{"treatment_in_remarks C4"}},
		"a row struck through":              {[]sheet.Grid{struck}, marked(6, 7), []string{"struck_out C5"}},
		"a hidden row":                      {[]sheet.Grid{row}, marked(6, 7), []string{"hidden_row C5"}},
		"a hidden column":                   {[]sheet.Grid{column}, marked(1, 3, 5, 7), []string{"hidden_column D1"}},
		"a hidden sheet":                    {[]sheet.Grid{hidden}, marked(0, 1, 2, 3, 4, 5, 6, 7), []string{"hidden_sheet C2"}},
		"a sheet a bird":                    {[]sheet.Grid{sheetOf("Bess", "Date|Weight", "13/4/2025|850g")}, []string{"B2 Bess 2025-04-13 850"}, nil},
		"a sheet a pen":                     {[]sheet.Grid{sheetOf("Pen 3", "Date|Ring|Weight", "13/4/2025|R1|850g")}, []string{"C2 R1 2025-04-13 850 in Pen 3"}, nil},
		"the year in the sheet's name":      {[]sheet.Grid{sheetOf("2024", "Date|Ring|Weight", "13/4|R1|850g")}, []string{"C2 R1 2024-04-13 850"}, nil},
		"units differ from sheet to sheet":  {[]sheet.Grid{sheetOf("2023", "Date|Ring|Wt", "13/4|R1|2lb 4oz", "20/4|R1|2-6"), sheetOf("2024", "Date|Ring|Wt", "13/4|R1|1020g", "20/4|R1|1050")}, []string{"C2 R1 2023-04-13 1020.5828325", "C3 R1 2023-04-20 1077.28187875", "C2 R1 2024-04-13 1020", "C3 R1 2024-04-20 1050"}, nil},
		"a weight whose unit nothing tells": {[]sheet.Grid{sheetOf("Log", "Date|Ring|Wt", "13/4/2025|R1|42", "20/4/2025|R1|60")}, nil, []string{"unit_unknown C2"}},
	} {
		t.Run(name, func(t *testing.T) {
			looks, asked := read(t, c.grids...)
			if !slices.Equal(looks, c.looks) {
				t.Errorf("looks\n got %s\nwant %s", strings.Join(looks, "\n     "), strings.Join(c.looks, "\n     "))
			}
			if !slices.Equal(asked, c.asked) {
				t.Errorf("asked %v, want %v", asked, c.asked)
			}
		})
	}
}
