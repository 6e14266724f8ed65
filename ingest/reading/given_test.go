package reading

import (
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// What was given, shown and gone, as keepers write it. All sheets are invented.
func TestGivenShownGone(t *testing.T) {
	for name, c := range map[string]struct {
		grids                []sheet.Grid
		answers              map[string]string
		looks, events, asked []string
	}{
		"texts that are no treatment given": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Treatment", "3/8/2025|R1|not needed", "3/8/2025|R2|due 9/8", "13/8/2025|R3|keep watching", "13/8/2025|R4|levamisole?", "13/8/2025|R5|dusted")},
			events: []string{"C6 R5 2025-08-13 treated"}, asked: []string{"treatment_doubtful C3", "treatment_doubtful C4", "treatment_doubtful C5"}},
		"crosses, asked once a column": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Dusted", "13/8/2025|R1|x", "13/8/2025|R2|x", "13/8/2025|R3|yes")},
			events: []string{"C4 R3 2025-08-13 treated"}, asked: []string{"treatment_doubtful C2"}},
		"crosses, answered": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Dusted", "13/8/2025|R1|x", "13/8/2025|R2|x")},
			answers: map[string]string{"treatment_doubtful a.xlsx Dusted x": "given"}, events: []string{"C2 R1 2025-08-13 treated", "C3 R2 2025-08-13 treated"}},
		"a plan beside the treatment keeps its day": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Treatment", "13/8/2025|R1|levamisole (1 ml) - repeat 23/8")},
			events: []string{"C2 R1 2025-08-13 treated"}},
		"a log of medicines: whom, product and active": {grids: []sheet.Grid{sheetOf("Medicines", "Date|Given to|Product|Active|Dose|W/D eggs|W/D meat", "13/8/2025|all birds|wormer|flubendazole|7 days|0 days|7 days", "14/8/2025|Run 4|powder|pyrethrum||?|", "15/8/2025|Opal|Miteaway|ivermectin|2 drops|none stated|")},
			events: []string{"C2 flock 2025-08-13 treated", "C3 pen 2025-08-14 treated in Run 4", "C4 Opal 2025-08-15 treated"}},
		"a list of shows": {grids: []sheet.Grid{sheetOf("Shows", "Show|Date|Entries|Placing|Bird|Judge", "Vale|13/9/2025|12|1st|Duke|B Wren", "Vale|13/9/2025|7|unplaced|Opal|B Wren")},
			events: []string{"D2 Duke 2025-09-13 shown", "D3 Opal 2025-09-13 shown"}},
		"events of rows with a date": {grids: []sheet.Grid{sheetOf("Log", "Ring|Name|Date|Event", "R1|Ann|13/8/2025|died", "R2|Bee|14/8/2025|sold to Rita, came back 3/9", "R3|Cyn|15/8/2025|lost her tail")},
			events: []string{"D2 R1 2025-08-13 died ?"}, asked: []string{"death_marker D2", "departure_doubtful D3"}},
		"a death in a month": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Notes", "13/6/2025|R1|850|killed by dog Sept")},
			looks: []string{"C2 R1 2025-06-13 850"}, events: []string{"D2 R1 2025-09 died ?"}, asked: []string{"death_marker D2"}},
		"remarks of leaving beside a column of treatments": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Treatment|Notes", "13/6/2025|R1|wormed|died", "13/6/2025|R2|wormed|stoat took her 20/6", "13/6/2025|R3|wormed|ticks on wing - 3")},
			events: []string{"C2 R1 2025-06-13 treated", "D2 R1 2025-06-13 died ?", "C3 R2 2025-06-13 treated", "C4 R3 2025-06-13 treated"},
			asked:  []string{"death_marker D2", "departure_doubtful D3", "finding_in_remarks D4"}},
		"a month and a day or a year, answered": {grids: []sheet.Grid{sheetOf("2025", "Date|Ring|Weight g", "Mar 16|R1|850", "Mar 30|R1|861")},
			answers: map[string]string{"date_ambiguous a.xlsx dates Mar 16": "2025-03-16"},
			looks:   []string{`C2 R1 2025-03-16 850 ("Mar 16" answered as 2025-03-16)`}, asked: []string{"date_ambiguous A3"}},
		"the unit answers for pounds and ounces too": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight", "13/8/2025|R1|2.4", "14/8/2025|R2|2.6")},
			answers: map[string]string{"unit_unknown a.xlsx Weight": "lb-oz"},
			looks:   []string{`C2 R1 2025-08-13 1020.58 ("2.4": the point parts pounds from ounces)`, `C3 R2 2025-08-14 1077.28 ("2.6": the point parts pounds from ounces)`}},
	} {
		t.Run(name, func(t *testing.T) {
			looks, events, asked := told(t, record.Settings{}, c.answers, c.grids...)
			for _, of := range []struct {
				what      string
				got, want []string
			}{{"looks", looks, c.looks}, {"events", events, c.events}, {"asked", asked, c.asked}} {
				if !slices.Equal(of.got, of.want) {
					t.Errorf("%s\n got %s\nwant %s", of.what, strings.Join(of.got, "\n     "), strings.Join(of.want, "\n     "))
				}
			}
		})
	}
}
