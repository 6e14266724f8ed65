package identity

import (
	"strings"
)

// alike reports whether two folded names are spelt almost the same: one slip in four letters or more, two in
// nine or more, or letters and digits that are often taken for one another. Digits never count as a slip:
// P101 and P102 are two birds.
func alike(a, b string) bool {
	if a == "" || b == "" || a == b {
		return a == b && a != ""
	}
	if misread(a) == misread(b) {
		return true
	}
	ra, rb := []rune(a), []rune(b)
	short := min(len(ra), len(rb))
	allowed := 0
	switch {
	case short >= 9:
		allowed = 2
	case short >= 4:
		allowed = 1
	}
	if allowed == 0 || digits(a) != digits(b) {
		return false
	}
	return distance(ra, rb, allowed) <= allowed
}

// slip reports whether two folded names of three letters or more differ by one letter.
func slip(a, b string) bool {
	ra, rb := []rune(a), []rune(b)
	return min(len(ra), len(rb)) >= 3 && digits(a) == digits(b) && distance(ra, rb, 1) <= 1
}

// misread replaces characters that are taken for one another in handwriting and on worn rings.
func misread(s string) string {
	return strings.NewReplacer("o", "0", "l", "1", "i", "1", "s", "5", "b", "8", "z", "2").Replace(s)
}

func digits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

// distance is the number of letters added, left out, changed or swapped with their neighbour (restricted
// Damerau-Levenshtein), or limit+1 where it is more.
func distance(a, b []rune, limit int) int {
	if abs := len(a) - len(b); abs > limit || -abs > limit {
		return limit + 1
	}
	before, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev, cur = prev, cur, before
	}
	return prev[len(b)]
}
