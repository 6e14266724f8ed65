package parse

import (
	"strings"
)

// NearBreeds returns what a text would read as, were a breed in it spelt as one of the known names: "Wyandote bantam" gives
// "Wyandotte bantam". It returns nil where the text holds a known name, in the plural or with an ending of another
// language too ("Wyandotten"), or nothing that is spelt nearly like one: one slip in five letters or more, two in
// nine or more. The nearest come first in the order of known; at most three.
func NearBreeds(text string, known []string) []string {
	words := strings.Fields(text)
	plain := make([]string, len(words))
	for i, w := range words {
		plain[i] = breedLetters(w)
	}
	if len(words) == 0 || len(words) > 8 {
		return nil
	}
	var out []string
	best := 3
	for _, name := range known {
		parts := strings.Fields(name)
		want := breedLetters(name)
		if len(want) == 0 {
			continue
		}
		for n := max(1, len(parts)-1); n <= min(len(parts)+1, len(words)); n++ {
			for i := 0; i+n <= len(words); i++ {
				got := strings.Join(plain[i:i+n], "")
				if strings.HasPrefix(got, want) && (len(want) >= 4 || got == want) || got+"s" == want {
					return nil
				}
				d := breedSlips(got, want)
				if d == 0 || d > best || n == 1 && Colour(words[i]) != "" {
					continue
				}
				if d < best {
					best, out = d, nil
				}
				read := strings.Join(append(append(append([]string{}, words[:i]...), name), words[i+n:]...), " ")
				if len(out) < 3 && (len(out) == 0 || out[len(out)-1] != read) {
					out = append(out, read)
				}
			}
		}
	}
	return out
}

// breedSlips is the number of slips between two spellings, 0 where they are too many to be slips.
func breedSlips(got, want string) int {
	allowed := 0
	switch short := min(len(got), len(want)); {
	case short >= 9:
		allowed = 2
	case short >= 5:
		allowed = 1
	}
	if d := distance(got, want, allowed); allowed > 0 && d <= allowed {
		return d
	}
	return 0
}

// breedLetters is a text without case, accents, spaces and marks.
func breedLetters(text string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r > 0x7f {
			return r
		}
		return -1
	}, Fold(text))
}
