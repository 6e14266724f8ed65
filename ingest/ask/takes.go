package ask

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// takes lists, by the class of a question, the only answers that it takes. Classes that are not here take free text,
// which is judged where it is read. The second value is false for those.
func takes(key string) ([]string, bool) {
	class, place, _ := strings.Cut(key, " ")
	units := []string{parse.Grams, parse.Kilos, parse.Pounds, parse.Ounces, parse.PoundOz}
	switch class {
	case "hidden_row", "hidden_column", "hidden_sheet", "struck_out", "pen_goes_on", "sheet_doubtful":
		return []string{"yes", "no"}, true
	case "date_order":
		return []string{string(parse.DMY), string(parse.MDY), string(parse.YMD)}, true
	case "date_serial_unformatted":
		if !strings.Contains(place, "!") { // of a column; of one cell the answer is its date
			return []string{"yes", "no"}, true
		}
	case "column_unknown":
		var out []string
		for _, f := range parse.Fields() {
			out = append(out, string(f))
		}
		return out, true
	case "values_unknown":
		var out []string
		for _, f := range UnderDates() {
			out = append(out, string(f))
		}
		return out, true
	case "layout_doubtful":
		return []string{"rows", "columns"}, true
	case "hemisphere":
		return []string{"north", "south"}, true
	case "age_unit_unknown":
		return []string{"d", "w"}, true
	case "sample_numbers":
		return []string{"samples", "birds"}, true
	case "treatment_in_remarks":
		return []string{"yes", ""}, true
	case "finding_in_remarks", "finding_in_words":
		return []string{""}, true
	case "departure_doubtful":
		return []string{string(record.Died), string(record.Departed), "returned", ""}, true
	case string(parse.TreatmentInDoubt):
		return []string{parse.WasGiven, parse.WasNot, parse.WasPlanned}, true
	case "unit_unknown":
		if !strings.Contains(place, "!") { // of a column; of one cell the answer is its weight
			return units, true
		}
	case "pounds_ambiguous":
		if !strings.Contains(place, "!") {
			return []string{parse.Pounds, parse.PoundOz}, true
		}
	}
	return nil, false
}

// UnderDates are what the values under dates may be, where nothing in a sheet says so.
func UnderDates() []parse.Field {
	return []parse.Field{parse.FieldWeight, parse.FieldCondition, parse.FieldFeather, parse.FieldParasite, parse.FieldEggCount, parse.FieldNote}
}

// aboutLeaving reports whether a question asks when a bird died or left.
func aboutLeaving(key string) bool {
	return strings.HasPrefix(key, string(parse.DeathMarker)+" ") || strings.HasPrefix(key, string(parse.EventMarker)+" ")
}

// Takes reports whether an answer is one that the question of this key can take. It knows the questions with few answers;
// what a free text says is judged where it is read.
func Takes(key, value string) bool {
	if strings.HasPrefix(key, "scale_unknown ") {
		_, ok := parse.ScaleIn(value)
		return ok
	}
	if strings.HasPrefix(key, string(parse.DateMissing)+" ") {
		_, p := parse.Date(parse.T(value), parse.DateIn{})
		return value == "" || p == nil || !p.Holds() || p.Class == parse.DateAmbiguous || p.Class == parse.DateYearMissing || p.Class == parse.SeasonAmbiguous
	}
	if aboutLeaving(key) {
		if value == "" || value == "yes" || value == string(record.Died) || value == string(record.Departed) {
			return true
		}
		_, p := parse.Date(parse.T(value), parse.DateIn{})
		return p == nil || !p.Holds() || p.Class == parse.DateAmbiguous || p.Class == parse.DateYearMissing
	}
	allowed, few := takes(key)
	return !few || slices.Contains(allowed, value)
}

// wrongWords tells of an answer that its question does not take, with the cure.
func (r *Replies) wrongWords(a settings.Answer) string {
	where := a.Cell
	if where == "" {
		where = a.Key
	}
	s := fmt.Sprintf("%s: the answer %q (%s) settles nothing", where, a.Value, r.lineOf(a))
	if allowed, few := takes(a.Key); few {
		names := make([]string, len(allowed))
		for i, v := range allowed {
			names[i] = fmt.Sprintf("%q", v)
		}
		return s + "; write one of " + strings.Join(names, ", ") + ", or delete it to be asked again"
	}
	if aboutLeaving(a.Key) {
		return s + "; write the day, such as 2025-03-01, or delete it to be asked again"
	}
	return s + "; delete it to be asked again, or write what the cell should say"
}
