package render

import (
	"fmt"
	"math"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
	"keelmark/plots"
)

// The samples are invented: birds, people, show and numbers.

var names = []string{"Žofie", "Łatka", "Ærø", "Señora Pía", "Großmutter Käthe", "Ōkubo", "Nguyệt", "Δήμητρα", "Жанна", "Şükrü", "Þóra", "Dot"}

func growthFigure(label string, mature float64) plots.Figure {
	g := plots.Growth{Label: label, Zero: "2025-03-01", CurveName: "own curve", Level: 0.9, Reliable: 196,
		Standards: []plots.StandardSpan{{Label: "pullet, Sussex large, 2.8–3.2 kg (edition not stated)", From: 182, To: 290, Low: 2800, High: 3200}},
		Show:      &plots.Mark{Day: 280, Label: "show 2025-12-06"}}
	weight := func(d float64) float64 { return mature * math.Exp(-4.2*math.Exp(-0.022*d)) }
	for i := range 8 {
		d := 1 + 27.9*float64(i)
		g.Weighings = append(g.Weighings, plots.Weighing{Day: d, Grams: weight(d) * (1 + 0.03*math.Sin(float64(i*i)))})
	}
	for d := 0.0; d <= 285; d += 5 {
		spread := 0.08*weight(d) + max(0, d-196)*2
		g.Curve = append(g.Curve, plots.CurvePoint{Day: d, Grams: weight(d), Low: weight(d) - spread, High: weight(d) + spread})
	}
	return plots.Figure{Name: "growth " + label, Title: "Growth of " + label, Caption: "Eight weighings, 2 March to 12 September.",
		Alt: label + " is on its curve; the curve is compatible with 2.6 to 3.4 kg on the show day.", Width: 180, Height: 72, Panel: g}
}

func lice() plots.Figure {
	c := plots.Calendar{Measure: "birds with lice / birds checked", RowHead: "year", Grades: [4]string{"none found", "up to a quarter", "up to a half", "over a half"}}
	for m := 1; m <= 12; m++ {
		c.Columns = append(c.Columns, []string{"", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}[m])
	}
	for y := range 3 {
		row := plots.CalendarRow{Label: fmt.Sprint(2023 + y)}
		for m := range 12 {
			cell := plots.CalendarCell{}
			if (y+m)%4 != 0 {
				g := (m*m + y) % 4
				cell = plots.CalendarCell{Looked: true, Grade: g, Text: fmt.Sprintf("%d/12", []int{0, 2, 5, 9}[g]), Treated: g == 3}
			}
			row.Cells = append(row.Cells, cell)
		}
		c.Rows = append(c.Rows, row)
	}
	return plots.Figure{Name: "lice", Title: "Lice by month", Caption: "36 months, 9 of them without a look.", Alt: "Lice were found in every year, most of all in autumn.",
		Width: 180, Height: c.HeightFor(3), Panel: c}
}

func sampleClaims(ring string) []analysis.Claim {
	var cells []record.Ref
	for r := int32(4); r < 13; r++ {
		cells = append(cells, record.Ref{File: "weights.xlsx", Sheet: "2025", Row: r, Col: 4})
	}
	return []analysis.Claim{
		{ID: "forecast.band/" + ring, Subject: analysis.Subject{Bird: ring}, Topic: "weight", Stands: analysis.For,
			Text: "The records are compatible with 2.6 to 3.4 kg on the show day (90 of 100 cases, 8 weighings); the published range is 2.8 to 3.2 kg.",
			N:    analysis.Counts{Records: 8, Birds: 1, Dates: 8}, RestsOn: cells, Pool: []string{"forecast.line/Sussex"}, Method: "Gompertz curve, least squares",
			Caveats: []string{"The last weighing is 85 days before the show."}},
		{ID: "parasite.last/" + ring, Topic: "parasites", Stands: analysis.Against, Text: "Lice were found at the last look, on 2025-09-01, and no later look is on record (N = 4 looks).",
			RestsOn: []record.Ref{{File: "health.xlsx", Sheet: "lice", Row: 7, Col: 3}, {File: "health.xlsx", Sheet: "lice", Row: 9, Col: 3}}, N: analysis.Counts{Records: 4}},
		{ID: "condition.trend/" + ring, Topic: "condition", Stands: analysis.Open, Text: "Whether condition is changing cannot be said from 2 scores.",
			Refusal: &analysis.Refusal{Needs: "4 scores by one scorer on a declared scale", Next: "score condition on or after 2025-11-20"},
			RestsOn: []record.Ref{{File: "health.xlsx", Sheet: "cond", Row: 3, Col: 2}}},
	}
}

func sample() Document {
	d := Document{Title: "Before the show: Low Barn flock", Running: "weights.xlsx, health.xlsx · 412 rows read", Made: 20418}
	overview := Table{Name: "overview", Caption: "One line a bird", Columns: []Column{
		{Head: "ring", RowHead: true, NoWrap: true}, {Head: "name"}, {Head: "class"}, {Head: "weight", Unit: "g", Align: Right, NoWrap: true},
		{Head: "against the published weight"}, {Head: "lice, last look"}, {Head: "speaks for"}, {Head: "speaks against"}, {Head: "on the day", Unit: "g"}}}
	var rows []plots.WeightRow
	for i, n := range names {
		ring := fmt.Sprintf("R%02d", i+1)
		w := 2350 + 97*float64(i)
		r := plots.WeightRow{Label: ring + " " + n, Class: "pullet", StdLow: 2800, StdHigh: 3200, Value: w, Low: w * 0.93, High: w * 1.06}
		rows = append(rows, r)
		g := r.Glyph("glyph-"+ring, analysis.Grams, 0.9)
		against := Cell{Text: "–"}
		if i%3 == 1 {
			against = Cell{Stands: analysis.Against, Text: "lice on 2025-09-01"}
		}
		overview.Rows = append(overview.Rows, []Cell{{Text: ring}, {Text: n}, {Text: "pullet"}, {Text: fmt.Sprintf("%.0f", w)}, {Figure: &g},
			{Text: "none, 2025-11-02"}, {Stands: analysis.For, Text: "on its curve"}, against, {Line: true}})
	}
	overview.Note = "Glyph: hairline −40 to +40 % of the published weight; pale box, published range; bar, likely range of the bird's weight in 90 of 100 cases."
	d.Blocks = Blocks{
		Para{"Nothing in the records speaks against 7 birds; 3 have an open question; something speaks against 2.", Lead},
		overview,
		Caution{Topic: "records", Title: "What would change the picture", Lines: []string{"The last weighing of 5 birds is older than 60 days.", "Withdrawal of the treatment on 2025-09-03: unknown – do not assume none."}},
		Ticks{"R01 Žofie", []Tick{{"weight on the day", true}, {"condition", true}, {"lice seen", false}, {"entered", false}, {"not entered", false}}},
		Ticks{"R02 Łatka", []Tick{{"weight on the day", true}, {"condition", true}, {"lice seen", false}, {"entered", false}, {"not entered", false}}},
		PageBreak{},
		Heading{2, "Weights"},
		Figure{plots.Figure{Name: "weights", Title: "Weight on the show day", Alt: "Seven of twelve birds lie within the published range.", Caption: "Order as in the workbook.", Width: 180,
			Height: plots.Weights{}.HeightFor(len(rows)), Panel: plots.Weights{Level: 0.9, Rows: rows}}},
		Heading{2, "Lice and mites"}, Figure{lice()},
	}
	for i, n := range names[:3] {
		ring := fmt.Sprintf("R%02d", i+1)
		claims := sampleClaims(ring)
		if i == 2 {
			claims = append(claims, analysis.Claim{ID: "stop/" + ring, Topic: "stop", Stands: analysis.Stop,
				Text: "A note of 2025-11-01 reads “gasping”: ask a vet or the authority before anything else.", RestsOn: []record.Ref{{File: "health.xlsx", Sheet: "notes", Row: 40, Col: 2}}})
		}
		d.Blocks = append(d.Blocks, PageBreak{}, Heading{2, ring + " " + n},
			Facts{"", []Fact{{"ring", ring}, {"name", n}, {"breed", "Sussex, large, light"}, {"sex", "female"}, {"hatched", "2025-03-01"}, {"class on 2025-12-06", "pullet (under one year)"}, {"line", "Low Barn"}, {"pen", ""}}},
			Figure{growthFigure(ring+" "+n, 2900+100*float64(i))},
			ClaimsOf("What the records say", claims, nil),
			Decision{ring + " " + n}, Notes{})
	}
	d.Blocks = append(d.Blocks, PageBreak{}, Markdown{`## How the numbers were made

The **curve** is a *Gompertz* curve fitted by least squares; see ` + "`growth`" + `. A [link](https://example.org/a) and a note.[^1]

1. first
2. second with a long line that goes on and on until it reaches the end of the line and must be broken somewhere
   - inner
- [x] done
- [ ] open

| trait | n | share |
|:--|--:|:-:|
| weight | 12 | 0.5 |
| lice | 4 | 0.25 |

> A quotation.

` + "```python\nfor b in birds:\n    print(b.ring)  # the ring\n```" + `

[^1]: The note's text.
`}, ClaimsOf("Pooled estimates", []analysis.Claim{{ID: "forecast.line/Sussex", Stands: analysis.Open, Text: "The line's curve rests on 12 pullets.", RestsOn: []record.Ref{{File: "weights.xlsx", Sheet: "2025", Row: 4, Col: 4}}}}, nil),
		Preformatted{Text: "x = 1\nname error: rign", Error: true},
		Columns{Columns: []Blocks{{Heading{3, "Left"}, Para{strings.Repeat("Some words to fill a column. ", 9), ""}}, {Heading{3, "Right"}, Para{"Short.", ""}}}},
		TableOf(analysis.Table{Name: "t", Caption: "A table of an analysis", Columns: []analysis.Column{{Name: "bird", Head: "bird"}, {Name: "w", Head: "weight", Unit: "g", Decimals: 1}},
			Rows: [][]any{{"R01", 612.04}, {"R02", nil}, {"R03", -0.01}}}, "g"))
	return d
}

func names300() string { return strings.Repeat("Wilhelmine-", 27) + "end" }
