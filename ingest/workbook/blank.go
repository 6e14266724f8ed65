package workbook

import (
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// headHatched is the heading of the dates that the names in the workbook cover.
const headHatched = "Hatch date"

// Blank writes a recording workbook to fill in, made for the settings: a guide, one sheet for each kind of
// record (birds, weights, checks, treatments, eggs, moves and losses) and the scales. Drop-downs offer the
// rings of the sheet of birds and the steps of the scales; what cannot be is coloured and warned of, nothing
// is forbidden. Birds are entered in the sheet of birds, in the given order; nil leaves it empty. Where one
// ring was worn by several, only the last wearer is entered.
//
// The headings say unit and scale, so that a filled workbook reads back without a question: weights are in
// Settings.Units.Weight, else Flock.Units, else grams; pounds take two columns, lb and oz. Dates show as
// Dates.Order says, the month as a word; the paper is Show.Paper, else Letter for US and CA, else A4. A column
// is headed by the scale of the settings where they declare one: then flock.toml must lie beside the workbook.
//
// Examples stand in the guide only, as sentences. The same arguments give the same bytes.
func Blank(w io.Writer, s record.Settings, birds []record.Bird) error {
	b := newBook()
	defer b.file.Close()
	if err := b.typeface(); err != nil {
		return err
	}
	b.flock = printable(s.Flock.Name)
	p := page{letter: s.Show.Paper == "Letter" || s.Show.Paper == "" && (s.Flock.Country == "US" || s.Flock.Country == "CA")}
	register := birdsForm(s, birds)
	if len(register.rows) > birdLines {
		return fmt.Errorf("%d birds are more than the %d lines of the register; write a workbook for each part of the flock", len(register.rows), birdLines)
	}
	if err := b.guide(s, p); err != nil {
		return fmt.Errorf("sheet %s: %w", guideName, err)
	}
	for _, f := range []form{register, weightsForm(s), checksForm(s), treatmentsForm(s), eggsForm(s), movesForm(s)} {
		if err := b.form(f, p); err != nil {
			return fmt.Errorf("sheet %s: %w", f.name, err)
		}
	}
	if err := b.scales(s, p); err != nil {
		return fmt.Errorf("sheet %s: %w", scalesName, err)
	}
	if err := b.names(register); err != nil {
		return err
	}
	return b.write(w)
}

// printable drops what no line of a page can hold.
func printable(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s))
}

// dateFormat shows the month as a word, so that a day and month that were swapped are seen at once.
func dateFormat(s record.Settings) string {
	switch s.Dates.Order {
	case "mdy":
		return "mmm d, yyyy"
	case "ymd":
		return "yyyy-mm-dd"
	}
	return "d mmm yyyy"
}

func dateColumn(s record.Settings, tip string) column {
	return column{heading: "Date", width: 14, format: dateFormat(s), tip: tip,
		limits:  limits{excelize.DataValidationTypeDate, 32874, "TODAY()"},
		warning: "This is no date, or it lies ahead of today. Is it right?",
		mark:    "OR(" + dateMissing + "," + dateWrong + ")"}
}

// birdDate is the date of a line that names one bird, or a pen or the flock.
func birdDate(s record.Settings, tip string) column {
	c := dateColumn(s, tip)
	c.mark = "OR(" + dateMissing + "," + dateWrong + "," + beforeHatch + ")"
	return c
}

func oneBird() column {
	return column{heading: "Ring", width: 13, format: asTyped, named: nameOffered, mark: "OR(" + ringMissing + "," + ringUnknown + ")",
		tip:     "One of the rings in the sheet Birds. Write it on every line.",
		warning: "The sheet Birds does not hold this ring. Check the spelling, or enter the bird there first."}
}

func birdPenOrFlock() column {
	return column{heading: "Ring", width: 13, format: asTyped, named: nameOffered, mark: "OR(" + ringMissing + ",AND(NOT(" + notOneBird + ")," + ringUnknown + "))",
		tip: "For one bird its ring. For a pen write pen and its name, as in the sheet Birds: pen 3. For the whole flock write all."}
}

func remarks(width float64, tip string) column {
	return column{heading: "Remarks", width: width, format: asTyped, tip: tip}
}

func birdsForm(s record.Settings, birds []record.Bird) form {
	breed := column{heading: "Breed", width: 17, format: asTyped}
	if s.Flock.Breed != "" {
		breed.tip = "May stay empty for " + printable(s.Flock.Breed) + "."
	}
	return form{name: "Birds", foot: "One line for each bird. Rings are kept as typed, with their zeros.",
		columns: []column{
			{heading: "Ring", width: 13, format: asTyped, mark: ringTwice,
				tip:     "As it stands on the ring, zeros and all. A bird without a ring: its name. Where one number is worn in two colours: red 12.",
				limits:  limits{excelize.DataValidationTypeTextLength, 1, 40},
				warning: "A ring is short. Is this one right?"},
			{heading: "Ring colour", width: 9, format: asTyped},
			{heading: "Leg", width: 8, format: asTyped, offer: []string{"left", "right"}, tip: "The leg that wears the ring."},
			{heading: "Name", width: 14, format: asTyped},
			{heading: "Sex", width: 9, format: asTyped, offer: []string{"male", "female"}, warning: "Write male or female, or leave it empty while you are not sure.", tip: "Empty while you are not sure."},
			breed,
			{heading: "Variety", width: 14, format: asTyped},
			{heading: "Size", width: 9, format: asTyped, offer: []string{string(record.Large), string(record.Bantam)}, warning: "Write large or bantam."},
			{heading: "Strain", width: 12, format: asTyped},
			{heading: headHatched, width: 13, tip: "As far as you know it: 14 March 2026, March 2026, or only the year.",
				mark: `AND(ISNUMBER([.]),OR([.]>TODAY(),AND([.]>2100,[.]<32874)))`}, // a number up to 2100 is a year
			{heading: "Pen", width: 10, format: asTyped, tip: "Write pen and its name, and the same in the other sheets: pen 3."},
			{heading: "Came from", width: 18, format: asTyped, tip: "Bred here, or where you had it from."},
		}, rows: register(birds, dateFormat(s))}
}

// weightUnit is the unit in which weights are entered.
func weightUnit(s record.Settings) string {
	switch u := s.Units.Weight; {
	case u != "":
		return u
	case s.Flock.Units != "":
		return s.Flock.Units
	}
	return "g"
}

// The limits of a weight are those of the trait table in grams: 15 g to 8 kg.
func weightColumns(unit string) []column {
	const pound, ounce = 453.59237, 28.349523125 // grams. Source: NIST Handbook 44 (2023), Appendix C
	spec, _ := record.Weight.Lookup()
	const odd = "A weight from 15 g to 8 kg is expected. Is the unit right?"
	one := func(heading, format string, grams float64, tip string) []column {
		low, high := numeral(spec.Low/grams), numeral(spec.High/grams)
		return []column{{heading: heading, width: 13, format: format, warning: odd, tip: tip,
			limits: limits{excelize.DataValidationTypeDecimal, low, high},
			mark:   fmt.Sprintf("AND(ISNUMBER([.]),OR([.]<%s,[.]>%s))", low, high)}}
	}
	switch unit {
	case "kg":
		return one("Weight (kg)", "0.000", 1000, "In kilograms: 0.612.")
	case "oz":
		return one("Weight (oz)", "0.0", ounce, "In ounces.")
	case "lb", "lb-oz":
		most := int(spec.High / pound)
		ounces := "N([lb])*16+N([oz])"
		return []column{
			{heading: "lb", width: 7, format: "0", tip: "Whole pounds. Below one pound write 0.", warning: odd,
				limits: limits{excelize.DataValidationTypeWhole, 0, most},
				mark:   fmt.Sprintf(`OR(AND([lb]="",[oz]<>""),AND(COUNT([lb],[oz])>0,OR(%s<%s,%s>%s)))`, ounces, numeral(spec.Low/ounce), ounces, numeral(spec.High/ounce))},
			{heading: "oz", width: 7, format: "0.##", tip: "Ounces, 0 to 15, and parts of one: 4.5.",
				warning: "A pound has 16 ounces: write 0 to 15.",
				limits:  limits{excelize.DataValidationTypeDecimal, 0, "15.99"},
				mark:    `AND(ISNUMBER([oz]),OR([oz]<0,[oz]>=16))`},
		}
	}
	return one("Weight (g)", "0", 1, "In grams, without the unit.")
}

func weightsForm(s record.Settings) form {
	columns := append([]column{birdDate(s, "The day of weighing, on every line."), oneBird()}, weightColumns(weightUnit(s))...)
	for _, c := range conditionScores(s) {
		columns = append(columns, scoreColumn(c, 16, "Empty where you did not judge. The steps are in the sheet Scales."))
	}
	rest := 95.0
	for _, c := range columns {
		rest -= c.width
	}
	columns = append(columns, remarks(max(20, rest), "Treatments, eggs, moves and losses have sheets of their own."))
	return form{name: "Weights", portrait: len(columns) <= 7, columns: columns, foot: "One line for each weighing. An empty cell says that nobody weighed or judged."}
}

// scoreColumn is a column whose cells are steps of a scale.
func scoreColumn(c scored, width float64, tip string) column {
	out := column{heading: c.heading, width: width, offer: steps(c.scale), tip: tip, warning: "This is no step of the scale. The steps are in the sheet Scales."}
	if c.scale.Max > c.scale.Min {
		low, high := numeral(c.scale.Min), numeral(c.scale.Max)
		if out.offer == nil {
			out.limits = limits{excelize.DataValidationTypeDecimal, low, high}
		}
		out.mark = fmt.Sprintf("AND(ISNUMBER([.]),OR([.]<%s,[.]>%s))", low, high)
	}
	return out
}

// amounts are the words that a finding may be written in, where no scale is declared.
func amounts() []string { return []string{"none", "light", "moderate", "heavy"} }

func checksForm(s record.Settings) form {
	columns := []column{birdDate(s, "The day of the look, on every line."), birdPenOrFlock()}
	for _, c := range findings(s) {
		if c.declared {
			columns = append(columns, scoreColumn(c, 12, "Looked and none seen is the lowest step. Empty where you did not look for it."))
			continue
		}
		columns = append(columns, column{heading: c.heading, width: 12, offer: amounts(),
			tip:  "none, light, moderate or heavy; or the number that you saw. Looked and none seen is none. Empty where you did not look for it.",
			mark: `AND([.]<>"",NOT(OR(AND(ISNUMBER([.]),[.]>=0),[.]="none",[.]="light",[.]="moderate",[.]="heavy")))`})
	}
	columns = append(columns, column{heading: "Scorer", width: 12, format: asTyped, tip: "Who looked: initials will do."}, remarks(53, "Where on the bird or in the house, and what else you saw."))
	return form{name: "Checks", columns: columns, foot: "Looked and found nothing is written as none. An empty cell says that nobody looked for it."}
}

func treatmentsForm(s record.Settings) form {
	return form{name: "Treatments", foot: "Withdrawal left empty means unknown - do not assume none. Follow the label; anything off the label only through a vet.",
		columns: []column{
			birdDate(s, "The day on which it was given, on every line. A second treatment is a second line."), birdPenOrFlock(),
			{heading: "Product", width: 28, format: asTyped, tip: "As it stands on the label, or its active ingredient.", mark: `AND([Product]="",COUNTA([line])>1)`},
			{heading: "Against", width: 18, format: asTyped, offer: []string{record.Lice, record.NorthernFowlMite, record.RedMite, record.ScalyLegMite, "worms"}, tip: "One of the list, or your own words."},
			{heading: "Dose", width: 18, format: asTyped, tip: "As labelled, or as the vet wrote it."},
			{heading: "Withdrawal", width: 22, format: asTyped, remind: `AND([Product]<>"",[Withdrawal]="")`,
				tip: "For eggs and for meat, as on the label. Empty means unknown - do not assume none. Where the label says none, write 0 days."},
			{heading: "Given by", width: 11, format: asTyped},
			remarks(18, ""),
		}}
}

func eggsForm(s record.Settings) form {
	count := func(heading string, width float64, tip string) column {
		return column{heading: heading, width: width, format: "0", tip: tip,
			limits: limits{excelize.DataValidationTypeWhole, 0, 1000}, warning: "Write a whole number, or leave it empty while you do not know."}
	}
	set := count("Eggs set", 9, "")
	set.mark = `AND(ISNUMBER([.]),SUM([Clear],[Dead early],[Dead in shell],[Chicks hatched])>[.])`
	stored := count("Days stored", 9, "Between laying and setting; of several eggs the longest.")
	stored.limits.high = 60
	return form{name: "Eggs", foot: "One line for each setting. Counts that are not known yet stay empty; 0 says that there were none.",
		columns: []column{
			dateColumn(s, "The day on which the eggs were set."),
			{heading: "Setting", width: 10, format: asTyped, tip: "Its number or name, one line for each."},
			{heading: "Male", width: 13, format: asTyped, named: nameOffered, tip: "Ring of the male that was with the hens."},
			{heading: "Hens", width: 19, format: asTyped, named: nameOffered, tip: "Ring of the hen, or several with commas between, or the pen: pen 3. One hen a line tells most."},
			set, stored,
			count("Clear", 9, "Clear at candling: infertile, or dead very early."),
			count("Dead early", 9, "Blood ring or quit."),
			count("Dead in shell", 9, "Fully grown or nearly so, not hatched."),
			count("Chicks hatched", 10, "Chicks that hatched."),
			remarks(28, "Cracked eggs that were taken out, candling days, broody or incubator."),
		}}
}

func movesForm(s record.Settings) form {
	return form{name: "Moves and losses", foot: "Several deaths, or sudden ones, are a stop sign: vet or authority first.",
		columns: []column{
			birdDate(s, "The day on which it happened."), oneBird(),
			{heading: "Moved to", width: 14, format: asTyped, tip: "The pen it went to, as in the sheet Birds: pen 3."},
			{heading: "Show", width: 26, format: asTyped, tip: "Name of the show. The result goes beside it."},
			{heading: "Result", width: 19, format: asTyped, mark: `AND([Show]<>"",[Result]="")`, tip: "As on the card, with the number in the class: 2nd of 7. No card: not placed."},
			{heading: "Gone", width: 19, format: asTyped, offer: gone(), warning: "Choose one of the list, so that it is read without a question.", tip: "How the bird left the flock."},
			{heading: "Reason", width: 37, format: asTyped, tip: "Why, or to whom."},
		}}
}

// gone are the ways in which a bird leaves.
func gone() []string {
	return []string{"died", "put down", "killed by a predator", "sold", "given away", "lent", "lost"}
}
