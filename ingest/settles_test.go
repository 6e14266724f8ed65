package ingest

import (
	"strings"
	"testing"

	"keelmark/ingest/settings"
)

// Every reading that a question offers settles it: given as the answer, it is not asked again. The sheets are invented,
// one or more a kind of question.
func TestEveryReadingOfferedSettles(t *testing.T) {
	for name, rows := range map[string]string{
		"fractions among pounds and ounces": "Date|Ring|Weight lb/oz\n13/4/2025|R1|2-4\n13/4/2025|R2|5 1/4\n13/4/2025|R3|2.1\n13/4/2025|R4|2.10\n13/4/2025|R5|6",
		"points in pounds":                  "Date|Ring|Weight lb\n13/4/2025|R1|2.4\n13/4/2025|R2|2.6\n13/4/2025|R3|2.9",
		"no unit":                           "Date|Ring|Weight\n13/4/2025|R1|2.4\n13/4/2025|R2|2.1\n13/4/2025|R3|1.9",
		"pairs among pounds":                "Date|Ring|Weight lb\n13/4/2025|R1|2.45\n13/4/2025|R2|3/4",
		"a sex that nobody knows":           "Ring|Sex|Date|Weight g\nR1|kakas|13/4/2025|850\nR2|kakas|13/4/2025|910",
		"a month and a day or a year":       "Ring|Date|Weight g\nR1|Apr 13, 2025|840\nR1|Mar 16|850\nR2|Mar 16|910",
		"departures by month or by day":     "Ring|Hatched|Weight g|Date|Fate\nR1|2024|850|13/4/2025|sold Nov 24\nR2|2024|910|13/4/2025|RIP 6/25",
		"days without a year":               "Ring|Date|Weight g\nR1|3/2|850\nR2|4/2|910",
		"both orders":                       "Ring|Date|Weight g\nR1|3/2/25|850\nR2|4/2/25|910",
		"eggs set on a day":                 "Setting|Pen|Set on|Eggs set|Clears|Hatched\n1|A|13/4/2025|12|2|9\n2|B|14/4/2025|12|1|10",
		"letters for figures":               "Ring|Date|Weight g\nR1|13/4/2025|850\nR2|13/4/2025|9o5\nR2|14/4/2025|7I5",
		"a year for a weight":               "Ring|Date|Weight g\nR1|13/4/2025|850\nR2|13/4/2025|910\nR2|27/4/2025|2025",
		"treatments in doubt":               "Ring|Date|Treatment\nR1|13/4/2025|x\nR2|13/4/2025|due 20/4\nR3|13/4/2025|levamisole?\nR4|13/4/2025|isolated",
		"remarks of leaving":                "Ring|Date|Weight g|Notes\nR1|13/4/2025|850|died\nR2|13/4/2025|860|sold, came back 3/5\nR3|13/4/2025|870|stoat got her\nR4|13/4/2025|880|to Rita\nR5|13/4/2025|890|ticks on wing - 3",
		"two numbers and none":              "Ring|Date|Weight g\nR1|13/4/2025|820/818\nR2|13/4/2025|?\nR3|13/4/2025|0\nR4|13/4/2025|850 wet\nR5|13/4/2025|~860\nR6|13/4/2025|-870\nR7|13/4/2025|1,2",
		"two looks of a day":                "Ring|Date|Weight g\nR1|13/4/2025|820\nR1|13/4/2025|860",
	} {
		t.Run(name, func(t *testing.T) {
			file := write(t, map[string]string{"w.csv": strings.ReplaceAll(rows, "|", ";")})
			asked := load2(t, file, &settings.Answers{})[0].Questions
			for _, q := range asked {
				for _, r := range q.Readings {
					a := &settings.Answers{}
					a.Set(settings.Answer{Key: q.Key, Value: r.Value, Cell: q.At.Key(), Raw: q.Raw})
					for _, s := range load2(t, file, a)[0].Questions {
						if s.Key == q.Key && s.Class == q.Class {
							t.Errorf("%s\n%q (%q) does not settle it: %s", q.Message, r.Label, r.Value, s.Message)
						}
					}
				}
			}
			if len(asked) == 0 && name != "eggs set on a day" {
				t.Error("nothing is asked")
			}
		})
	}
}
