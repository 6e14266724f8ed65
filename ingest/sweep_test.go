package ingest

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"keelmark/ingest/record"
)

// The same invented weighings, written in every layout, unit, style of dates and language: nothing may be asked,
// lost or wrong. Birds and weights are invented.

type sweepWeight struct {
	bird  int
	day   record.Day
	grams float64
}

func sweepTruth() (birds []string, days []record.Day, weights []sweepWeight) {
	birds = []string{"R101", "R102", "R103", "R104"}
	first, _ := record.ParseDay("2025-03-29")
	for d := range 4 {
		days = append(days, first+record.Day(14*d))
		for b := range birds {
			weights = append(weights, sweepWeight{b, days[d], 1500 + 90*float64(b) + 25*float64(d)})
		}
	}
	return birds, days, weights
}

// sweepUnits write a weight and return how many grams were written, after the unit's own rounding.
var sweepUnits = []struct {
	name, heading string
	text          func(g float64) string
}{
	{"grams in the heading", "Weight (g)", func(g float64) string { return fmt.Sprintf("%.0f", g) }},
	{"kilograms in the heading", "Wt kg", func(g float64) string { return fmt.Sprintf("%.3f", g/1000) }},
	{"grams in the cells", "Weight", func(g float64) string { return fmt.Sprintf("%.0fg", g) }},
	{"ounces in the heading", "Wt (oz)", func(g float64) string { return fmt.Sprintf("%.1f", g/28.349523125) }},
	{"pounds and ounces in the cells", "Weight", func(g float64) string {
		oz := int(g/28.349523125 + 0.5)
		return fmt.Sprintf("%d lb %d oz", oz/16, oz%16)
	}},
	{"pounds and ounces in the heading", "Weight (lb-oz)", func(g float64) string {
		oz := int(g/28.349523125 + 0.5)
		return fmt.Sprintf("%d-%d", oz/16, oz%16)
	}},
}

var sweepDates = []struct {
	name string
	text func(record.Day) string
}{
	{"ISO", record.Day.String},
	{"day first", func(d record.Day) string { y, m, day := d.Date(); return fmt.Sprintf("%d/%d/%d", day, m, y) }},
	{"month first", func(d record.Day) string { y, m, day := d.Date(); return fmt.Sprintf("%d/%d/%02d", m, day, y%100) }},
	{"points", func(d record.Day) string { y, m, day := d.Date(); return fmt.Sprintf("%02d.%02d.%d", day, m, y) }},
	{"words", func(d record.Day) string {
		y, m, day := d.Date()
		return fmt.Sprintf("%d %s %d", day, m.String()[:3], y)
	}},
	{"weekday and words", func(d record.Day) string {
		y, m, day := d.Date()
		return fmt.Sprintf("%s %d %s %d", time.Weekday(d.Weekday()).String()[:3], day, m, y)
	}},
}

// sweepLayouts draw the weighings as lines of cells.
var sweepLayouts = []struct {
	name string
	draw func(weight func(b int, d record.Day) string, heading string, date func(record.Day) string) [][]string
}{
	{"long", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{"Date", "Ring", heading}}
		for _, d := range days {
			for b := range birds {
				out = append(out, []string{date(d), birds[b], weight(b, d)})
			}
		}
		return out
	}},
	{"long, by bird, names once", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{"Leg band", "Date weighed", heading, "Notes"}}
		for b := range birds {
			for i, d := range days {
				name := birds[b]
				if i > 0 {
					name = ""
				}
				out = append(out, []string{name, date(d), weight(b, d), ""})
			}
		}
		return out
	}},
	{"wide", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{heading}, {"Ring"}}
		for _, d := range days {
			out[1] = append(out[1], date(d))
		}
		for b := range birds {
			row := []string{birds[b]}
			for _, d := range days {
				row = append(row, weight(b, d))
			}
			out = append(out, row)
		}
		return out
	}},
	{"dates down, birds across", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{heading}, append([]string{"Date"}, birds...)}
		for _, d := range days {
			row := []string{date(d)}
			for b := range birds {
				row = append(row, weight(b, d))
			}
			out = append(out, row)
		}
		return out
	}},
	{"cards below each other", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		var out [][]string
		for b := range birds {
			out = append(out, []string{"Ring:", birds[b]}, []string{"Sex:", "hen"}, []string{"Date", heading, "Remarks"})
			for _, d := range days {
				out = append(out, []string{date(d), weight(b, d), ""})
			}
			out = append(out, []string{"", "", ""})
		}
		return out
	}},
	{"columns in pairs under birds", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{}, {}}
		for b := range birds {
			out[0] = append(out[0], birds[b], "")
			out[1] = append(out[1], "Date", heading)
		}
		for _, d := range days {
			var row []string
			for b := range birds {
				row = append(row, date(d), weight(b, d))
			}
			out = append(out, row)
		}
		return out
	}},
	{"blocks a day", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		var out [][]string
		for _, d := range days {
			out = append(out, []string{"Date:", date(d), ""}, []string{"Ring", heading, "Remarks"})
			for b := range birds {
				out = append(out, []string{birds[b], weight(b, d), ""})
			}
			out = append(out, []string{"", "", ""})
		}
		return out
	}},
	{"weights under dated headings", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{"Ring", "Sex"}}
		for _, d := range days {
			out[0] = append(out[0], heading+" "+date(d))
		}
		for b := range birds {
			row := []string{birds[b], "hen"}
			for _, d := range days {
				row = append(row, weight(b, d))
			}
			out = append(out, row)
		}
		return out
	}},
	{"a row a kind of look", func(weight func(int, record.Day) string, heading string, date func(record.Day) string) [][]string {
		birds, days, _ := sweepTruth()
		out := [][]string{{"Bird", "What"}}
		for _, d := range days {
			out[0] = append(out[0], date(d))
		}
		for b := range birds {
			row, lice := []string{birds[b], heading}, []string{"", "Lice"}
			for _, d := range days {
				row, lice = append(row, weight(b, d)), append(lice, "none")
			}
			out = append(out, row, lice)
		}
		return out
	}},
}

// typed draws lines as a workbook stores them: numbers as numbers, ISO dates as true dates.
func typed(lines [][]string) string {
	var out []string
	for _, row := range lines {
		var cells []string
		for _, text := range row {
			if _, err := record.ParseDay(text); err == nil {
				text = "@" + text
			} else if _, err := strconv.ParseFloat(text, 64); err == nil {
				text = "#" + text
			}
			cells = append(cells, text)
		}
		out = append(out, strings.Join(cells, "|"))
	}
	return strings.Join(out, "\n")
}

func TestEveryLayoutUnitAndDate(t *testing.T) {
	birds, _, weights := sweepTruth()
	dir := t.TempDir()
	for _, l := range sweepLayouts {
		for _, u := range sweepUnits {
			for _, d := range sweepDates {
				for _, sep := range []string{",", ";", "\t", "xlsx"} {
					if sep == "xlsx" && d.name != sweepDates[0].name {
						continue // a workbook has true dates
					}
					name := strings.Join([]string{l.name, u.name, d.name, fmt.Sprintf("%q", sep)}, ", ")
					grams := func(b int, on record.Day) string {
						for _, w := range weights {
							if w.bird == b && w.day == on {
								return u.text(w.grams)
							}
						}
						return ""
					}
					lines := l.draw(grams, u.heading, d.text)
					var b strings.Builder
					for _, row := range lines {
						if sep == ";" { // the habit of countries with a decimal comma
							for i := range row {
								if strings.Trim(row[i], "0123456789.") == "" && strings.Count(row[i], ".") == 1 {
									row[i] = strings.Replace(row[i], ".", ",", 1)
								}
							}
						}
						b.WriteString(strings.Join(row, sep) + "\n")
					}
					path, data := filepath.Join(dir, "a.csv"), []byte(b.String())
					if sep == "xlsx" {
						path, data = filepath.Join(dir, "a.xlsx"), drawnXLSX(t, false, tab{name: "Sheet1", rows: typed(lines)})
					}
					if err := os.WriteFile(path, data, 0o600); err != nil {
						t.Fatal(err)
					}
					sets := load(t, path)
					got := map[string]float64{}
					for _, o := range sets[0].Observations {
						if o.Trait == record.Weight && !o.Flagged {
							got[o.Bird+" "+o.On.String()] = o.Value
						}
					}
					bad := len(got) != len(weights) || len(classes(sets)) > 0
					for _, w := range weights {
						v, ok := got[birds[w.bird]+" "+w.day.String()]
						bad = bad || !ok || v < w.grams-15 || v > w.grams+15
					}
					if bad {
						t.Errorf("%s: %d weights, asked %v %v\n%s", name, len(got), classes(sets), sets[0].Files[0].Notes, b.String())
					}
				}
			}
		}
	}
}
