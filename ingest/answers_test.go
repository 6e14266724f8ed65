package ingest

import (
	"path/filepath"
	"slices"
	"testing"

	"keelmark/ingest/settings"
)

// One answer about a sheet or a column settles all its cells, and nothing is asked again. Invented sheets.
func TestAnswersAboutWholeSheets(t *testing.T) {
	serials := tab{name: "Log", rows: "Date|Ring|Weight g\n#45760|R1|#850\n#45767|R1|#861"}
	for name, c := range map[string]struct {
		text, class, answer string
		tabs                []tab
		want                []string
		told                []string
	}{
		"values under dates": {text: "Ring,13/4/2025,20/4/2025\nR1,3,4\n", class: "values_unknown", answer: "condition",
			want: []string{"B2 R1 2025-04-13 condition 3", "C2 R1 2025-04-20 condition 4"}, told: []string{"B1 scale_unknown"}},
		"a heading that is not understood": {text: "Date,Ring,Heft\n13/4/2025,R1,850g\n20/4/2025,R1,5 up\n20/4/2025,R2,7 up\n27/4/2025,R3,6 up\n", class: "column_unknown", answer: "note", want: nil},
		"dates that lost their format":     {tabs: []tab{serials}, class: "date_serial_unformatted", answer: "yes", want: []string{"C2 R1 2025-04-13 weight 850", "C3 R1 2025-04-20 weight 861"}},
		"numbers that are no dates":        {tabs: []tab{serials}, class: "date_serial_unformatted", answer: "no", want: nil, told: []string{"A2 date_missing", "A3 date_missing"}},
		"the mean weight of a pen": {text: "Date,Pen,Weight g\n13/4/2025,Pen 4,850\n20/4/2025,Pen 4,861\n", class: "weight_of_many", answer: "mean",
			want: []string{"C2 (4) 2025-04-13 weight 850", "C3 (4) 2025-04-20 weight 861"}},
		"a pen on the scale at once": {text: "Date,Bird,Weight g\n13/4/2025,Pen 4,2850\n20/4/2025,R1,861\n", class: "weight_of_many", answer: "together",
			want: []string{"C3 R1 2025-04-20 weight 861"}},
	} {
		t.Run(name, func(t *testing.T) {
			file, text := "a.csv", c.text
			if c.tabs != nil {
				file, text = "a.xlsx", string(drawnXLSX(t, false, c.tabs...))
			}
			dir := write(t, map[string]string{file: text})
			a := &settings.Answers{}
			for _, q := range load(t, filepath.Join(dir, file))[0].Questions {
				if q.Class == c.class {
					a.Set(settings.Answer{Key: q.Key, Value: c.answer, Cell: q.At.Key(), Raw: q.Raw})
				}
			}
			sets := load2(t, dir, a)
			got, told := said(sets)
			compare(t, "records", got, c.want)
			if !slices.Equal(told, c.told) {
				t.Errorf("asked %v, want %v", told, c.told)
			}
			checkFates(t, sets)
		})
	}
}
