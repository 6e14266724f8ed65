package workbook

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// scored is a column that judges on a scale.
type scored struct {
	heading  string
	scale    record.Scale
	declared bool // in flock.toml
}

// defaultCondition is the scale of body condition where flock.toml declares none.
//
// Source: five words from too thin to too fat with the middle best are common practice, no source; the words
// are ours.
func defaultCondition() record.Scale {
	return record.Scale{Name: string(record.Condition), Min: 1, Max: 5, Direction: "middle-best",
		Words:  map[string]float64{"very thin": 1, "thin": 2, "right": 3, "full": 4, "fat": 5},
		Source: "common practice, no source"}
}

// conditionScores returns the columns of scores on the sheet of weights: condition always, the other traits
// where the settings declare a scale for them.
func conditionScores(s record.Settings) []scored {
	var out []scored
	for _, of := range []struct {
		trait   record.Trait
		heading string
		also    []string // what keepers call the scale
	}{
		{record.Condition, "Condition", []string{"keel", "bcs", "cond", "body condition", "condition score", "keel score", "breast", "fleshing"}},
		{record.Feather, "Feathers", []string{"feathers", "plumage", "feather score", "plumage score", "feathering"}},
		{record.Leg, "Legs", []string{"legs", "leg score", "shanks"}},
		{record.Comb, "Comb", []string{"comb score"}},
	} {
		scale, name, ok := declaredFor(s, of.trait, of.also)
		switch {
		case !ok && of.trait == record.Condition:
			scale = defaultCondition()
			out = append(out, scored{of.heading + spread(scale), scale, false})
		case ok && name == string(of.trait):
			out = append(out, scored{of.heading + spread(scale), scale, true})
		case ok:
			out = append(out, scored{name, scale, true}) // under its own name the column finds its scale again
		}
	}
	return out
}

// declaredFor finds the scale that the settings declare for a trait: under the trait's name, a column's heading
// that they give to the trait, or another name of the trade.
func declaredFor(s record.Settings, trait record.Trait, also []string) (record.Scale, string, bool) {
	if scale, ok := s.Scales[string(trait)]; ok {
		return scale, string(trait), true
	}
	for _, name := range slices.Sorted(maps.Keys(s.Scales)) {
		if s.Columns[name] == string(trait) || slices.Contains(also, strings.ToLower(name)) {
			return s.Scales[name], name, true
		}
	}
	return record.Scale{}, "", false
}

// findings returns the columns of parasites on the sheet of checks.
func findings(s record.Settings) []scored {
	var out []scored
	for _, of := range []struct{ heading, other string }{
		{"Lice", record.Lice}, {"Northern fowl mite", "nfm"}, {"Red mite", "red mites"}, {"Scaly leg", record.ScalyLegMite},
	} {
		c := scored{heading: of.heading}
		if scale, ok := s.Scales[string(record.Parasite)]; ok {
			c.scale, c.declared = scale, true
		}
		for _, name := range slices.Sorted(maps.Keys(s.Scales)) {
			if strings.EqualFold(name, of.heading) || strings.EqualFold(name, of.other) {
				c = scored{name, s.Scales[name], true}
			}
		}
		out = append(out, c)
	}
	return out
}

// spread is a scale as a heading states it, " (1-5)", where it is one that headings state: whole numbers from 0
// or 1. Else "".
func spread(s record.Scale) string {
	if s.Min != 0 && s.Min != 1 || s.Max < s.Min+2 || s.Max > 20 || s.Max != float64(int(s.Max)) {
		return ""
	}
	return fmt.Sprintf(" (%g-%g)", s.Min, s.Max)
}

// steps are what the drop-down of a scale offers: its whole numbers, or its words where it has no numbers. Nil
// where there are too many.
func steps(s record.Scale) []string {
	if s.Max <= s.Min {
		words := wordsOf(s)
		if len(strings.Join(words, ",")) > 250 || strings.Contains(strings.Join(words, ""), ",") {
			return nil // more than a drop-down can hold
		}
		return words
	}
	if s.Max-s.Min > 20 || s.Min != float64(int(s.Min)) || s.Max != float64(int(s.Max)) {
		return nil
	}
	var out []string
	for v := s.Min; v <= s.Max; v++ {
		out = append(out, numeral(v))
	}
	return out
}

// wordsOf lists the words of a scale, lowest step first.
func wordsOf(s record.Scale) []string {
	return slices.SortedFunc(maps.Keys(s.Words), func(a, b string) int {
		return cmp.Or(cmp.Compare(s.Words[a], s.Words[b]), strings.Compare(a, b))
	})
}

// stepsWithWords lists the steps of a scale that have words, lowest first.
func stepsWithWords(s record.Scale) []float64 {
	return slices.Compact(slices.Sorted(maps.Values(s.Words)))
}

// wordsAt joins the words of one step.
func wordsAt(s record.Scale, step float64) string {
	var out []string
	for _, w := range wordsOf(s) {
		if s.Words[w] == step {
			out = append(out, w)
		}
	}
	return strings.Join(out, ", ")
}

// direction says in words which end of a scale is good.
func direction(s record.Scale) string {
	switch s.Direction {
	case "high-good":
		return "A higher step is better."
	case "high-bad":
		return "A higher step is worse."
	case "middle-best":
		return "The middle is best."
	}
	return "Which end is good is not said in flock.toml; until it is, these scores are shown but not compared."
}

// sortedScales lists the names of the declared scales.
func sortedScales(s record.Settings) []string { return slices.Sorted(maps.Keys(s.Scales)) }
