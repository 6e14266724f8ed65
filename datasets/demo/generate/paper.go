package main

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"keelmark/datasets"
	"keelmark/ingest/record"
	"keelmark/ingest/workbook"
)

// page is a sheet while it is filled.
type page struct {
	name   string
	rows   [][]workbook.Cell
	widths []float64
	frozen int
}

func (p *page) add(cells ...workbook.Cell) { p.rows = append(p.rows, cells) }

// next is the number of the row that the next add fills.
func (p *page) next() int { return len(p.rows) + 1 }

func (p *page) headings(names ...string) {
	var cells []workbook.Cell
	for _, n := range names {
		cells = append(cells, workbook.Heading(n))
	}
	p.add(cells...)
	p.frozen = len(p.rows)
}

// book binds the pages and hands the counts to the truth.
func book(name string, counts datasets.FileCounts, truth *datasets.Truth, pages ...*page) (string, []byte, error) {
	var sheets []workbook.Sheet
	for _, p := range pages {
		sheets = append(sheets, workbook.Sheet{Name: p.name, Rows: p.rows, Widths: p.widths, Frozen: p.frozen})
	}
	var out bytes.Buffer
	if err := workbook.Write(&out, sheets); err != nil {
		return "", nil, fmt.Errorf("%s: %w", name, err)
	}
	truth.Files = append(truth.Files, counts)
	return name, out.Bytes(), nil
}

// text, grams and date are the cells of a sheet; the zero value of each stays empty.
func text(s string) workbook.Cell {
	if s == "" {
		return workbook.Cell{}
	}
	return workbook.Text(s)
}

func grams(g float64) workbook.Cell { return workbook.Number(g, 0) }

func score(n int) workbook.Cell { return workbook.Number(float64(n), 0).Centred() }

// step rounds to the steps of a scale.
func step(v, size float64) float64 { return math.Round(v/size) * size }

// ounce in grams.
//
// Source: a sixteenth of the international pound of 1959, 453.59237 g.
const ounce = 453.59237 / 16

// lbOz writes grams as pounds and ounces in half ounces, the way the keeper of the demo writes them.
func lbOz(g float64) string {
	halves := int(math.Round(2 * g / ounce))
	lb, rest := halves/32, halves%32
	oz := fmt.Sprint(rest / 2)
	if rest == 1 {
		oz = "½"
	} else if rest%2 == 1 {
		oz += "½"
	}
	if lb == 0 {
		return oz + " oz"
	}
	return fmt.Sprintf("%d lb %s oz", lb, oz)
}

// mdy writes a date as 4/26/25.
func mdy(d day) string {
	y, m, dd := d.Date()
	return fmt.Sprintf("%d/%d/%02d", int(m), dd, y%100)
}

// every lists the days from first to last, both included, in steps.
func every(first, last day, step int) []day {
	var out []day
	for d := first; d <= last; d += day(step) {
		out = append(out, d)
	}
	return out
}

// cellName is the name of a cell, such as D14.
func cellName(col, row int) string { return fmt.Sprintf("%s%d", record.ColumnName(col), row) }

// days merges lists of days, in order, each once.
func days(lists ...[]day) []day {
	out := slices.Concat(lists...)
	slices.Sort(out)
	return slices.Compact(out)
}

// birdList is a sheet of the birds that belong, their hatch dates written as date writes them.
func birdList(name string, k *flock, belongs func(*bird) bool, date func(day) workbook.Cell) *page {
	p := &page{name: name}
	p.headings("Ring", "Name", "Breed", "Variety", "Size", "Sex", "Hatched", "Pen")
	for _, b := range k.birds {
		if belongs(b) {
			p.add(text(b.ring), text(b.name), text(b.breed), text(b.variety), text(string(b.size)), text(string(b.sex)), date(b.hatched), text(b.pen))
		}
	}
	return p
}

// dose is one treatment as the keeper wrote it down; an empty withdrawal is one that was not written.
type dose struct{ on, bird, what, against, withdrawal string }

func treatments(name string, date func(day) workbook.Cell, n *datasets.FileCounts, given ...dose) *page {
	p := &page{name: name, widths: []float64{12, 14, 26, 12, 24, 8}}
	p.headings("Date", "Bird", "Treatment", "Against", "Withdrawal", "By")
	for _, t := range given {
		p.add(date(on(t.on)), text(t.bird), text(t.what), text(t.against), text(t.withdrawal), text("me"))
		n.Treatments++
	}
	return p
}

// moultNote is what the keeper notes of a bird whose moult shows.
func moultNote(b *bird, d day) string {
	if b.moulting(d) {
		return "in moult"
	}
	return ""
}

// overlooked reports whether the keeper did not catch the bird on a day of checks.
func overlooked(b *bird, d day) bool { return dice("skip "+b.ring+d.String()).Float64() < 0.06 }
