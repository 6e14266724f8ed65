package layout

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/parse"
	"keelmark/ingest/sheet"
)

// grid builds a sheet of text cells from lines of comma-separated fields; "=" begins a formula's value and "#"
// a stored number.
func grid(lines ...string) *sheet.Grid {
	g := &sheet.Grid{File: "a.xlsx", Sheet: "One"}
	for i, text := range lines {
		row := sheet.Row{N: int32(i + 1)}
		for _, f := range strings.Split(text, ",") {
			c := sheet.Cell{Raw: f, Kind: sheet.Text}
			switch {
			case f == "":
				c = sheet.Cell{}
			case f[0] == '#':
				c = sheet.Cell{Raw: f[1:], Kind: sheet.Number}
			case f[0] == '=':
				c = sheet.Cell{Raw: f[1:], Kind: sheet.Number, Formula: true}
			}
			row.Cells = append(row.Cells, c)
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

// sketch is a table in one line: shape, data lines, columns as field or field@date, fixed facts.
func sketch(t *Table) string {
	var cols []string
	for _, c := range t.Columns {
		s := string(c.Means.Field)
		if c.When != nil {
			s += "@" + c.When.Cell.Text
		}
		if c.Who != nil {
			s += "/" + c.Who.Cell.Text
		}
		if c.Fate == Other {
			s = "-"
		}
		cols = append(cols, s)
	}
	out := fmt.Sprintf("%s %d: %s", t.Shape, len(t.Lines), strings.Join(cols, " "))
	for _, f := range t.Fixed {
		out += fmt.Sprintf(" [%s %s]", f.Means.Field, f.Cell.Text)
	}
	return out
}

func TestRead(t *testing.T) {
	for name, c := range map[string]struct {
		lines  []string
		want   []string
		asides []string
		turned bool
	}{
		"long": {[]string{"Date,Ring,Weight (g),Lice,Notes", "1/4/25,R1,#850,none,", "15/4/25,R1,#870,few,wet"},
			[]string{"long 2: date ring weight parasite note"}, nil, false},
		"wide with title, totals, gain and legend": {[]string{"Weigh book", "", "Bird,1 Apr 25,15 Apr 25,Gain", "Bess,#850,#870,=20", "Clary,#790,#820,=30", ",,,", "Average,=820,=845,", "† = lost   wet = caught in the rain"},
			[]string{"wide 2: bird @1 Apr 25 @15 Apr 25 derived"}, []string{"legend", "title", "total"}, false},
		"totals without a label are told by their numbers": {[]string{"Bird,1 Apr 25,15 Apr 25", "Bess,#850,#870", "Clary,#790,#820", ",#1640,#1690"},
			[]string{"wide 2: bird @1 Apr 25 @15 Apr 25"}, []string{"total"}, false},
		"transposed": {[]string{"Ring,R1,R2,R3", "Breed,Sussex,Sussex,Sussex", "1 Apr 25,#850,#900,#910", "15 Apr 25,#870,#920,#930"},
			[]string{"wide 3: ring breed @1 Apr 25 @15 Apr 25"}, nil, true},
		"card": {[]string{"Name,Bess", "Ring,R12", "Sex,hen", "", "Date,Weight g", "1/4/25,#850", "15/4/25,#870"},
			[]string{"cards 2: date weight [name Bess] [ring R12] [sex hen]"}, nil, false},
		"names over pairs": {[]string{"Date,Bess,,Clary,", ",Wt g,BCS,Wt g,BCS", "1/4/25,#850,#3,#790,#2", "15/4/25,#870,#3,#800,#2"},
			[]string{"long 2: date weight/Bess condition/Bess weight/Clary condition/Clary"}, nil, false},
		"side by side": {[]string{"Date,Ring,Wt g,,Date,Ring,Wt g", "1/4/25,R1,#850,,1/4/25,R2,#900", "15/4/25,R1,#860,,15/4/25,R2,#910"},
			[]string{"long 2: date ring weight", "long 2: date ring weight"}, nil, false},
		"a register beside weights": {[]string{"Ring,Breed,Sex,,Date,Ring,Wt g", "R1,Sussex,F,,1/4/25,R1,#850", "R2,Sussex,M,,1/4/25,R2,#950", ",,,,15/4/25,R1,#870"},
			[]string{"long 2: ring breed sex", "long 3: date ring weight"}, nil, false},
		"weekday or date: the cells decide": {[]string{"Day,Date,Ring,Wt g", "Sat,5/4/25,R1,#850", "Sat,12/4/25,R1,#860"},
			[]string{"long 2: weekday date ring weight"}, nil, false},
		"week as an age": {[]string{"Week,Ring,Wt g", "#1,R1,#50", "#2,R1,#90"},
			[]string{"long 2: age ring weight"}, nil, false},
		"a column that is not understood": {[]string{"Date,Ring,Wt g,Zorp", "1/4/25,R1,#850,a", "15/4/25,R1,#870,b"},
			[]string{"long 2: date ring weight -"}, nil, false},
		"dates inside headings": {[]string{"Ring,Weight 1/4/25,Weight 15/4/25", "R1,#850,#870", "R2,#790,#800"},
			[]string{"wide 2: ring weight@1/4/25 weight@15/4/25"}, nil, false},
		"no table": {[]string{"Shopping", "corn", "grit"}, nil, []string{"words below"}, false},
	} {
		t.Run(name, func(t *testing.T) {
			s := Read(grid(c.lines...), EitherWay)
			var got []string
			for _, table := range s.Tables {
				got = append(got, sketch(table))
				if table.View.Turned() != c.turned {
					t.Errorf("turned %v", table.View.Turned())
				}
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("tables\n got %s\nwant %s", strings.Join(got, "\n     "), strings.Join(c.want, "\n     "))
			}
			var asides []string
			for _, a := range s.Aside {
				asides = append(asides, a.Why)
			}
			slices.Sort(asides)
			if asides = slices.Compact(asides); !slices.Equal(asides, c.asides) {
				t.Errorf("set aside %v, want %v", asides, c.asides)
			}
		})
	}
}

func TestMergedHeadingsCombine(t *testing.T) {
	g := grid("Date,Bird,Lice,,Mites,", ",,Vent,Back,Perch (count),Body", "1/4/25,Bess,+,-,#3,few", "15/4/25,Bess,-,-,#0,none")
	g.Merged = []sheet.Span{{Row1: 1, Col1: 1, Row2: 2, Col2: 1}, {Row1: 1, Col1: 2, Row2: 2, Col2: 2}, {Row1: 1, Col1: 3, Row2: 1, Col2: 4}, {Row1: 1, Col1: 5, Row2: 1, Col2: 6}}
	s := Read(g, EitherWay)
	if len(s.Tables) != 1 || len(s.Tables[0].Columns) != 6 {
		t.Fatalf("%d tables", len(s.Tables))
	}
	var got []string
	for _, c := range s.Tables[0].Columns[2:] {
		got = append(got, c.Means.Parasite+"/"+c.Site)
	}
	// mites on perches are the kind that leaves the bird by day
	if want := []string{"lice/vent", "lice/back", "red mite/perch", "mites/body"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestMergedCellsStandForTheirBlock(t *testing.T) {
	g := grid("Bird,Date,Wt g", "Bess,1/4/25,#850", ",15/4/25,#870", "Clary,1/4/25,#790")
	g.Merged = []sheet.Span{{Row1: 2, Col1: 1, Row2: 3, Col2: 1}}
	v := Of(g)
	if l, f := v.Origin(2, 0); l != 1 || f != 0 {
		t.Errorf("origin of A3 is line %d field %d", l, f)
	}
	if l, f := v.Turn().Origin(0, 2); l != 0 || f != 1 {
		t.Errorf("turned: line %d field %d", l, f)
	}
	g.Merged = []sheet.Span{{Row1: 1, Col1: 1, Row2: 1 << 20, Col2: 1 << 14}}
	if l, f := Of(g).Origin(3, 2); l != 0 && l != 3 || f != 0 && f != 2 {
		t.Errorf("a merge of the whole sheet: line %d field %d", l, f)
	}
}

// FuzzRead looks for sheets that make Read panic, lose a cell's line, or take a line twice.
func FuzzRead(f *testing.F) {
	f.Add("Date,Ring,Weight (g)\n1/4/25,R1,850\n")
	f.Add("Bird,1 Apr 25,15 Apr 25,Gain\nBess,850,870,20\nAverage,850,870,\n")
	f.Add("Name:,Bess\nDate,Wt,Date,Wt\n1/4/25,850g,2/4/25,1kg\n\n,,Jan,Feb\nwk 4,5,6,7\n")
	f.Add("3 May 2025: Bess 850g\n10 May 2025: Bess 870 g\n")
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 2000 {
			return
		}
		g := grid(strings.Split(text, "\n")...)
		g.Merged = []sheet.Span{{Row1: 1, Col1: 1, Row2: 2, Col2: 1}, {Row1: 1, Col1: 2, Row2: 1, Col2: 4}}
		s := Read(g, EitherWay)
		if s.Score < 0 || s.Score > 1 {
			t.Errorf("score %v", s.Score)
		}
		for _, table := range s.Tables {
			for i, l := range table.Lines {
				if i > 0 && l <= table.Lines[i-1] || l < 0 || l >= table.View.Lines() {
					t.Fatalf("lines %v", table.Lines)
				}
			}
			for i, c := range table.Columns {
				if width := table.Fields[1] - table.Fields[0] + 1; i < width && c.Field != table.Fields[0]+i || i >= width && (c.Field >= table.Fields[0] || c.Fate == Value) {
					t.Fatalf("column %d in place %d of %v", c.Field, i, table.Fields)
				}
				if c.Fate == Value && c.Means.Field == parse.FieldTotal {
					t.Fatal("a total read as a value")
				}
			}
		}
	})
}

// What the keeper says of a sheet's direction counts, whatever the scores are.
func TestReadAsTold(t *testing.T) {
	g := grid("Ring,R1,R2", "Sex,F,M", "13/4/2025,850g,900g", "20/4/2025,861g,912g")
	for way, turned := range map[Way]bool{EitherWay: true, ByColumns: true, ByRows: false} {
		s := Read(g, way)
		if len(s.Tables) == 0 && turned || len(s.Tables) > 0 && s.Tables[0].View.Turned() != turned {
			t.Errorf("%q: %d tables, turned %v wanted", way, len(s.Tables), turned)
		}
	}
}
