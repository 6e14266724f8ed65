package evidence

import (
	"strings"
	"testing"

	"keelmark/ingest/ask"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

func weigh(set record.Settings, sheets map[string]string, order ...string) *File {
	b := &sheet.Book{File: "a.xlsx"}
	for _, name := range order {
		g := sheet.Grid{File: "a.xlsx", Sheet: name}
		for i, text := range strings.Split(sheets[name], "\n") {
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
		b.Grids = append(b.Grids, g)
	}
	return Weigh(b, set, ask.NewReplies(nil), 0)
}

func TestOrderOfDates(t *testing.T) {
	uk, us, open := "Date|Ring|Wt g\n13/4/2025|R1|850\n1/5/2025|R1|860", "Date|Ring|Wt g\n4/13/2025|R1|850\n5/1/2025|R1|860", "Date|Ring|Wt g\n3/4/2025|R1|850\n1/5/2025|R2|860"
	for name, c := range map[string]struct {
		sheets []string
		set    string
		want   []parse.Order
	}{
		"proved on one sheet, holds for the file": {[]string{uk, open}, "", []parse.Order{parse.DMY, parse.DMY}},
		"the proof wins over flock.toml":          {[]string{uk}, "mdy", []parse.Order{parse.DMY}},
		"not proved: flock.toml":                  {[]string{open}, "mdy", []parse.Order{parse.MDY}},
		"not proved: open":                        {[]string{open}, "", []parse.Order{""}},
		"one sheet in the other order":            {[]string{uk, us, open}, "", []parse.Order{parse.DMY, parse.MDY, ""}},
	} {
		t.Run(name, func(t *testing.T) {
			sheets, order := map[string]string{}, []string{}
			for i, s := range c.sheets {
				n := string(rune('A' + i))
				sheets[n], order = s, append(order, n)
			}
			f := weigh(record.Settings{Dates: record.DateSettings{Order: c.set}}, sheets, order...)
			for i, p := range f.Pages {
				if got := f.DateIn(p, p.Layout.Tables[0]).Order; got != c.want[i] {
					t.Errorf("sheet %s: %q, want %q", p.Grid.Sheet, got, c.want[i])
				}
			}
		})
	}
}

func TestUnitOfWeights(t *testing.T) {
	for name, c := range map[string]struct{ sheet, set, want string }{
		"heading":                          {"Date|Ring|Wt (kg)\n13/4/2025|R1|1.2", "", "kg"},
		"title":                            {"All weights in ounces\nDate|Ring|Wt\n13/4/2025|R1|30\n20/4/2025|R1|31", "", "oz"},
		"cells":                            {"Date|Ring|Wt\n13/4/2025|R1|850 g\n20/4/2025|R1|870", "", "g"},
		"only one is possible":             {"Date|Ring|Wt" + strings.Repeat("\n13/4/2025|R1|1850\n13/4/2025|R2|1750\n20/4/2025|R1|1870\n20/4/2025|R2|1700", 2), "", "g"},
		"two are possible: open":           {"Date|Ring|Wt\n13/4/2025|R1|42\n20/4/2025|R1|60", "", ""},
		"two are possible: flock.toml":     {"Date|Ring|Wt\n13/4/2025|R1|42\n20/4/2025|R1|60", "g", "g"},
		"the heading wins over flock.toml": {"Date|Ring|Wt (oz)\n13/4/2025|R1|42", "g", "oz"},
		"a wide table that nothing tells of: open": {"Bird|13/4/2025|20/4/2025\nBess|42|60\nClary|40|55", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			f := weigh(record.Settings{Units: record.UnitSettings{Weight: c.set}}, map[string]string{"Log": c.sheet}, "Log")
			pools := f.Pools()
			if len(pools) == 0 {
				t.Fatal("no column of weights found")
			}
			if got := pools[0].Weight.Unit; got != c.want {
				t.Errorf("%q, want %q (%v)", got, c.want, f.Notes)
			}
		})
	}
	f := weigh(record.Settings{}, map[string]string{"Raw oz": "Bird|13/4/2025|20/4/2025\nBess|42|60\nClary|40|55"}, "Raw oz")
	if got := f.Pools()[0].Weight.Unit; got != "oz" {
		t.Errorf("the sheet's name states oz, got %q", got)
	}
}
