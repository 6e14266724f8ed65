package workbook

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

func blank(t *testing.T, s record.Settings, birds ...record.Bird) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Blank(&b, s, birds); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// column finds a column by its heading and returns its letters.
func letters(t *testing.T, f *excelize.File, sheet, heading string) string {
	t.Helper()
	rows, err := f.GetRows(sheet)
	if err != nil || len(rows) == 0 {
		t.Fatalf("sheet %s has no headings: %v", sheet, err)
	}
	i := slices.Index(rows[0], heading)
	if i < 0 {
		t.Fatalf("sheet %s is headed %q; %q is missing", sheet, rows[0], heading)
	}
	return record.ColumnName(i + 1)
}

func TestEveryKindOfRecordHasItsSheet(t *testing.T) {
	f := open(t, blank(t, record.Settings{}))
	want := map[string]string{
		"Birds":            "Ring|Ring colour|Leg|Name|Sex|Breed|Variety|Size|Strain|Hatch date|Pen|Came from",
		"Weights":          "Date|Ring|Weight (g)|Condition (1-5)|Remarks",
		"Checks":           "Date|Ring|Lice|Northern fowl mite|Red mite|Scaly leg|Scorer|Remarks",
		"Treatments":       "Date|Ring|Product|Against|Dose|Withdrawal|Given by|Remarks",
		"Eggs":             "Date|Setting|Male|Hens|Eggs set|Days stored|Clear|Dead early|Dead in shell|Chicks hatched|Remarks",
		"Moves and losses": "Date|Ring|Moved to|Show|Result|Gone|Reason",
	}
	list := f.GetSheetList()
	if got := strings.Join(list, "|"); got != "Guide|Birds|Weights|Checks|Treatments|Eggs|Moves and losses|Scales" {
		t.Errorf("sheets are %s", got)
	}
	for _, name := range list {
		rows, err := f.GetRows(name)
		if err != nil {
			t.Fatal(err)
		}
		if want[name] == "" {
			continue
		}
		if got := strings.Join(rows[0], "|"); got != want[name] {
			t.Errorf("%s is headed %s, want %s", name, got, want[name])
		}
		for _, row := range rows[1:] {
			if text := strings.Join(row, ""); text != "" {
				t.Errorf("%s holds %q, but examples belong in the guide", name, text)
			}
		}
		if p, err := f.GetPanes(name); err != nil || !p.Freeze || p.YSplit != 1 {
			t.Errorf("%s does not keep its headings in view: %+v, %v", name, p, err)
		}
	}
}

func TestUnitsOfTheWeightColumns(t *testing.T) {
	for unit, want := range map[string]string{
		"": "Weight (g)", "g": "Weight (g)", "kg": "Weight (kg)", "oz": "Weight (oz)", "lb": "lb|oz", "lb-oz": "lb|oz",
	} {
		s := record.Settings{Units: record.UnitSettings{Weight: unit}}
		rows, err := open(t, blank(t, s)).GetRows("Weights")
		if err != nil || !strings.HasPrefix(strings.Join(rows[0], "|"), "Date|Ring|"+want+"|Condition") {
			t.Errorf("unit %q: the weights are headed %q, %v", unit, rows[0], err)
		}
	}
	s := record.Settings{Flock: record.FlockSettings{Units: "lb-oz"}}
	letters(t, open(t, blank(t, s)), "Weights", "oz")
	s.Units.Weight = "g" // the unit of what is entered wins over that of what is printed
	letters(t, open(t, blank(t, s)), "Weights", "Weight (g)")
}

func TestDropDownsWarnAndNeverForbid(t *testing.T) {
	f := open(t, blank(t, record.Settings{Scales: map[string]record.Scale{"lice": {Name: "lice", Max: 3, Direction: "high-bad"}}}))
	for _, test := range []struct{ sheet, heading, offers string }{
		{"Birds", "Sex", `"male,female"`},
		{"Birds", "Size", `"large,bantam"`},
		{"Birds", "Leg", `"left,right"`},
		{"Weights", "Ring", "RingList"},
		{"Weights", "Condition (1-5)", `"1,2,3,4,5"`},
		{"Checks", "Ring", "RingList"},
		{"Checks", "lice", `"0,1,2,3"`},
		{"Checks", "Red mite", `"none,light,moderate,heavy"`},
		{"Treatments", "Ring", "RingList"},
		{"Treatments", "Against", `"lice,northern fowl mite,red mite,scaly leg mite,worms"`},
		{"Eggs", "Male", "RingList"},
		{"Moves and losses", "Ring", "RingList"},
		{"Moves and losses", "Gone", `"died,put down,killed by a predator,sold,given away,lent,lost"`},
	} {
		column := letters(t, f, test.sheet, test.heading)
		all, err := f.GetDataValidations(test.sheet)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(all, func(v *excelize.DataValidation) bool { return strings.HasPrefix(v.Sqref, column+"2:") })
		if i < 0 || all[i].Type != "list" || all[i].Formula1 != test.offers {
			t.Errorf("%s, %s: the drop-down is not %s: %+v", test.sheet, test.heading, test.offers, all)
		}
	}
	for _, sheet := range f.GetSheetList() {
		all, err := f.GetDataValidations(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range all {
			if v.ShowErrorMessage && (v.ErrorStyle == nil || *v.ErrorStyle != "warning") {
				t.Errorf("%s, %s forbids; the keeper's own words must go in", sheet, v.Sqref)
			}
		}
	}
	names := map[string]string{}
	for _, n := range f.GetDefinedName() {
		names[n.Name] = n.RefersTo
	}
	if names["Rings"] != "Birds!$A$2:$A$501" || names["HatchDates"] != "Birds!$J$2:$J$501" || !strings.Contains(names["RingList"], "Birds!$A$2") {
		t.Errorf("names in the workbook: %v", names)
	}
}

func TestWhatCannotBeIsMarked(t *testing.T) {
	f := open(t, blank(t, record.Settings{Units: record.UnitSettings{Weight: "kg"}}))
	for _, test := range []struct{ sheet, heading, holds string }{
		{"Weights", "Date", "$A2>TODAY()"},
		{"Weights", "Date", "HatchDates>$A2"},
		{"Weights", "Ring", `Rings&""=$B2&""`},
		{"Weights", "Weight (kg)", "OR($C2<0.015,$C2>8)"}, // 15 g to 8 kg, the limits of the trait table
		{"Weights", "Condition (1-5)", "OR($D2<1,$D2>5)"},
		{"Birds", "Ring", "=$A2&\"\"))>1"},
		{"Checks", "Ring", `LEFT($B2,4)="pen "`},
		{"Treatments", "Withdrawal", `AND($C2<>"",$F2="")`},
		{"Eggs", "Eggs set", "SUM($G2,$H2,$I2,$J2)>$E2"},
		{"Moves and losses", "Result", `AND($D2<>"",$E2="")`},
	} {
		column := letters(t, f, test.sheet, test.heading)
		all, err := f.GetConditionalFormats(test.sheet)
		if err != nil {
			t.Fatal(err)
		}
		got := all[fmt.Sprintf("%s2:%s5000", column, column)]
		if len(got) != 1 || !strings.Contains(got[0].Criteria, test.holds) {
			t.Errorf("%s, %s: no mark holds %s: %+v", test.sheet, test.heading, test.holds, got)
		}
	}
}

func TestTheGuideCarriesItsCautions(t *testing.T) {
	text := part(t, blank(t, record.Settings{}), "xl/worksheets/sheet1.xml")
	text = regexp.MustCompile("<[^>]*>").ReplaceAllString(text, "")
	for _, want := range []string{
		"unknown - do not assume none", "Follow the label", "open air", "mask and gloves", "wash your hands", "vet or the authority first",
		"notifiable", "living core", "trained people", "check yours", "nobody looked", "Example: 14 Mar 2026, R12",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the guide does not say %q", want)
		}
	}
	for _, verdict := range []string{"cull", "healthy", "cured", "guaranteed", "disqualif", "diseased", "inferior"} {
		if strings.Contains(strings.ToLower(text), verdict) {
			t.Errorf("the guide says %q", verdict)
		}
	}
	treatments := part(t, blank(t, record.Settings{}), "xl/worksheets/sheet5.xml")
	if !strings.Contains(treatments, "unknown - do not assume none") {
		t.Error("the treatments are printed without the caution on withdrawal")
	}
}

func TestTheLegendSaysWhichEndIsGood(t *testing.T) {
	all := map[string]record.Scale{
		"condition": {Name: "condition", Max: 3, Direction: "high-good", Words: map[string]float64{"flat": 0, "hollow": 0, "plump": 3}, Source: "the words of the club"},
		"lice":      {Name: "lice", Max: 3, Direction: "high-bad"},
		"keel":      {Name: "keel", Max: 4}, // the condition has its own scale already
		"temper":    {Name: "temper", Direction: "middle-best", Words: map[string]float64{"calm": 1, "wild": 2}},
	}
	var got []string
	for _, row := range legend(record.Settings{Scales: all}) {
		got = append(got, fmt.Sprintf("%s %q %q", row.title, row.steps, row.remarks))
	}
	text := strings.Join(got, "\n")
	for _, want := range []string{
		`Condition (0-3) [["0 =" "flat, hollow"] ["3 =" "plump"]] ["A higher step is better." "Source: the words of the club."]`,
		`lice [["0 to 3" "no words are given for the steps"]] ["A higher step is worse."]`,
		`keel [["0 to 4"`, "shown but not compared",
		`temper [["lowest first" "calm, wild"]] ["The middle is best."]`,
		`Lice and mites [["none" "looked, and none seen"]`, // of the mites, which have no scale here
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the legend lacks %s\nit is\n%s", want, text)
		}
	}
}

func TestTheRegisterNamesEachRingOnce(t *testing.T) {
	f := open(t, blank(t, record.Settings{}, []record.Bird{
		{ID: "7/Old", Ring: "7", Name: "Old", Ringed: record.Between(day(t, "2020-01-01"), day(t, "2022-12-31"))},
		{ID: "red 12", Ring: "12", Colour: "red", Name: "Anna"},
		{ID: "blue 12", Ring: "12", Colour: "blue", Name: "Bess"},
		{ID: "7/New", Ring: "7", Name: "New", Ringed: record.Between(day(t, "2023-01-01"), day(t, "2030-01-01"))},
		{ID: "007", Ring: "007", Colour: "green", Sex: record.Male, Hatched: record.InMonth(2025, 3), Pen: "3"},
		{ID: "Tansy", Name: "Tansy", Sex: record.Female, Hatched: record.Between(day(t, "2025-03-01"), day(t, "2025-05-31")), Pen: "Top shed"},
		{ID: "R9", Ring: "R9", Hatched: record.Between(day(t, "2024-12-01"), day(t, "2025-02-28")), Pen: "A"},
	}...))
	rows, err := f.GetRows("Birds")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range rows[1:] {
		if text := strings.TrimRight(strings.Join(row, "|"), "|"); text != "" {
			got = append(got, text)
		}
	}
	want := []string{
		"red 12|||Anna", "blue 12|||Bess", "7|||New", "007|green|||male|||||2025-03|pen 3",
		"Tansy||||female|||||2025|Top shed", "R9||||||||||pen A",
	}
	if !slices.Equal(got, want) {
		t.Errorf("the register holds\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	many := make([]record.Bird, birdLines+1)
	for i := range many {
		many[i] = record.Bird{Ring: fmt.Sprintf("R%d", i)}
	}
	if err := Blank(io.Discard, record.Settings{}, many); err == nil || !strings.Contains(err.Error(), "501 birds") {
		t.Errorf("more birds than lines give the error %v", err)
	}
}

// hostile are settings and birds whose every text would run, break out of its place, or be too long for it.
func hostile() (record.Settings, []record.Bird) {
	bad := `=cmd|'/C calc'!A0"]<x>&P,` + "\x01\n"
	s := record.Settings{
		Flock:   record.FlockSettings{Name: bad, Breed: bad + strings.Repeat("ž", 400)},
		Columns: map[string]string{bad: "condition"},
		Scales: map[string]record.Scale{
			bad:       {Name: bad, Words: map[string]float64{bad: 1, "=1": 2}, Source: bad},
			"=2+2":    {Name: "=2+2", Max: 1e6},
			"feather": {Name: "feather", Min: 0.5, Max: 0.7},
		},
	}
	return s, []record.Bird{{ID: bad, Ring: bad, Colour: bad, Name: bad, Breed: bad, Variety: bad, Line: bad, Pen: "=3"}, {ID: "x", Name: "@SUM(A1)"}}
}

func TestNothingInABlankRuns(t *testing.T) {
	s, birds := hostile()
	data := blank(t, s, birds...)
	for n := 1; n <= 8; n++ {
		if xml := part(t, data, fmt.Sprintf("xl/worksheets/sheet%d.xml", n)); strings.Contains(xml, "<f>") || strings.Contains(xml, "<f ") {
			t.Errorf("sheet %d holds a formula in a cell", n)
		}
	}
	f := open(t, data)
	marked := 0
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatalf("%s: %v", sheet, err)
		}
		for i, row := range rows {
			for j, text := range row {
				if !runs(text) {
					continue
				}
				at := fmt.Sprintf("%s%d", record.ColumnName(j+1), i+1)
				id, err := f.GetCellStyle(sheet, at)
				if err != nil {
					t.Fatal(err)
				}
				if q := f.Styles.CellXfs.Xf[id].QuotePrefix; q == nil || !*q {
					t.Errorf("%s, %s: %q is not marked as text", sheet, at, text)
				}
				marked++
			}
		}
		all, err := f.GetDataValidations(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range all {
			if v.Prompt != nil && len([]rune(*v.Prompt)) > maxTip || v.PromptTitle != nil && len([]rune(*v.PromptTitle)) > maxTipTitle {
				t.Errorf("%s, %s: the note is longer than programs take", sheet, v.Sqref)
			}
		}
	}
	if marked < 8 {
		t.Errorf("only %d cells hold the dangerous texts", marked)
	}
	// "&P" in a flock's name must print as itself, not as the number of the page
	if xml := part(t, data, "xl/worksheets/sheet2.xml"); !strings.Contains(xml, "&amp;&amp;P,") {
		t.Error("the flock's name is not made harmless at the head of the page")
	}
}

func TestSameSettingsSameBytes(t *testing.T) {
	s, birds := hostile()
	first := blank(t, s, birds...)
	for range 4 {
		if !bytes.Equal(first, blank(t, s, birds...)) {
			t.Fatal("the same settings gave other bytes")
		}
	}
}

func TestPaperOfTheCountry(t *testing.T) {
	for _, test := range []struct {
		paper, country string
		size           int
	}{{"", "", 9}, {"", "GB", 9}, {"", "US", 1}, {"A4", "US", 9}, {"Letter", "GB", 1}} {
		f := open(t, blank(t, record.Settings{Show: record.ShowSettings{Paper: test.paper}, Flock: record.FlockSettings{Country: test.country}}))
		for _, sheet := range f.GetSheetList() {
			if p, err := f.GetPageLayout(sheet); err != nil || p.Size == nil || *p.Size != test.size {
				t.Errorf("paper %q in %q: %s is laid out for size %v, %v", test.paper, test.country, sheet, p.Size, err)
			}
		}
	}
}
