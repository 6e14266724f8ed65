package reading

import (
	"maps"
	"slices"
	"strings"

	"keelmark/ingest/evidence"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// declared gives columns the scales that flock.toml declares under their heading, whatever its case and the range in
// brackets behind it: [scales.lice] is of "Lice (0-3)".
func (l *lines) declared() {
	if len(l.set.Scales) == 0 {
		return
	}
	for i := range l.t.Columns {
		k := l.columnPools[l.t.Columns[i].Field]
		if k == nil {
			continue
		}
		switch k.Means.Field {
		case parse.FieldParasite:
			k.Finding.Scale = l.scaleOf(k, k.Finding.Scale)
		case parse.FieldCondition, parse.FieldFeather, parse.FieldLeg, parse.FieldComb:
			k.Score.Scale = l.scaleOf(k, k.Score.Scale)
		}
	}
}

// scaleOf is the declared scale of a pool, else the one that it has. A heading that states another range wins.
func (l *lines) scaleOf(k *evidence.Pool, has record.Scale) record.Scale {
	heading := scaleKey(k.Heading)
	for _, name := range slices.Sorted(maps.Keys(l.set.Scales)) {
		s := l.set.Scales[name]
		if key := scaleKey(name); key != heading && key != scaleKey(k.Finding.Parasite) || key == "" {
			continue
		}
		if has.Name == "" || has.Min == s.Min && has.Max == s.Max {
			return s
		}
	}
	return has
}

func scaleKey(text string) string {
	text = parse.Fold(text)
	if i := strings.IndexAny(text, "([0123456789"); i > 0 {
		text = text[:i]
	}
	return strings.TrimSpace(text)
}
