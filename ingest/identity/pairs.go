package identity

import (
	"fmt"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// together holds the sightings that name two birds at once, "Bess & Clary", where both stand alone elsewhere.
func together(all []*Sighting) {
	alone := map[string]string{} // key of a name or ring -> as written
	for _, s := range all {
		for key, text := range map[string]string{parse.NameKey(s.Name): s.Name, parse.RingKey(s.Ring): s.Ring} {
			if key != "" {
				alone[key] = text
			}
		}
	}
	for _, s := range all {
		text := s.Name
		if text == "" {
			text = s.Ring
		}
		parts := split(text)
		if len(parts) < 2 {
			continue
		}
		var readings []record.Reading
		for _, p := range parts {
			for _, key := range []string{parse.NameKey(p), parse.RingKey(p)} {
				if of, ok := alone[key]; ok {
					readings = append(readings, record.Reading{Label: of, Value: of})
					break
				}
			}
		}
		if len(readings) == len(parts) {
			s.Doubt = &Doubt{Class: "bird_ambiguous", At: s.at(), Raw: text, Hold: true, Readings: readings,
				Message: fmt.Sprintf("%q names %d birds; which of them is meant?", text, len(parts))}
		}
	}
}

// split parts a text at signs and words that join names.
func split(text string) []string {
	for _, join := range []string{" and ", " und ", " et ", " en ", " y "} {
		text = strings.ReplaceAll(text, join, "&")
	}
	var out []string
	for p := range strings.FieldsFuncSeq(text, func(r rune) bool { return strings.ContainsRune("&+/,;", r) }) {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}
