package plots

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image/color"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/treatment"
	"keelmark/ingest/record"
)

// treatedFlock is invented: 12 birds in two pens, looked at every four weeks with a second look a week later, all of a pen
// treated once a third of it is found with lice.
func treatedFlock(t *testing.T) (analysis.Context, *record.Dataset) {
	start := d(t, "2023-03-01")
	data := &record.Dataset{Name: "Low Barn"}
	row := int32(1)
	at := func() record.Ref { row++; return record.Ref{File: "l.xlsx", Sheet: "1", Row: row, Col: 2} }
	for i := range 12 {
		id := fmt.Sprintf("B%02d", i+1)
		data.Birds = append(data.Birds, record.Bird{ID: id, Ring: id, Pen: []string{"Long Run", "Ark"}[i%2]})
	}
	for round := range 28 {
		day := start + record.Day(28*round/2+round%2*-7)
		for i, b := range data.Birds {
			if round%2 == 1 && i%3 > 0 {
				continue
			}
			o := record.Observation{Bird: b.ID, On: record.On(day), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present, At: at()}
			if phase := (round + 6*(i%2)) % 12; phase < 5 && (i*7+round*3)%5 > 1 {
				o.Value = 1
			}
			data.Observations = append(data.Observations, o)
		}
		if round%12 == 4 || round%12 == 10 {
			data.Events = append(data.Events, record.Event{Kind: record.Treated, Scope: record.WholePen, Pen: []string{"Long Run", "Ark"}[round%12/10], On: record.On(day), At: at(),
				Treatment: &record.Treatment{Product: "product as labelled", Against: "lice"}})
		}
	}
	return analysis.Context{Today: d(t, "2024-04-20")}, data
}

func TestTreatmentFigures(t *testing.T) {
	c, data := treatedFlock(t)
	r, err := treatment.Spec().Run(context.Background(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	figures := append(For(r), ForBird(r, "B01")...)
	kinds := map[string]int{}
	for _, f := range figures {
		kinds[f.Panel.Kind()]++
		if err := f.Validate(); err != nil {
			t.Error(err)
		}
		raw, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		var back Figure
		if err := json.Unmarshal(raw, &back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(back)
		if err != nil || !bytes.Equal(raw, again) {
			t.Errorf("%s does not survive JSON: %v", f.Name, err)
		}
		for _, r := range f.DataTable().Rows {
			if len(r) != len(f.DataTable().Columns) {
				t.Errorf("%s: %d cells for %d columns", f.Name, len(r), len(f.DataTable().Columns))
			}
		}
		img := drawn(t, f, 72, 12) // nothing is drawn beyond the figure's edge
		for x := range img.Bounds().Dx() {
			for _, y := range []int{4, img.Bounds().Dy() - 5} {
				if g := color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y; g < 250 {
					t.Fatalf("%s: ink at %d, %d", f.Name, x, y)
				}
			}
		}
		var b bytes.Buffer
		if err := f.PNG(&b, Print(), 110); err != nil {
			t.Fatal(err)
		}
		if b.Len() < 2000 {
			t.Errorf("%s: an empty picture of %d bytes", f.Name, b.Len())
		}
	}
	if kinds["states"] != 2 || kinds["returns"] != 1 {
		t.Errorf("figures %v", kinds)
	}
	states := figures[0].Panel.(States)
	if len(states.Rows) != 12 || len(states.Rows[0].Treated) == 0 || len(states.Rows[0].Looks) < 14 {
		t.Errorf("%d rows; first %+v", len(states.Rows), states.Rows[0])
	}
}

func TestTreatmentPanelsRefuseWhatCannotBeDrawn(t *testing.T) {
	for name, p := range map[string]Panel{
		"no rows":             States{Zero: "2024-01-01", Days: 30},
		"no time":             States{Zero: "2024-01-01", Rows: []StateRow{{Label: "a"}}},
		"backwards":           States{Zero: "2024-01-01", Days: 30, Rows: []StateRow{{Label: "a", From: 9, To: 3}}},
		"a chance above 1":    States{Zero: "2024-01-01", Days: 30, Rows: []StateRow{{Label: "a", To: 3, Chance: []StateStep{{1, 1.2}}}}},
		"more than all falls": Returns{Days: 30, Pens: 2, Falls: []ReturnFall{{3, 5, 0.8}, {6, 9, 0.8}}},
		"no pens":             Returns{Days: 30},
	} {
		if p.Validate() == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}
