package workbook

import (
	"fmt"
	"strconv"

	"github.com/xuri/excelize/v2"

	"keelmark/ingest/record"
)

// Names in the workbook: the rings of the register, the dates beside them, and the rings down to the last one
// written, which the drop-downs offer.
const (
	nameRings   = "Rings"
	nameHatched = "HatchDates"
	nameOffered = "RingList"
)

// What the notes beside a cell can hold, in characters. Source: ECMA-376 part 1, 18.3.1.32, promptTitle and
// prompt.
const maxTipTitle, maxTip = 32, 255

// birdLines is how many birds the register holds for the checks.
const birdLines = 500

// names defines the names that checks and drop-downs use.
func (b *book) names(register form) error {
	hatched := ""
	for i, c := range register.columns {
		if c.heading == headHatched {
			hatched = record.ColumnName(i + 1)
		}
	}
	for _, n := range [][2]string{
		{nameRings, fmt.Sprintf("%s!$A$2:$A$%d", register.name, birdLines+1)},
		{nameHatched, fmt.Sprintf("%s!$%s$2:$%s$%d", register.name, hatched, hatched, birdLines+1)},
		{nameOffered, fmt.Sprintf(`OFFSET(%s!$A$2,0,0,MAX(1,SUMPRODUCT(MAX((%s<>"")*ROW(%s)))-1),1)`, register.name, nameRings, nameRings)},
	} {
		if err := b.file.SetDefinedName(&excelize.DefinedName{Name: n[0], RefersTo: n[1]}); err != nil {
			return err
		}
	}
	return nil
}

// Conditions of a second look. An unknown ring is one that the register does not hold; a date cannot be where
// it lies ahead, before 1990, or before the bird's hatch date.
const (
	ringMissing = `AND([Ring]="",COUNTA([line])>1)`
	ringUnknown = `AND([Ring]<>"",SUMPRODUCT(--(Rings&""=[Ring]&""))=0)`
	ringTwice   = `AND([Ring]<>"",SUMPRODUCT(--(Rings&""=[Ring]&""))>1)`
	notOneBird  = `OR([Ring]="all",LEFT([Ring],4)="pen ")`
	dateMissing = `AND([Date]="",COUNTA([line])>0)`
	dateWrong   = `AND(ISNUMBER([Date]),OR([Date]>TODAY(),[Date]<32874))` // 32874 is 1 January 1990
	beforeHatch = `AND(ISNUMBER([Date]),[Ring]<>"",SUMPRODUCT((Rings&""=[Ring]&"")*ISNUMBER(HatchDates)*(HatchDates>[Date]))>0)`
)

// validate sets the drop-down, tip and warning of a column.
func (b *book) validate(f form, c column, n int) error {
	v := excelize.NewDataValidation(true)
	v.SetSqref(lines(n))
	switch {
	case len(c.offer) > 0:
		if err := v.SetDropList(c.offer); err != nil {
			return err
		}
	case c.named != "":
		v.SetSqrefDropList(c.named)
	case c.limits.kind != 0:
		if err := v.SetRange(c.limits.low, c.limits.high, c.limits.kind, excelize.DataValidationOperatorBetween); err != nil {
			return err
		}
	case c.tip == "":
		return nil
	}
	if c.tip != "" {
		v.SetInput(cut(c.heading, maxTipTitle), cut(c.tip, maxTip))
	}
	if c.warning != "" {
		v.SetError(excelize.DataValidationErrorStyleWarning, "A second look", c.warning)
	}
	return b.file.AddDataValidation(f.name, v)
}

// marks sets the conditional formats of a column.
func (b *book) marks(f form, c column, n int) error {
	for _, m := range []struct {
		when string
		look excelize.Style
	}{
		{c.mark, excelize.Style{Font: &excelize.Font{Color: "FFFFFF", Bold: true}, Fill: solid(darkBlue)}},
		{c.remind, excelize.Style{Fill: solid(paleBlue)}},
	} {
		if m.when == "" {
			continue
		}
		formula, err := f.resolve(m.when, n)
		if err != nil {
			return err
		}
		if err := b.when(f.name, lines(n), formula, m.look); err != nil {
			return err
		}
	}
	return nil
}

// lateLines rules the lines below the printed page as they are filled, so that an empty form prints as one page.
func (b *book) lateLines(f form, from int) error {
	var around []excelize.Border
	for _, side := range []string{"left", "right", "top", "bottom"} {
		around = append(around, excelize.Border{Type: side, Style: thinLine, Color: paleBlue})
	}
	last := record.ColumnName(len(f.columns))
	formula := fmt.Sprintf("COUNTA($A%d:$%s%d)>0", from, last, from)
	return b.when(f.name, fmt.Sprintf("A%d:%s%d", from, last, lastLine), formula, excelize.Style{Border: around})
}

func (b *book) when(sheet, cells, formula string, look excelize.Style) error {
	id, err := b.file.NewConditionalStyle(&look)
	if err != nil {
		return err
	}
	return b.file.SetConditionalFormat(sheet, cells, []excelize.ConditionalFormatOptions{{Type: "formula", Criteria: formula, Format: &id}})
}

func solid(color string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{color}}
}

// numeral writes a limit as formulas write numbers.
func numeral(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
