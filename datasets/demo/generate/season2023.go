package main

import (
	"fmt"
	"slices"

	"keelmark/datasets"
	"keelmark/ingest/workbook"
)

// season2023 is tidy: a long table a sheet, headings in the first row, true dates, grams to the nearest 5, lice
// in words.
func season2023(k *flock, truth *datasets.Truth) (string, []byte, error) {
	const name = "weights-2023.xlsx"
	n := datasets.FileCounts{Flock: datasets.DemoKeeper, File: name}
	old := every(on("2023-01-14"), on("2023-12-16"), 28)
	pages := []*page{
		birdList("Birds", k, func(b *bird) bool { return b.hatched < on("2024-01-01") }, workbook.Date),
		weights2023(k, name, old, &n, truth),
		lice2023(k, old, &n),
		treatments("Treatments", workbook.Date, &n,
			dose{"2023-03-04", "all", "flubendazole in feed", "worms", ""},
			dose{"2023-07-02", "pen B", "permethrin dust", "lice", ""},
			dose{"2023-07-10", "pen B", "permethrin dust", "lice", ""},
			dose{"2023-11-05", "pen A", "permethrin dust", "lice", ""},
			dose{"2023-11-13", "pen A", "permethrin dust", "lice", ""},
		),
		gone2023(k, &n),
	}
	return book(name, n, truth, pages...)
}

func weights2023(k *flock, file string, old []day, n *datasets.FileCounts, truth *datasets.Truth) *page {
	p := &page{name: "Weights", widths: []float64{12, 10, 12, 12, 16, 26}}
	p.headings("Date", "Ring", "Name", "Weight (g)", "Condition (0-3)", "Notes")
	young := every(on("2023-05-06"), on("2023-11-18"), 14)
	for _, d := range days(old, young) {
		for _, b := range k.birds {
			grown := b.hatched < on("2023-01-01")
			if !b.here(d) || d-b.hatched < 25 || grown && !slices.Contains(old, d) || !grown && !slices.Contains(young, d) {
				continue
			}
			g := step(b.weighed(d), 5)
			cell := grams(g)
			if b.ring == "W22-02" && d == on("2023-09-23") { // typed as kilograms, once
				g = step(g, 10)
				raw := fmt.Sprintf("%.2f", g/1000)
				cell = workbook.Number(g/1000, 2)
				truth.Doubtful = append(truth.Doubtful, datasets.DoubtCell{File: file, Sheet: p.name, Cell: cellName(4, p.next()),
					Ring: b.ring, Raw: raw, Grams: g, Why: "kilograms in a column of grams"})
			}
			condition := workbook.Cell{}
			if slices.Contains(old, d) && d-b.hatched > 60 {
				condition = score(b.condition(d))
				n.Conditions++
			}
			p.add(workbook.Date(d), text(b.ring), text(b.name), cell, condition, text(moultNote(b, d)))
			n.Weights++
		}
	}
	return p
}

func lice2023(k *flock, old []day, n *datasets.FileCounts) *page {
	p := &page{name: "Lice and mites", widths: []float64{12, 10, 12, 11, 11, 24}}
	p.headings("Date", "Ring", "Name", "Lice", "Mites", "Notes")
	words := [...]string{"none", "light", "moderate", "heavy"}
	again := []day{on("2023-07-08"), on("2023-07-22"), on("2023-08-05"), on("2023-11-04"), on("2023-12-02")} // about treatments
	for _, d := range days(old, again) {
		for _, b := range k.birds {
			if !b.here(d) || d-b.hatched < 30 || overlooked(b, d) {
				continue
			}
			lice, note := words[k.louse(b, d)], ""
			if lice == "heavy" {
				note = "egg clusters at the vent"
			}
			p.add(workbook.Date(d), text(b.ring), text(b.name), text(lice), text(words[b.mite(d)]), text(note))
			n.Lice++
			n.Mites++
		}
	}
	return p
}

func gone2023(k *flock, n *datasets.FileCounts) *page {
	p := &page{name: "Gone", widths: []float64{12, 10, 12, 12, 26}}
	p.headings("Date", "Ring", "Name", "Out", "Reason")
	var gone []*bird
	for _, b := range k.birds {
		if b.left != 0 && b.left < on("2024-01-01") {
			gone = append(gone, b)
		}
	}
	slices.SortFunc(gone, func(a, b *bird) int { return int(a.left - b.left) })
	for _, b := range gone {
		p.add(workbook.Date(b.left), text(b.ring), text(b.name), text(b.how), text(b.why))
		n.Gone++
	}
	return p
}
