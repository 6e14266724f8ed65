package identity

import (
	"fmt"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// together finds the sightings that name several birds at once, "Bess & Clary", where each stands alone
// elsewhere. What was done to them was done to each; what was weighed is held.
func together(all []*Sighting) {
	alone := map[string]*Sighting{} // key of a name or ring
	for _, s := range all {
		for _, key := range []string{s.NameKey, s.RingKey} {
			if key != "" && alone[key] == nil {
				alone[key] = s
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
		var members []*Sighting
		for _, p := range parts {
			for _, key := range []string{parse.NameKey(p), parse.RingKey(p)} {
				if of := alone[key]; of != nil && of != s {
					readings = append(readings, record.Reading{Label: of.label(), Value: p})
					members = append(members, of)
					break
				}
			}
		}
		if len(readings) == len(parts) {
			s.Members = members
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
