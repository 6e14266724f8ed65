package condition

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// Directions of a declared scale.
const (
	highGood   = "high-good"
	highBad    = "high-bad"
	middleBest = "middle-best"
)

// Score is one score of one bird.
type Score struct {
	Bird    string
	Trait   record.Trait
	On      record.Date
	Value   float64
	Scale   string // its name; "" where none was stated
	Scorer  string // "" where not written
	Session string
	Pen     string
	Text    string // as typed
	At      record.Ref
}

// traits are the scored traits, in printing order.
func traits() []record.TraitSpec {
	var out []record.TraitSpec
	for _, t := range record.Traits() {
		if t.Scored {
			out = append(out, t)
		}
	}
	return out
}

// Scores lists the dated scores up to today that need no confirmation, oldest first, and counts those left out: records
// to be confirmed, and scores that are no single step ("1-2", "<2") or have no date.
func Scores(d *record.Dataset, today record.Day) (out []Score, left int) {
	for _, o := range d.Observations {
		if spec, ok := o.Trait.Lookup(); !ok || !spec.Scored || o.Bird == "" {
			continue
		}
		if o.Flagged || o.Form != record.Ordinal && o.Form != record.Measured || !o.On.Known() || o.On.First > today ||
			o.On.Last-o.On.First > 31 {
			left++
			continue
		}
		more := o.Detail()
		out = append(out, Score{o.Bird, o.Trait, o.On, o.Value, o.Scale, more.Scorer, more.Session, more.Pen, o.Text, o.At})
	}
	slices.SortStableFunc(out, func(a, b Score) int {
		return cmp.Or(cmp.Compare(a.On.First, b.On.First), a.At.Compare(b.At))
	})
	return out, left
}

// scaleOf finds the declared scale of a score: by the scale's own name, else by the trait's. The second result is false
// where none is declared.
func scaleOf(scales map[string]record.Scale, s Score) (record.Scale, bool) {
	for _, name := range []string{s.Scale, string(s.Trait)} {
		for _, key := range slices.Sorted(maps.Keys(scales)) {
			scale := scales[key]
			if name != "" && strings.EqualFold(key, name) && scale.Max > scale.Min && slices.Contains([]string{highGood, highBad, middleBest}, scale.Direction) {
				return scale, true
			}
		}
	}
	return record.Scale{}, false
}

// Thirds of a scale on which a score counts as speaking for or against a bird.
//
// Source: ours, no source: the outer thirds of the scale's length after its direction; the middle stays open.
const (
	goodFrom = 2.0 / 3
	badTo    = 1.0 / 3
)

// Goodness is the place of a value on its scale from 0 (worst end) to 1 (best), by the declared direction. Values
// beyond the scale count as its end.
func Goodness(scale record.Scale, value float64) float64 {
	p := min(1, max(0, (value-scale.Min)/(scale.Max-scale.Min)))
	switch scale.Direction {
	case highBad:
		return 1 - p
	case middleBest:
		return 1 - 2*math.Abs(p-0.5)
	}
	return p
}

// describe names a scale and its direction: "scale 0-3, high is good".
func describe(scale record.Scale) string {
	said := map[string]string{highGood: "high is good", highBad: "high is bad", middleBest: "the middle is best"}[scale.Direction]
	return fmt.Sprintf("scale %g-%g, %s", scale.Min, scale.Max, said)
}

// word is the score as the keeper writes it: "2 (well covered)", or "2".
func word(scale record.Scale, value float64) string {
	var found []string
	for w, v := range scale.Words {
		if v == value {
			found = append(found, w)
		}
	}
	if len(found) == 0 {
		return fmt.Sprintf("%g", value)
	}
	return fmt.Sprintf("%g (%s)", value, slices.Min(found))
}

// Place returns the declared scale of a score and where the score lies on it, from 0, the worst end, to 1, the best. It is
// false where the scale is not declared.
func Place(scales map[string]record.Scale, s Score) (record.Scale, float64, bool) {
	scale, ok := scaleOf(scales, s)
	if !ok {
		return record.Scale{}, 0, false
	}
	return scale, Goodness(scale, s.Value), true
}
