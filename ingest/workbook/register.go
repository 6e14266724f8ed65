package workbook

import (
	"strconv"
	"strings"

	"keelmark/ingest/record"
)

// register enters the birds, each ring once. Where one ring is worn in several colours, the colour becomes part
// of the ring, so that the other sheets can name the bird by one word.
func register(birds []record.Bird, dates string) [][]Cell {
	key := func(s string) string { return strings.ToLower(strings.TrimSpace(s)) }
	colours := map[string]map[string]bool{} // of a ring
	for _, b := range birds {
		if colours[key(b.Ring)] == nil {
			colours[key(b.Ring)] = map[string]bool{}
		}
		colours[key(b.Ring)][key(b.Colour)] = true
	}
	last := map[string]int{} // ring as entered -> bird
	entered := make([]string, len(birds))
	for i, b := range birds {
		ring := b.Ring
		switch {
		case ring == "":
			ring = b.Name
		case b.Colour != "" && len(colours[key(ring)]) > 1:
			ring = b.Colour + " " + ring
		}
		entered[i] = ring
		if j, ok := last[key(ring)]; !ok || birds[j].Ringed.First <= b.Ringed.First {
			last[key(ring)] = i
		}
	}
	var rows [][]Cell
	for i, b := range birds {
		if entered[i] == "" || last[key(entered[i])] != i {
			continue
		}
		colour, name := b.Colour, b.Name
		if entered[i] != b.Ring {
			colour = ""
		}
		if b.Ring == "" {
			name = ""
		}
		sex := map[record.Sex]string{record.Male: "male", record.Female: "female"}[b.Sex]
		rows = append(rows, []Cell{filled(entered[i]), filled(colour), {}, filled(name), filled(sex), filled(b.Breed), filled(b.Variety),
			filled(string(b.Size)), filled(b.Line), hatched(b.Hatched, dates), filled(pen(b.Pen)), {}})
	}
	return rows
}

// filled is a cell that keeps its text as typed, empty for no text.
func filled(s string) Cell {
	if s == "" {
		return Cell{}
	}
	return Text(s).Format(asTyped)
}

// hatched writes a date as far as it is known and can be read back: a season, which has no such form, as its
// year where it lies in one.
func hatched(d record.Date, format string) Cell {
	switch first, _, _ := d.First.Date(); d.Precision {
	case record.ToDay:
		return Date(d.First).Format(format)
	case record.ToWeek, record.ToMonth, record.ToYear:
		return Text(d.String()).Format(asTyped)
	case record.ToSeason:
		if last, _, _ := d.Last.Date(); last == first {
			return Text(strconv.Itoa(first)).Format(asTyped)
		}
	}
	return Cell{}
}

// pen writes "3" as "pen 3": so the other sheets name a pen that stands in the place of a ring, and readers take
// both for one.
func pen(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasPrefix(strings.ToLower(s), "pen") || strings.ContainsRune(s, ' ') {
		return s
	}
	return "pen " + s
}
