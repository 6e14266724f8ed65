package plots

import (
	"fmt"
	"math"

	"keelmark/analysis"
)

// The samples are invented. Their growth follows a Gompertz curve with made-up parameters.

func gompertz(day, a, b, k float64) float64 { return a * math.Exp(-b*math.Exp(-k*day)) }

func sampleGrowth(label string, a float64) Growth {
	g := Growth{
		Label: label, Zero: "2025-03-01", CurveName: "own curve", Level: 0.9, Reliable: 196,
		Standards: []StandardSpan{{Label: "pullet, Sussex large, published range (edition not stated)", From: 182, To: 290, Low: 2800, High: 3200}},
		Show:      &Mark{Day: 280, Label: "show 2025-12-06"},
	}
	for i := range 8 {
		d := float64(28 * i)
		if d == 0 {
			d = 1
		}
		g.Weighings = append(g.Weighings, Weighing{Day: d, Grams: gompertz(d, a, 4.2, 0.022) * (1 + 0.03*math.Sin(float64(i*i)))})
	}
	g.Weighings = append(g.Weighings, Weighing{Day: 126, Grams: 640, HeldOut: true, Note: "asked: grams or ounces?"})
	for d := 0.0; d <= 285; d += 5 {
		m := gompertz(d, a, 4.2, 0.022)
		spread := 0.08*m + max(0, d-196)*2
		g.Curve = append(g.Curve, CurvePoint{Day: d, Grams: m, Low: m - spread, High: m + spread})
	}
	return g
}

func sampleFigures() []Figure {
	growth := sampleGrowth("R12 Žofie", 3000)
	byDate := sampleGrowth("R12 Žofie", 3000)
	byDate.ByDate, byDate.Units = true, analysis.PoundsOz
	var birds []Growth
	for i, name := range []string{"R12 Žofie", "R13 Łatka", "R14 Ærø", "R15 Señora Pía", "R16 Großmutter Käthe von der langen Wiese", "R17 Ōkubo", "R18 Nguyệt", "R19 Δήμητρα"} {
		birds = append(birds, sampleGrowth(name, 2600+100*float64(i)))
	}
	rows := []WeightRow{
		{Label: "R12 Žofie", Class: "pullet", StdLow: 2800, StdHigh: 3200, Value: 2900, Low: 2750, High: 3050},
		{Label: "R13 Łatka", Class: "pullet", StdLow: 2800, StdHigh: 3200, Value: 2500, Low: 2300, High: 2700},
		{Label: "R14 Ærø", Class: "cockerel", StdLow: 3600, StdHigh: 3600, Value: 3620, Low: 3500, High: 3740},
		{Label: "R15 Señora Pía", Class: "hen", StdHigh: 1000, Value: 1480, Low: 1300, High: 1600},
		{Label: "R16 Großmutter Käthe von der langen Wiese", Class: "hen", StdLow: 3200, StdHigh: 3200, Value: 3000},
		{Label: "R17 Ōkubo", Class: "cock", Value: 640, Low: 600, High: 680, Missing: "no weight published for this class"},
		{Label: "R18 Nguyệt", Class: "hen", StdLow: 2800, StdHigh: 3200, Missing: "no weighing in the last 60 days"},
		{Label: "R19 Δήμητρα", StdLow: 2800, StdHigh: 3200, Value: 1600, Low: 1500, High: 1900},
	}
	calendar := Calendar{
		Measure: "birds with lice / birds checked", RowHead: "year",
		Grades: [4]string{"none found", "up to a quarter", "up to a half", "over a half"},
	}
	for m := range 12 {
		calendar.Columns = append(calendar.Columns, []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}[m])
	}
	for y := range 4 {
		row := CalendarRow{Label: fmt.Sprint(2022 + y)}
		for m := range 12 {
			c := CalendarCell{}
			if (y+m)%4 != 0 {
				grade := (m*m + y) % 4
				c = CalendarCell{Looked: true, Grade: grade, Text: fmt.Sprintf("%d/12", []int{0, 2, 5, 9}[grade]), Treated: grade == 3}
			}
			row.Cells = append(row.Cells, c)
		}
		calendar.Rows = append(calendar.Rows, row)
	}
	dates := Calendar{Measure: "lice seen at the vent", RowHead: "bird", Columns: []string{"2025-08-03", "2025-08-13", "2025-09-01", "2025-10-12", "2025-11-02"},
		Grades: [4]string{"none found", "1–5", "6–20", "over 20"}, Marks: []CalendarLegend{{"m", "moved to another pen"}}}
	for i, b := range birds[:4] {
		row := CalendarRow{Label: b.Label}
		for j := range dates.Columns {
			c := CalendarCell{Looked: (i+j)%3 != 0}
			if c.Looked {
				c.Grade = (i + 2*j) % 4
				c.Text = []string{"0", "3", "6–20", ">20"}[c.Grade]
				c.Treated = c.Grade == 2
			}
			if i == 2 && j == 2 {
				c.Mark = "m"
			}
			row.Cells = append(row.Cells, c)
		}
		dates.Rows = append(dates.Rows, row)
	}
	fan := sampleGrowth("R12 Žofie", 3000)
	fan.ByDate = true
	for i, p := range fan.Curve {
		fan.Curve[i].LowHalf, fan.Curve[i].HighHalf = p.Grams-0.4*(p.Grams-p.Low), p.Grams+0.4*(p.High-p.Grams)
	}
	var residuals Residuals
	for i := range 240 {
		d := 14 + float64(i)*0.9
		residuals.Points = append(residuals.Points, Residual{d, 4*math.Sin(d/40) + 5*math.Sin(float64(i*i)), birds[i%8].Label})
	}
	for d := 20.0; d < 230; d += 14 {
		residuals.Middle = append(residuals.Middle, Residual{Day: d, Percent: 4 * math.Sin(d/40)})
	}
	var reliability Reliability
	reliability.Level = 0.9
	for i := range 10 {
		p := 0.05 + 0.1*float64(i)
		share := p + 0.04*math.Sin(float64(3*i))
		reliability.Bins = append(reliability.Bins, ReliabilityBin{p, share, max(0, share-0.06), min(1, share+0.06), 40 + 10*i})
	}
	return []Figure{
		{"growth-R12", "Growth of R12 Žofie", "Eight weighings, one held out.", "R12 Žofie weighed 2.3 kg on 13 September; the curve is compatible with 2.6 to 3.4 kg on the show day.", 180, 80, growth},
		{"growth-date-R12", "Growth of R12 Žofie", "", "The same by date, in pounds and ounces.", 180, 80, byDate},
		{"multiples", "Eight pullets", "", "All eight curves rise and flatten; R12 is the lightest.", 180, 90, Multiples{4, birds}},
		{"weights", "Weight on the show day", "", "Five of eight birds can be compared.", 180, Weights{}.HeightFor(len(rows)), Weights{Level: 0.9, Rows: rows}},
		rows[0].Glyph("glyph-R12", analysis.Grams, 0.9),
		{"calendar", "Lice by month", "", "Lice were found in every year, most in autumn.", 180, Calendar{}.HeightFor(4), calendar},
		{"calendar-birds", "Lice by bird", "", "Lice were found on all four birds.", 120, Calendar{}.HeightFor(4) + 12, dates},
		{"fan-R12", "Weight of R12 Žofie up to the show", "", "R12 Žofie on the show day in 9 of 10 cases.", 180, 80, fan},
		{"residuals", "Weighings against their curves", "", "The middle strays by 4 % in the seventh week.", 180, 70, residuals},
		{"reliability", "Stated chances and what came of them", "", "The share that came true lies within 4 points of the stated chance.", 100, 100, reliability},
	}
}
