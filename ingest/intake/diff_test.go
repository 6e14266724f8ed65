package intake

import (
	"fmt"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// sheetOf makes a sheet of lines with cells parted by blanks; "." is an empty cell.
func sheetOf(lines ...string) *record.Ledger {
	l := &record.Ledger{File: "a.csv"}
	for _, line := range lines {
		row := strings.Fields(line)
		for i, c := range row {
			row[i] = strings.Trim(c, ".")
		}
		l.Texts = append(l.Texts, row)
	}
	return l
}

// told is a difference in short.
func told(d SheetDiff) string {
	var b strings.Builder
	for _, c := range d.Cells {
		fmt.Fprintf(&b, "%s<%s %s>%s; ", c.At.Cell(), c.Was.Cell(), c.Old, c.New)
	}
	for _, part := range []struct {
		sign  string
		lines []Line
	}{{"-", d.Gone}, {"+", d.NewRows}, {"-col ", d.GoneCol}, {"+col ", d.NewCols}} {
		for _, l := range part.lines {
			fmt.Fprintf(&b, "%s%d %s; ", part.sign, l.N, strings.Join(l.Texts, " "))
		}
	}
	return strings.TrimSuffix(b.String(), "; ")
}

func TestDifferencesAreOfContentNotOfPlace(t *testing.T) {
	long := []string{"ring date g", "R1 1/3 612", "R2 1/3 700", "R1 8/3 640", "R2 8/3 710"}
	wide := []string{"bird breed 1/3 8/3", "Bess Sussex 612 640", "Clary Sussex 700 710", "Dot Sussex 655 660"}
	for _, c := range []struct {
		name     string
		old, now []string
		want     string
	}{
		{"nothing", long, long, ""},
		{"sorted anew", long, []string{"ring date g", "R2 8/3 710", "R2 1/3 700", "R1 8/3 640", "R1 1/3 612"}, ""},
		{"one cell", long, []string{"ring date g", "R1 1/3 621", "R2 1/3 700", "R1 8/3 640", "R2 8/3 710"}, "C2<C2 612>621"},
		{"one cell in a row that moved", long, []string{"ring date g", "R3 1/2 500", "R1 1/3 621", "R2 1/3 700", "R1 8/3 640", "R2 8/3 710"}, "C3<C2 612>621; +2 R3 1/2 500"},
		{"a row gone and one new", long, []string{"ring date g", "R1 1/3 612", "R1 8/3 640", "R2 8/3 710", "R7 15/3 580"}, "-3 R2 1/3 700; +5 R7 15/3 580"},
		{"a row gone, another of its day new elsewhere", append(long, "R1 15/3 655", "R2 15/3 698", "R1 22/3 660"), append(long, "R1 15/3 655", "R1 22/3 660", "R11 15/3 698"), "-7 R2 15/3 698; +8 R11 15/3 698"},
		{"a row gone from the middle", append(long, "R1 15/3 655"), []string{"ring date g", "R1 1/3 612", "R1 8/3 640", "R2 8/3 710", "R1 15/3 655"}, "-3 R2 1/3 700"},
		{"sorted anew and one cell", append(long, "R1 15/3 655"), []string{"ring date g", "R1 1/3 612", "R1 8/3 640", "R1 15/3 665", "R2 1/3 700", "R2 8/3 710"}, "C4<C6 655>665"},
		{"emptied", long, []string{"ring date g", "R1 1/3 .", "R2 1/3 700", "R1 8/3 640", "R2 8/3 710"}, "C2<C2 612>"},
		{"a title above", long, append([]string{"Weights."}, long...), "+1 Weights"},
		{"a date added", wide, []string{"bird breed 1/3 8/3 15/3", "Bess Sussex 612 640 650", "Clary Sussex 700 710 .", "Dot Sussex 655 660 670"}, "+col 5 15/3 650 670"},
		{"a column put in, and a cell", wide, []string{"bird sex breed 1/3 8/3", "Bess F Sussex 612 640", "Clary F Sussex 700 711", "Dot M Sussex 655 660"}, "E3<D3 710>711; +col 2 sex F F M"},
		{"a column taken out", wide, []string{"bird 1/3 8/3", "Bess 612 640", "Clary 700 710", "Dot 655 660"}, "-col 2 breed Sussex Sussex Sussex"},
		{"a heading respelt", wide, []string{"bird race 1/3 8/3", "Bess Sussex 612 640", "Clary Sussex 700 710", "Dot Sussex 655 660"}, "B1<B1 breed>race"},
		{"all of a column corrected", long, []string{"ring date g", "R1 1/3 613", "R2 1/3 701", "R1 8/3 641", "R2 8/3 711"}, "C2<C2 612>613; C3<C3 700>701; C4<C4 640>641; C5<C5 710>711"},
		{"emptied as a whole", long, nil, "-1 ring date g; -2 R1 1/3 612; -3 R2 1/3 700; -4 R1 8/3 640; -5 R2 8/3 710"},
	} {
		got := told(compare(sheetOf(c.old...), sheetOf(c.now...)))
		if c.name == "emptied as a whole" {
			got, _, _ = strings.Cut(got, "; -col")
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestSheetsArePairedByName(t *testing.T) {
	flock := func(ls ...*record.Ledger) []*record.Dataset {
		d := &record.Dataset{}
		for _, l := range ls {
			d.Ledgers = append(d.Ledgers, *l)
		}
		return []*record.Dataset{d}
	}
	named := func(name, line string) *record.Ledger {
		l := sheetOf(line)
		l.Sheet = name
		return l
	}
	got := diffFile("a.csv", flock(named("one", "a b"), named("two", "c d")), flock(named("two", "c e"), named("three", "x y")))
	if len(got) != 3 || got[0].Sheet != "two" || told(got[0]) == "" || got[1].State != Add || got[1].Sheet != "three" || got[2].State != Skip || got[2].Sheet != "one" {
		t.Errorf("%+v", got)
	}
	if got := diffFile("a.csv", flock(named("one", "a b c")), flock(named("renamed", "a b c"))); len(got) != 0 {
		t.Errorf("a renamed sheet: %+v", got)
	}
}

func BenchmarkCompareOfALongSheet(b *testing.B) {
	var old, now []string
	for i := range 10_000 {
		old = append(old, fmt.Sprintf("R%d %d/3 %d note%d", i%60, i/60, 600+i%90, i))
		now = append(now, fmt.Sprintf("R%d %d/3 %d note%d", i%60, i/60, 600+(i+i/5000)%90, i))
	}
	o, n := sheetOf(old...), sheetOf(now...)
	for b.Loop() {
		compare(o, n)
	}
}
