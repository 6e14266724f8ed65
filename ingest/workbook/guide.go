package workbook

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

const (
	guideName  = "Guide"
	scalesName = "Scales"
)

// passage is one paragraph of the guide: what it is about in bold, then the text. A passage without text is a
// heading. No passage may look like data: no label with a colon, no line that begins with a date.
type passage struct{ lead, text string }

// passages is the text of the guide.
func passages(s record.Settings) []passage {
	day := map[string]string{"mdy": "Mar 14, 2026", "ymd": "2026-03-14"}[s.Dates.Order]
	if day == "" {
		day = "14 Mar 2026"
	}
	unit, weight := "grams", "612"
	switch weightUnit(s) {
	case "kg":
		unit, weight = "kilograms", "0.612"
	case "oz":
		unit, weight = "ounces", "21.5"
	case "lb", "lb-oz":
		unit, weight = "pounds and ounces, each in its own column", "lb 1, oz 5.5"
	}
	judged := "condition 3"
	if c := conditionScores(s); len(c) > 0 {
		if of := steps(c[0].scale); len(of) > 0 {
			name, _, _ := strings.Cut(c[0].heading, " (")
			judged = strings.ToLower(name) + " " + of[len(of)/2]
		}
	}
	nothing := "none"
	if slices.ContainsFunc(findings(s), func(c scored) bool { return c.declared }) {
		nothing = "none, or as the lowest step of your scale"
	}
	return []passage{
		{"How to fill it in", ""},
		{"Begin with the birds.", "One line for each bird in the sheet Birds. The rings that stand there are offered in the other sheets."},
		{"Write every line in full.", "Date and ring on every line, never “as above”. Dates show their month, so that a day and month that changed places are seen at once."},
		{"Write what you saw.", "An empty cell says that nobody looked. Looked and found nothing is written as " + nothing + "."},
		{"Dark blue asks for a second look.", "A ring that the sheet Birds does not hold, a date ahead of today or before the hatch date, a weight under 15 g or over 8 kg. Nothing is forbidden; what you leave will be asked about."},
		{"Keep the headings.", "Add lines as you need them. Columns that you do not use may be deleted. Keelmark reads this file and never changes it."},

		{"The sheets", ""},
		{"Weights.", fmt.Sprintf("One line each time a bird is weighed, in %s. Example: %s, R12, %s, %s, remark “before feeding”.", unit, day, weight, judged)},
		{"Checks.", fmt.Sprintf("One line each time you look for lice and mites. In Ring stands one bird, a pen (pen 3) or all; each parasite that you looked for gets a word, a step or a number. Example: %s, R12, lice %s, northern fowl mite 12, scorer AB.", day, lowest(s))},
		{"Treatments.", fmt.Sprintf("Product, dose and withdrawal as they stand on the label, or as the vet wrote them. Example: %s, pen 3, the product and its active ingredient, against red mite, dose as labelled, withdrawal as on the label, given by AB.", day)},
		{"Eggs.", fmt.Sprintf("One line for each setting; come back to it at candling and at hatching. Example: %s, setting 4, male R2, hens R12, 12 set, 2 clear, 1 dead early, 0 dead in shell, 9 hatched.", day)},
		{"Moves and losses.", fmt.Sprintf("One line for each move, show or loss. Example: %s, R12, moved to pen 4. Example: %s, R12, show “Spring show”, result “2nd of 7”.", day, day)},
		{"Scales.", "What each step means. Keep to one scale through a season."},

		{"Before anything else", ""},
		{"Stop signs.", "Sudden or several deaths; swollen head; blue or purple comb, wattles or legs; gasping; twisted neck, tremor or paralysis; green or bloody droppings; a sharp drop in lay, feed or water. Call a vet or the authority first: some of these may be signs of a notifiable disease."},
		{"Against lice and mites.", "Follow the label of the product. Dust and spray in the open air, with mask and gloves; keep it from the birds’ eyes, nostrils and mouth, from food, eggs, ponds, bees and fish; wash your hands afterwards."},
		{"Withdrawal.", "Copy it from the label, for eggs and for meat. An empty cell means unknown - do not assume none. Anything off the label only through a vet."},
		{"Trimming and killing.", "Nail, spur and beak have a living core that bleeds and hurts: little and often, in good light, and stop at blood. Killing is for trained people only. Laws differ: check yours."},
		{"Yourself.", "Wash your hands after handling birds. Children under five, people over 65 and people who are ill should not handle them."},
	}
}

// lowest is how the guide's example writes that nothing was found.
func lowest(s record.Settings) string {
	if c := findings(s)[0]; c.declared {
		if of := steps(c.scale); len(of) > 0 {
			return of[0]
		}
	}
	return "none"
}

// wordsWide is the width of a page of words in characters. Programs shrink a page by leaving out columns that
// do not fit, so one column must fit by itself.
const wordsWide = 94

// guide writes the guide: one page upright.
func (b *book) guide(s record.Settings, p page) error {
	title := "Recording workbook"
	if b.flock != "" {
		title = cut(b.flock, 50) + ", recording workbook"
	}
	l := leaf{name: guideName, widths: []float64{wordsWide}}
	l.add(30, dressed(Text(title).Bold(), look{blue: true, title: true}))
	for _, t := range passages(s) {
		if t.text == "" {
			l.add(20, dressed(Text(t.lead).Bold(), look{blue: true, head: true}))
			continue
		}
		body := excelize.Font{Size: typeSize, Family: typeface, Color: "000000"}
		lead := body
		lead.Bold = true
		c := dressed(Text(t.lead), look{wrap: true})
		c.runs = []excelize.RichTextRun{{Text: t.lead + " ", Font: &lead}, {Text: t.text, Font: &body}}
		l.add(wrapped(t.lead+" "+t.text, wordsWide), c)
	}
	return b.leaf(l, p)
}

// wrapped is the height in points of a text in a column of a width in figures. Letters are a little narrower on
// average: here by 4 in 100, in print by 8, so that no text is cut.
func wrapped(text string, width float64) float64 {
	const perLine, gap, narrower = 13, 6, 1.04
	return perLine*max(1, math.Ceil(float64(utf8.RuneCountInString(text))/(width*narrower))) + gap
}

// leaf is a sheet of words.
type leaf struct {
	name    string
	widths  []float64
	rows    [][]Cell
	heights []float64 // in points
}

func (l *leaf) add(height float64, cells ...Cell) {
	l.rows, l.heights = append(l.rows, cells), append(l.heights, height)
}

// leaf writes a sheet of words: one page upright, no grid.
func (b *book) leaf(l leaf, p page) error {
	if err := b.add(l.name); err != nil {
		return err
	}
	portrait, size, one := "portrait", paperA4, 1
	if p.letter {
		size = paperLetter
	}
	fit, tab, grid := true, darkBlue, false
	if err := b.file.SetSheetProps(l.name, &excelize.SheetPropsOptions{FitToPage: &fit, TabColorRGB: &tab}); err != nil {
		return err
	}
	if err := b.file.SetSheetView(l.name, 0, &excelize.ViewOptions{ShowGridLines: &grid}); err != nil {
		return err
	}
	if err := b.margins(l.name); err != nil {
		return err
	}
	if err := b.file.SetPageLayout(l.name, &excelize.PageLayoutOptions{Orientation: &portrait, Size: &size, FitToWidth: &one, FitToHeight: &one}); err != nil {
		return err
	}
	if err := b.running(l.name, "Withdrawal left empty means unknown - do not assume none. Stop signs: vet or authority first."); err != nil {
		return err
	}
	out, err := b.file.NewStreamWriter(l.name)
	if err != nil {
		return err
	}
	for i, width := range l.widths {
		if err := out.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	for i, row := range l.rows {
		if err := b.row(out, i+1, row, l.heights[i]); err != nil {
			return err
		}
	}
	return out.Flush()
}

// dressed gives a cell a look of the blank workbook.
func dressed(c Cell, l look) Cell {
	c.style.form = l
	return c
}

// scales writes the legend: each scale with its direction, the word of each step, and its source.
func (b *book) scales(s record.Settings, p page) error {
	const narrow = 16
	l := leaf{name: scalesName, widths: []float64{narrow, wordsWide - narrow}}
	for _, e := range legend(s) {
		l.add(20, dressed(Text(e.title).Bold(), look{head: true, blue: true}), dressed(Cell{}, look{head: true}))
		for _, step := range e.steps {
			l.add(wrapped(step[1], wordsWide-narrow), dressed(Text(step[0]).Bold(), look{ruled: true}), dressed(Text(step[1]), look{ruled: true, wide: true}))
		}
		for _, text := range e.remarks {
			l.add(wrapped(text, wordsWide-narrow), Cell{}, dressed(Text(text), look{wrap: true}))
		}
		l.add(12)
	}
	return b.leaf(l, p)
}

// entry is one scale of the legend.
type entry struct {
	title   string
	steps   [][2]string
	remarks []string
}

// legend lists the scales of the workbook's columns, then those that the settings declare beside them.
func legend(s record.Settings) []entry {
	var out []entry
	shown := map[string]bool{}
	of := func(title string, scale record.Scale) entry {
		shown[scale.Name] = true
		e := entry{title: title, remarks: []string{direction(scale)}}
		switch {
		case len(scale.Words) == 0:
			e.steps = append(e.steps, [2]string{numeral(scale.Min) + " to " + numeral(scale.Max), "no words are given for the steps"})
		case scale.Max > scale.Min:
			for _, v := range stepsWithWords(scale) { // "1 =" is no number, so that no reader takes the legend for data
				e.steps = append(e.steps, [2]string{numeral(v) + " =", wordsAt(scale, v)})
			}
		default:
			e.steps = append(e.steps, [2]string{"lowest first", strings.Join(wordsOf(scale), ", ")})
		}
		if scale.Source != "" {
			e.remarks = append(e.remarks, "Source: "+printable(scale.Source)+".")
		}
		return e
	}
	for _, c := range conditionScores(s) {
		e := of(c.heading, c.scale)
		if !c.declared {
			e.remarks = append(e.remarks, "Felt by hand on the breast, beside the keel.", "To have these scores compared from season to season, declare the scale in flock.toml, under scales.condition, with min 1, max 5 and direction “middle-best”.")
		}
		out = append(out, e)
	}
	plain := false
	for _, c := range findings(s) {
		if c.declared && !shown[c.scale.Name] {
			out = append(out, of(c.heading, c.scale))
		}
		plain = plain || !c.declared
	}
	if plain {
		out = append(out, entry{"Lice and mites", [][2]string{
			{"none", "looked, and none seen"},
			{"light", "a few, in one place"},
			{"moderate", "in several places"},
			{"heavy", "wherever the feathers are parted"},
		}, []string{"A higher word is worse. The words put findings in order and say nothing about how far apart they are; the number that you saw tells more, and may stand in the same column.",
			"Source: common practice, no source."}})
	}
	for _, name := range sortedScales(s) {
		if !shown[s.Scales[name].Name] {
			out = append(out, of(name, s.Scales[name]))
		}
	}
	for i := range out {
		out[i].title = printable(strings.TrimSuffix(out[i].title, ":"))
	}
	return out
}
