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

// empty and one make the keeper's answers as package ask takes them: this package knows no settings file.
func empty[T, R any](func(*T) R) *T { return new(T) }

func one[T any](func(T)) (v T) { return v }

// told reads sheets and lists the looks with their steps, the events, and the questions.
func told(t *testing.T, set record.Settings, answers map[string]string, grids ...sheet.Grid) (looks, events, asked []string) {
	t.Helper()
	book := &sheet.Book{File: "a.xlsx", Grids: grids}
	kept := empty(ask.NewReplies)
	for key, value := range answers {
		a := one(kept.Set)
		a.Key, a.Value = key, value
		kept.Set(a)
	}
	replies := ask.NewReplies(kept)
	today, _ := record.ParseDay("2025-12-01")
	c := New(set, replies)
	if err := c.Read(context.Background(), evidence.Weigh(book, set, replies, today)); err != nil {
		t.Fatal(err)
	}
	f := c.Flock("")
	for i, o := range f.Looks {
		who := "-"
		if s := f.Links[i].Who; s != nil {
			who = first(s.Ring, s.Name)
		}
		line := fmt.Sprintf("%s %s %s %.6g", o.At.Cell(), who, o.On, o.Value)
		if o.Trait != record.Weight {
			line += " " + string(o.Trait)
		}
		if d := o.Detail(); d.Pen != "" {
			line += " in " + d.Pen
		}
		if d := o.Detail(); len(d.Steps) > 0 {
			line += " (" + strings.Join(d.Steps, ", ") + ")"
		}
		looks = append(looks, line)
	}
	for _, h := range f.Happenings {
		e := h.Event
		who := string(e.Scope)
		if h.Who != nil {
			who = first(h.Who.Ring, h.Who.Name)
		}
		line := fmt.Sprintf("%s %s %s %s", e.At.Cell(), who, e.On, e.Kind)
		if e.Pen != "" {
			line += " in " + e.Pen
		}
		if e.Flagged {
			line += " ?"
		}
		events = append(events, line)
	}
	for _, q := range f.Ask.Questions() {
		asked = append(asked, strings.TrimSpace(q.Class+" "+q.At.Cell()))
	}
	return looks, events, asked
}

// What keepers write in ways of their own. All sheets are invented.
func TestHabits(t *testing.T) {
	for name, c := range map[string]struct {
		grids                []sheet.Grid
		set                  record.Settings
		answers              map[string]string
		looks, events, asked []string
	}{
		"a season's tab without years": {grids: []sheet.Grid{sheetOf("Winter 2024-25", "Date|Ring|Weight g", "14 Nov|R1|850", "16 Jan|R1|870")},
			looks: []string{`C2 R1 2024-11-14 850 (year 2024 from "Winter 2024-25")`, `C3 R1 2025-01-16 870 (year 2025 from "Winter 2024-25")`}},
		"a season's tab of months": {grids: []sheet.Grid{sheetOf("Hens 2024-25", "Ring|Nov|Dec|Jan", "R1|850g|861g|870g", "R2|910g|915g|920g")},
			looks: []string{"B2 R1 2024-11 850", "C2 R1 2024-12 861", "D2 R1 2025-01 870", "B3 R2 2024-11 910", "C3 R2 2024-12 915", "D3 R2 2025-01 920"}},
		"no year at all: one question": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g", "14 Nov|R1|850", "16 Jan|R1|870")}, asked: []string{"date_year_missing A2"}},
		"no year, answered": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g", "14 Nov|R1|850", "16 Jan|R1|870")},
			answers: map[string]string{"date_year_missing a.xlsx Log": "2023"},
			looks:   []string{`C2 R1 2023-11-14 850 (year 2023 from "the answer")`, `C3 R1 2024-01-16 870 (year 2024 from "the answer")`}},
		"weekdays tell the year": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g", "Sun 13 April|R1|850", "Sun 20 April|R1|861")},
			looks: []string{"C2 R1 2025-04-13 850 (year 2025: in it the weekdays of the sheet are right, as at A2)", "C3 R1 2025-04-20 861 (year 2025: in it the weekdays of the sheet are right, as at A2)"}},
		"a year far from the title's": {grids: []sheet.Grid{sheetOf("2022", "Date|Ring|Weight g", "14/11/2022|R1|850", "15/11/2025|R1|861", "16/12/2022|R1|870", "20/1/2023|R1|880")},
			looks: []string{"C2 R1 2022-11-14 850", "C4 R1 2022-12-16 870", "C5 R1 2023-01-20 880"}, asked: []string{"date_beyond_title A3"}},
		"a diary whose lines lack the year": {grids: []sheet.Grid{sheetOf("Diary", "18/10/25 Duke 1.41kg", "Sat 8 November: Duke 3lb 1oz; Hetty 2lb 7oz", "15/11 Hetty died")},
			looks:  []string{"A1 Duke 2025-10-18 1410", "A2 Duke 2025-11-08 1389.13 (year 2025: it stands next after A1 (2025-10-18))", "A2 Hetty 2025-11-08 1105.63 (year 2025: it stands next after A1 (2025-10-18))"},
			events: []string{"A3 Hetty 2025-11-15 died"}},
		"a diary that runs past December": {grids: []sheet.Grid{sheetOf("Diary 2024", "20 Dec Bess 850g", "3 Jan Bess 861g")},
			looks: []string{"A1 Bess 2024-12-20 850 (year 2024 from the sheet's name or title)", "A2 Bess 2025-01-03 861 (year 2025: it stands next after A1 (2024-12-20))"}},
		"a diary in two columns": {grids: []sheet.Grid{sheetOf("Diary", "Date|What happened", "18/10/2025|weighed Duke 1410g", "25/10/2025|bought 20 kg pellets", "1/11/2025|Duke 1430g, dusted all")},
			looks: []string{"B2 Duke 2025-10-18 1410", "B4 Duke 2025-11-01 1430"}, events: []string{"B4 flock 2025-11-01 treated ?"}, asked: []string{"treatment_in_remarks B4"}},
		"a number after a statement": {grids: []sheet.Grid{sheetOf("Diary", "18/10/2025 Hetty 1105g", "25/10/2025 Hetty moulting hard, 1080")},
			looks: []string{"A1 Hetty 2025-10-18 1105"}, asked: []string{"weight_of_whom A2"}},
		"ditto marks": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Lice|Pen", `4/10/2025|R1|850|none|A`, `"|R2|"|do.|"`, `18/10/2025|R1|861|few|B`)},
			looks: []string{"C2 R1 2025-10-04 850 in A", "D2 R1 2025-10-04 0 parasite in A",
				"D3 R2 2025-10-04 0 parasite in A (pen as E2, date filled down from A2, ditto: as D2)", "C4 R1 2025-10-18 861 in B", "D4 R1 2025-10-18 1 parasite in B"}, asked: []string{"ditto_in_values C3"}},
		"a diary of one bird": {grids: []sheet.Grid{sheetOf("Diary", "Tansy (ring 311, Sussex hen)", "4 Oct 2025 - 5lb 3oz, eating well", "11 Oct 2025: weighed 2300 g. few lice", "18 Oct 2025 2.31 kg", "25 Oct 2025 died overnight")},
			looks:  []string{"A2 311 2025-10-04 2353.01 (bird from the title above)", "A3 311 2025-10-11 2300 (bird from the title above)", "A3 311 2025-10-11 1 parasite (bird from the title above)", "A4 311 2025-10-18 2310 (bird from the title above)"},
			events: []string{"A5 311 2025-10-25 died"}},
		"a diary that names nobody": {grids: []sheet.Grid{sheetOf("Diary", "4 Oct 2025 - hen 5lb 3oz", "11 Oct 2025: 5lb 2oz")}, asked: []string{"weight_in_words A1", "bird_missing A2"}},
		"weeks of a tab's month": {grids: []sheet.Grid{sheetOf("March 2025", "Bird|1st wk|2nd wk|5th wk", "D4|1010 g|1020 g|1030 g", "Y8|880 g|890 g|900 g")},
			looks: []string{"B2 D4 week from 2025-03-01 1010", "C2 D4 week from 2025-03-08 1020", "D2 D4 week from 2025-03-29 1030", "B3 Y8 week from 2025-03-01 880", "C3 Y8 week from 2025-03-08 890", "D3 Y8 week from 2025-03-29 900"}},
		"weeks of no month": {grids: []sheet.Grid{sheetOf("Log", "Bird|1st wk|2nd wk", "D4|1010 g|1020 g", "Y8|880 g|890 g")},
			asked: []string{"date_invalid B1", "date_invalid C1"}},
		"pens written once, of no other evidence": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Pen", "18/10/2025|R1|850|A", "18/10/2025|R2|910|", "18/10/2025|R3|870|B", "18/10/2025|R4|880|")},
			looks: []string{"C2 R1 2025-10-18 850 in A", "C3 R2 2025-10-18 910", "C4 R3 2025-10-18 870 in B", "C5 R4 2025-10-18 880"}, asked: []string{"pen_goes_on D2"}},
		"pens written once, answered": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Pen", "18/10/2025|R1|850|A", "18/10/2025|R2|910|", "18/10/2025|R3|870|B", "18/10/2025|R4|880|")},
			answers: map[string]string{"pen_goes_on a.xlsx Log Pen": "yes"},
			looks:   []string{"C2 R1 2025-10-18 850 in A", "C3 R2 2025-10-18 910 in A (pen filled down from D2)", "C4 R3 2025-10-18 870 in B", "C5 R4 2025-10-18 880 in B (pen filled down from D4)"}},
		"pens written on the first row of each bird": {grids: []sheet.Grid{sheetOf("Log", "Ring|Date|Weight g|Pen", "R1|18/10/2025|850|A", "R1|25/10/2025|861|", "R2|18/10/2025|910|B", "R2|25/10/2025|915|")},
			looks: []string{"C2 R1 2025-10-18 850 in A", "C3 R1 2025-10-25 861 in A (pen filled down from D2)", "C4 R2 2025-10-18 910 in B", "C5 R2 2025-10-25 915 in B (pen filled down from D4)"}},
		"remarks that are no departures": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Notes", "18/10/2025|R1|850|left leg swollen", "18/10/2025|R2|910|given extra corn", "18/10/2025|R3|870|lost weight")},
			looks: []string{"C2 R1 2025-10-18 850", "C3 R2 2025-10-18 910", "C4 R3 2025-10-18 870"}},
		"remarks that may be departures": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Notes", "18/10/2025|R1|850|gone broody", "18/10/2025|R2|910|fox got close")},
			looks: []string{"C2 R1 2025-10-18 850", "C3 R2 2025-10-18 910"}, asked: []string{"departure_doubtful D2", "departure_doubtful D3"}},
		"a death on a day of its own": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Notes", "18/10/2025|R1|850|RIP 5/11/25", "25/10/2025|R2|910|")},
			looks: []string{"C2 R1 2025-10-18 850", "C3 R2 2025-10-25 910"}, events: []string{"D2 R1 2025-11-05 died ?"}, asked: []string{"death_marker D2"}},
		"a death whose day has two readings, one before the bird was weighed": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight g|Notes", "2025-10-12|R1|850|RIP 5/11/25", "2025-10-13|R2|910|")},
			looks: []string{"C2 R1 2025-10-12 850", "C3 R2 2025-10-13 910"}, events: []string{"D2 R1 2025-11-05 died ?"}, asked: []string{"death_marker D2"}},
		"pen moved to, and where from": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Leg|Weight g|Moved to|Came from", "18/10/2025|R1|L|850|pen 3|Low Barn", "25/10/2025|R1|L|861||Low Barn")},
			looks: []string{"D2 R1 2025-10-18 850", "D3 R1 2025-10-25 861"}, events: []string{"F2 R1  acquired", "E2 R1 2025-10-18 moved in pen 3"}},
		"colour and number in one cell and in two": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Colour|Weight g", "18/10/2025|12|red|850", "18/10/2025|12|blue|910", "25/10/2025|red 12||861")},
			looks: []string{"D2 12 2025-10-18 850", "D3 12 2025-10-18 910", "D4 12 2025-10-25 861"}},
		"weight and score in one cell": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Wt (g)/BCS (1-5)", "18/10/2025|R1|850/2", "25/10/2025|R1|861/2.5")},
			looks: []string{"C2 R1 2025-10-18 850", "C2 R1 2025-10-18 2 condition", "C3 R1 2025-10-25 861", "C3 R1 2025-10-25 2.5 condition"}},
		"two parasites in one cell, as its heading says": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Lice/mites", "18/10/2025|R1|lice none, mites some", "25/10/2025|R1|lice few, mites none")},
			looks: []string{"C2 R1 2025-10-18 0 parasite", "C2 R1 2025-10-18 2 parasite", "C3 R1 2025-10-25 1 parasite", "C3 R1 2025-10-25 0 parasite"}},
		"two parasites in one cell": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Parasites", "18/10/2025|R1|lice none, mites some", "25/10/2025|R1|lice few")},
			looks: []string{"C3 R1 2025-10-25 1 parasite"}, asked: []string{"note_in_number_cell C2"}},
		"nits and OK: one question each": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Lice", "18/10/2025|R1|nits", "18/10/2025|R2|OK", "25/10/2025|R1|eggs only", "25/10/2025|R2|ok", "1/11/2025|R2|not looked")},
			asked: []string{"eggs_only C2", "all_right C3"}},
		"nits and OK, answered": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Lice", "18/10/2025|R1|nits", "25/10/2025|R2|OK")},
			answers: map[string]string{"eggs_only a.xlsx Lice": "none but eggs seen", "all_right a.xlsx Log": "none"},
			looks:   []string{`C2 R1 2025-10-18 0 parasite ("nits" answered as none but eggs seen)`, `C3 R2 2025-10-25 0 parasite ("OK" answered as none)`}},
		"a scale declared under its heading": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Lice (0-3)", "18/10/2025|R1|2", "25/10/2025|R1|bad")},
			set:   record.Settings{Scales: map[string]record.Scale{"lice": {Name: "lice", Min: 0, Max: 3, Words: map[string]float64{"bad": 3}}}},
			looks: []string{"C2 R1 2025-10-18 2 parasite", "C3 R1 2025-10-25 3 parasite"}},
		"eggs of a pen of hens": {grids: []sheet.Grid{sheetOf("Set", "Date set|Hens|Cock|Eggs set|Clear", "18/3/2025|pen 3|R9|12|2")},
			events: []string{"D2 pen 2025-03-18 set in pen 3"}},
		"a treatment with its day": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Treatment", "18/10/2025|R1|ivermectin 0.2 ml 16/10/25", "25/10/2025|R2|permethrin")},
			events: []string{"C2 R1 2025-10-16 treated", "C3 R2 2025-10-25 treated"}},
		"pens over tables side by side": {grids: []sheet.Grid{sheetOf("Log", "Pen A||||Pen B||", "Ring|18/10/2025|25/10/2025||Ring|18/10/2025|25/10/2025", "R1|850|861||S1|910|915", "R2|840|846||S2|900|903")},
			looks: []string{"B3 R1 2025-10-18 850 in Pen A", "C3 R1 2025-10-25 861 in Pen A", "B4 R2 2025-10-18 840 in Pen A", "C4 R2 2025-10-25 846 in Pen A",
				"F3 S1 2025-10-18 910 in Pen B", "G3 S1 2025-10-25 915 in Pen B", "F4 S2 2025-10-18 900 in Pen B", "G4 S2 2025-10-25 903 in Pen B"}},
		"pounds and ounces under birds": {grids: []sheet.Grid{sheetOf("Log", "Date|R1||R2|", "|lb|oz|lb|oz", "4/10/2025|2|3|1|15", "18/10/2025|2|4|2|0")},
			looks: []string{"B3 R1 2025-10-04 992.233", "D3 R2 2025-10-04 878.835", "B4 R1 2025-10-18 1020.58", "D4 R2 2025-10-18 907.185"}},
		"pounds and ounces under days": {grids: []sheet.Grid{sheetOf("Log", "Bird|4/10/2025||18/10/2025|", "|lb|oz|lb|oz", "Bess|2|3|2|4", "Clary|1|15|2|0")},
			looks: []string{"B3 Bess 2025-10-04 992.233", "D3 Bess 2025-10-18 1020.58", "B4 Clary 2025-10-04 878.835", "D4 Clary 2025-10-18 907.185"}},
		"a weight without a day beside days": {grids: []sheet.Grid{sheetOf("Log", "Ring|Start wt|Target wt|Wt 18/10/2025", "R1|700g|900g|861g", "R2|750g|950g|915g")},
			looks: []string{"D2 R1 2025-10-18 861", "D3 R2 2025-10-18 915"}, asked: []string{"date_missing B2"}},
		"weights that are not the bird's own": {grids: []sheet.Grid{sheetOf("Log", "Date|Ring|Weight|Std weight|Egg wt|Last weight", "18/10/2025|R1|850g|1020g|55g|840g", "25/10/2025|R1|861g|1020g|56g|850g")},
			looks: []string{"C2 R1 2025-10-18 850", "C3 R1 2025-10-25 861"}},
		"ages in a title": {grids: []sheet.Grid{sheetOf("Growth", "Cockerel weights (g) at 8 and 12 weeks", "Ring|8|12", "R1|640|890", "R2|620|870")},
			looks: []string{"B3 R1  640", "C3 R1  890", "B4 R2  620", "C4 R2  870"}},
		"a sheet that could be about birds": {grids: []sheet.Grid{sheetOf("Sheet1", "Date|Weight (g)", "18/10/2025|850", "25/10/2025|861")}, asked: []string{"sheet_doubtful"}},
		"a sheet that could be about birds, denied": {grids: []sheet.Grid{sheetOf("Sheet1", "Date|Weight (g)", "18/10/2025|850", "25/10/2025|861")},
			answers: map[string]string{"sheet_doubtful a.xlsx Sheet1": "no"}},
		"names of known birds make a sheet theirs": {grids: []sheet.Grid{sheetOf("Checks", "Who|18/10/2025|25/10/2025", "Bess|850|861", "Clary|910|915"), sheetOf("Birds", "Name|Sex|Breed", "Bess|hen|Sussex", "Clary|hen|Sussex")},
			looks: []string{"B2 Bess 2025-10-18 850", "C2 Bess 2025-10-25 861", "B3 Clary 2025-10-18 910", "C3 Clary 2025-10-25 915"}},
		"a budget beside the birds": {grids: []sheet.Grid{sheetOf("Birds", "Date|Ring|Weight g", "18/10/2025|R1|850", "25/10/2025|R1|861"), sheetOf("Money", "Date|What|Cost|Balance", "18/10/2025|feed|12.50|100", "25/10/2025|straw|6|94")},
			looks: []string{"C2 R1 2025-10-18 850", "C3 R1 2025-10-25 861"}, asked: []string{"sheet_not_read"}},
	} {
		t.Run(name, func(t *testing.T) {
			looks, events, asked := told(t, c.set, c.answers, c.grids...)
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
