package identity

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/ingest/record"
)

// zeros finds rings that differ only by a word before the number, or by leading zeros: "ring 12" and 12, 007 and
// 7. A spreadsheet that stores 007 as a number shows 7, so they are taken as one ring, and the keeper is asked
// about lost zeros, unless their names differ or both were looked at on one day.
func zeros(all []*Sighting) {
	bare := map[string][]*Sighting{}
	var order []string
	for _, s := range all {
		if s.RingKey == "" {
			continue
		}
		k := withoutZeros(withoutWord(s.RingKey))
		if bare[k] == nil {
			order = append(order, k)
		}
		bare[k] = append(bare[k], s)
	}
	for _, k := range order {
		under := bare[k]
		main := under[0]
		for _, s := range under {
			if a, b := len(withoutWord(s.RingKey)), len(withoutWord(main.RingKey)); a > b || a == b && len(s.RingKey) < len(main.RingKey) {
				main = s // the spelling that lost no zeros, without a word
			}
		}
		of := func(ringKey string) []*Sighting {
			var out []*Sighting
			for _, s := range under {
				if s.RingKey == ringKey {
					out = append(out, s)
				}
			}
			return out
		}
		for _, s := range under {
			if s.RingKey == main.RingKey {
				continue
			}
			short := of(s.RingKey)
			one, day := oneRing(of(main.RingKey), short)
			if !one {
				if day != 0 && short[0].Doubt == nil && withoutWord(s.RingKey) != withoutWord(main.RingKey) {
					short[0].Doubt = &Doubt{Class: "ring_zeros_lost", At: short[0].at(), Raw: short[0].Ring, Once: true,
						Message:  fmt.Sprintf("rings %s and %s differ only by zeros, and both have an entry of %s; kept as two birds, is that right?", short[0].Ring, main.Ring, day),
						Readings: []record.Reading{{Label: "two birds", Value: "two"}, {Label: "the same bird as " + main.label(), Value: main.id()}}}
				}
				continue
			}
			for _, o := range short {
				raw, lost := o.Ring, withoutWord(o.RingKey) != withoutWord(main.RingKey)
				o.RingKey, o.Ring = main.RingKey, main.Ring
				if lost && o.Doubt == nil {
					o.Doubt = &Doubt{Class: "ring_zeros_lost", At: o.at(), Raw: raw, Once: true,
						Message:  fmt.Sprintf("ring %s is taken for ring %s, whose zeros a spreadsheet drops; is it the same bird?", raw, main.Ring),
						Readings: []record.Reading{{Label: "the same bird as " + main.label(), Value: main.Ring}, {Label: "another bird", Value: raw}}}
				}
			}
		}
	}
}

// oneRing reports whether two rings may be one: a name in common or none on one side, no contradiction about sex, breed
// or hatch date, and no day on which both were looked at. It returns that day where it is all that speaks against.
func oneRing(a, b []*Sighting) (one bool, day record.Day) {
	named := func(all []*Sighting) (out []string) {
		for _, s := range all {
			if s.NameKey != "" {
				out = append(out, s.NameKey)
			}
		}
		return out
	}
	na, nb := named(a), named(b)
	if len(na) > 0 && len(nb) > 0 && !slices.ContainsFunc(na, func(n string) bool { return slices.Contains(nb, n) }) {
		return false, 0
	}
	for _, s := range a {
		for _, o := range b {
			var f Facts
			f.Fill(s.Facts)
			if f.Fill(o.Facts) != "" {
				return false, 0
			}
			if !s.Measured || !o.Measured {
				continue
			}
			if i := slices.IndexFunc(s.Days, func(d record.Day) bool { return slices.Contains(o.Days, d) }); i >= 0 {
				day = s.Days[i]
			}
		}
	}
	return day == 0, day
}

// withoutWord drops the word for a ring before its number.
func withoutWord(key string) string {
	for _, w := range []string{"ring", "no", "nr", "number", "band", "leg", "tag", "bird", "ringno", "ringnr", "bandno"} {
		if rest, ok := strings.CutPrefix(key, w); ok && rest != "" && rest[0] >= '0' && rest[0] <= '9' {
			return rest
		}
	}
	return key
}

// withoutZeros drops the zeros before each number of a ring key.
func withoutZeros(key string) string {
	var b strings.Builder
	inside := false // within the figures of a number
	for i := 0; i < len(key); i++ {
		c := key[i]
		digit := c >= '0' && c <= '9'
		if c == '0' && !inside && i+1 < len(key) && key[i+1] >= '0' && key[i+1] <= '9' {
			continue
		}
		inside = digit
		b.WriteByte(c)
	}
	return b.String()
}
