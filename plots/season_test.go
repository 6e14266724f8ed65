package plots

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/season"
	"keelmark/ingest/record"
)

// lousy is an invented flock of 12 birds looked at in most months of some years; lice come in late summer if yearly.
func lousy(years int, yearly bool, hemisphere string) (analysis.Context, *record.Dataset) {
	data := &record.Dataset{Name: "Low Barn"}
	for i := range 12 {
		data.Birds = append(data.Birds, record.Bird{ID: fmt.Sprintf("R%02d", i+1)})
	}
	start, _ := record.DayOf(2018, 1, 9)
	row := int32(1)
	for n := 0; n < 13*years; n++ {
		on := start + record.Day(28*n)
		y, m, _ := on.Date()
		if m == 2 || m == 5 && y%2 == 0 { // nobody looks
			continue
		}
		share := 0.0
		if yearly {
			share = 0.8 * math.Pow((1+math.Cos(2*math.Pi*(float64(m)-9)/12))/2, 3)
		}
		for i, b := range data.Birds {
			row++
			o := record.Observation{Bird: b.ID, On: record.On(on), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present,
				At: record.Ref{File: "w.xlsx", Sheet: "looks", Row: row, Col: 3}}
			if float64(i) < share*12-float64(n%3) {
				o.Value = 1
			}
			data.Observations = append(data.Observations, o)
		}
		if share > 0.6 {
			data.Events = append(data.Events, record.Event{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(on + 2), At: record.Ref{File: "w.xlsx", Row: row, Col: 9},
				Treatment: &record.Treatment{Product: "product as labelled", Against: "lice"}})
		}
	}
	c := analysis.Context{Today: start + record.Day(370*years)}
	c.Settings.Flock.Hemisphere = hemisphere
	data.Settings = c.Settings
	return c, data
}

func seasonOf(t testing.TB, years int, yearly bool, hemisphere string) []Figure {
	t.Helper()
	c, data := lousy(years, yearly, hemisphere)
	r, err := season.Spec().Run(context.Background(), c, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	return For(r)
}

func TestSeasonFigures(t *testing.T) {
	for name, c := range map[string]struct {
		years  int
		yearly bool
		place  string
		worst  bool
	}{
		"one": {1, true, "north", false}, "four": {4, true, "north", true}, "south": {4, true, "south", true}, "eight": {8, true, "", true}, "nothing": {3, false, "north", false},
	} {
		figures := seasonOf(t, c.years, c.yearly, c.place)
		if len(figures) != 2 {
			t.Fatalf("%s: %d figures", name, len(figures))
		}
		for _, f := range figures {
			if err := f.Validate(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			drawn(t, f, 60, 0)
			data, err := json.Marshal(f)
			if err != nil {
				t.Fatal(err)
			}
			var back Figure
			if err := json.Unmarshal(data, &back); err != nil || !reflect.DeepEqual(f, back) {
				t.Errorf("%s: %s does not come back from JSON: %v", name, f.Name, err)
			}
			if n := len(f.DataTable().Rows); n != c.years+1 {
				t.Errorf("%s: %s has a table of %d rows", name, f.Name, n)
			}
		}
		w := figures[0].Panel.(Wheel)
		if (w.Worst != nil) != c.worst || w.South != (c.place == "south") {
			t.Errorf("%s: worst %v, south %v", name, w.Worst, w.South)
		}
		if cell := w.Rings[0].Cells[1]; cell.Looked || cell.Text != "" {
			t.Errorf("%s: nobody looked in February: %+v", name, cell)
		}
		if w.Effort[1] != 0 || w.Effort[0] == 0 {
			t.Errorf("%s: effort %v", name, w.Effort)
		}
		if !strings.Contains(figures[0].Alt, "found in") || (c.place == "") != strings.Contains(figures[0].Caption, "no hemisphere") {
			t.Errorf("%s: %q %q", name, figures[0].Alt, figures[0].Caption)
		}
	}
}

// At the top stands the local midwinter, and time runs clockwise.
func TestTheWheelBeginsAtMidwinter(t *testing.T) {
	for _, c := range []struct {
		south bool
		day   float64 // of the year from 0
		turn  float64 // of a whole one, clockwise from the top
	}{{false, 354.5, 0}, {false, 354.5 + 91.25, 0.25}, {false, 172, 0.5}, {true, 171.5, 0}, {true, 171.5 + 91.25, 0.25}, {true, 354, 0.5}} {
		got := Wheel{South: c.south}.turn(c.day) / (2 * math.Pi)
		if d := got - c.turn - math.Round(got-c.turn); math.Abs(d) > 0.002 {
			t.Errorf("south %v, day %g is at %.3f of a turn, want %.2f", c.south, c.day, got, c.turn)
		}
	}
}

func TestWheelAndYearsRefuseWhatCannotBeDrawn(t *testing.T) {
	row := CalendarRow{"2024", make([]CalendarCell, 12)}
	for name, p := range map[string]Panel{
		"no year":      Wheel{},
		"eleven":       Wheel{Rings: []CalendarRow{{"2024", make([]CalendarCell, 11)}}},
		"many":         Wheel{Rings: make([]CalendarRow, 13)},
		"negative":     Wheel{Rings: []CalendarRow{row}, Effort: [12]int{-1}},
		"worst":        Wheel{Rings: []CalendarRow{row}, Worst: &WheelRange{At: 10, Low: 20, High: 30}},
		"NaN":          Wheel{Rings: []CalendarRow{row}, Worst: &WheelRange{At: math.NaN(), Low: 20, High: 30}},
		"years no row": Years{},
		"years effort": Years{Rows: []CalendarRow{row}, Effort: [12]int{3: -2}},
	} {
		if p.Validate() == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}
