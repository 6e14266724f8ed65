package workbook

import (
	"fmt"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// Chart draws columns of its sheet. Rows and columns count from 1.
type Chart struct {
	Title          string
	XTitle, YTitle string
	Row, Col       int    // the cell at its upper left corner
	XFormat        string // number format of the values along the foot, "" for that of the cells
	Bars           bool   // bars over names, in place of points over numbers
	Series         []Series
}

// Series is one run of rows: a column of values over a column of numbers or names. Its own name is what a cell says.
type Series struct {
	X, Y             int // columns
	First, Last      int // rows
	NameRow, NameCol int
	Line             bool
}

// Size of a chart: about 15 rows high and 8 columns wide.
const (
	chartWidth, chartHeight = 560, 290
	// ChartRows is how many rows a chart covers.
	ChartRows = 16
)

// draw adds the chart to a sheet whose cells are still to be written.
func (c Chart) draw(f *excelize.File, sheet string) error {
	out := &excelize.Chart{Type: excelize.Scatter, Dimension: excelize.ChartDimension{Width: chartWidth, Height: chartHeight},
		Title: words(c.Title), Legend: excelize.ChartLegend{Position: "bottom"},
		XAxis: excelize.ChartAxis{Title: words(c.XTitle), NumFmt: excelize.ChartNumFmt{CustomNumFmt: c.XFormat, SourceLinked: c.XFormat == ""}},
		YAxis: excelize.ChartAxis{Title: words(c.YTitle), MajorGridLines: true}}
	if c.Bars {
		out.Type = excelize.Col
	}
	for _, s := range c.Series {
		over := func(column int) string {
			name := record.ColumnName(column)
			return fmt.Sprintf("%s!$%s$%d:$%s$%d", quotedName(sheet), name, s.First, name, s.Last)
		}
		one := excelize.ChartSeries{Categories: over(s.X), Values: over(s.Y),
			Name: fmt.Sprintf("%s!$%s$%d", quotedName(sheet), record.ColumnName(s.NameCol), s.NameRow)}
		if !c.Bars {
			one.Line, one.Marker = excelize.LineOptions{Type: excelize.LineNone}, excelize.ChartMarker{Symbol: "diamond", Size: 6}
			if s.Line {
				one.Line, one.Marker = excelize.LineOptions{Type: excelize.LineSolid, Width: 1.5}, excelize.ChartMarker{Symbol: "none"}
			}
		}
		out.Series = append(out.Series, one)
	}
	return f.AddChart(sheet, fmt.Sprintf("%s%d", record.ColumnName(c.Col), c.Row), out)
}

// quotedName is a sheet's name as formulas write it.
func quotedName(name string) string {
	out := []rune{'\''}
	for _, r := range name {
		if r == '\'' {
			out = append(out, '\'')
		}
		out = append(out, r)
	}
	return string(append(out, '\''))
}

func words(text string) excelize.ChartTitle {
	if text == "" {
		return excelize.ChartTitle{}
	}
	return excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Text: text}}}
}
