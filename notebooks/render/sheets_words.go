package render

import (
	"fmt"
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// observed says what a look was read as: "weight 612 g on 2025-03-01, R12 Sloe (lb to g)".
func observed(o *record.Observation, bird string) string {
	spec, _ := o.Trait.Lookup()
	name, unit := spec.Label, ""
	if name == "" {
		name = string(o.Trait)
	}
	if o.Trait == record.Parasite && o.Parasite != "" {
		name = o.Parasite
	}
	if spec.Unit != "" {
		unit = " " + spec.Unit
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	d := o.Detail()
	value := number(o.Value) + unit
	switch o.Form {
	case record.Range:
		value = number(o.Lo) + " to " + number(o.Hi) + unit
	case record.MoreThan:
		value = "more than " + number(o.Lo) + unit
	case record.LessThan:
		value = "less than " + number(o.Hi) + unit
	case record.AtLeast:
		value = number(o.Lo) + unit + " or more"
	case record.Present:
		if value = "found"; o.Value == 0 {
			value = "looked, none found"
		}
	default:
		if o.Scale == "words" && d.Word != "" {
			value = d.Word
		} else if o.Scale != "" {
			value += " on the scale " + o.Scale
		}
	}
	words := name + " " + value
	if o.On.Known() {
		words += " on " + o.On.String()
	} else if n, ok := o.Age.Days(); ok {
		words += fmt.Sprintf(" at %d days of age", n)
	}
	switch {
	case bird != "":
		words += ", " + bird
	case d.Pen != "":
		words += ", pen " + d.Pen
	case d.Scope == record.WholeFlock:
		words += ", the whole flock"
	}
	if len(d.Steps) > 0 {
		words += " (" + strings.Join(d.Steps, "; ") + ")"
	}
	return words
}

// happened says what an event was read as.
func happened(e *record.Event, bird string) string {
	words := string(e.Kind)
	if t := e.Treatment; t != nil && t.Product != "" {
		words += " with " + t.Product
	}
	if e.On.Known() {
		words += " on " + e.On.String()
	}
	switch {
	case bird != "":
		words += ", " + bird
	case e.Pen != "":
		words += ", pen " + e.Pen
	case e.Scope == record.WholeFlock:
		words += ", the whole flock"
	}
	if e.Result != "" {
		words += ": " + e.Result
	}
	return words
}
