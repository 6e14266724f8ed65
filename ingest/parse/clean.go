package parse

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
	"golang.org/x/text/width"
)

// Clean makes a text ready for reading: full-width and foreign digits become ASCII, all kinds of space one
// space, zero-width and direction marks vanish, odd dashes and minus signs become "-", curly quotes straight,
// a fraction slash "/"; composed (NFC), trimmed. It is idempotent. The caller keeps the raw text.
func Clean(text string) string {
	if isPlain(text) {
		return text
	}
	text = strings.Map(dropInvisible, text)
	text = norm.NFC.String(width.Fold.String(text))
	text = norm.NFC.String(strings.Map(plainRune, text))
	return strings.Join(strings.Fields(text), " ")
}

// isPlain spares the common cell, short printable ASCII with single inner spaces, any work.
func isPlain(text string) bool {
	space := true // a space at the start is not plain
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case b == ' ':
			if space {
				return false
			}
			space = true
		case b < ' ' || b > '~' || b == '`':
			return false
		default:
			space = false
		}
	}
	return text == "" || !space
}

func dropInvisible(r rune) rune {
	switch {
	case r == unicode.ReplacementChar, isZeroWidth(r), isDirection(r):
		return -1
	}
	return r
}

// isZeroWidth also takes the byte order mark, the soft hyphen and the variation selectors that follow emoji.
func isZeroWidth(r rune) bool {
	return r >= 0x200B && r <= 0x200D || r == 0x2060 || r == 0xFEFF || r == 0x00AD || r >= 0xFE00 && r <= 0xFE0F
}

// isDirection takes the marks that turn the direction of writing.
//
// Source: Unicode Standard Annex 9, Unicode Bidirectional Algorithm, section 2 (explicit directional formatting).
func isDirection(r rune) bool {
	return r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0x200E || r == 0x200F || r == 0x061C
}

// plainRune gives the ASCII sign that a keeper meant.
func plainRune(r rune) rune {
	switch {
	case r < 0x80 && r >= ' ' && r != '`':
		return r
	case unicode.IsSpace(r), unicode.IsControl(r), unicode.Is(unicode.Zs, r):
		return ' '
	case unicode.Is(unicode.Pd, r), r == 0x2212, r == 0x2043, r == 0x02D7: // dashes, minus sign, hyphen bullet
		return '-'
	}
	switch r {
	case '`', '´', '‘', '’', '‚', '‛', '′', 'ʹ', 'ʼ':
		return '\''
	case '“', '”', '„', '‟', '″', '«', '»':
		return '"'
	case '⁄', '∕':
		return '/'
	case '…':
		return '.'
	case '٫': // Arabic decimal separator
		return '.'
	case '٬':
		return ','
	}
	if d, ok := digit(r); ok {
		return '0' + d
	}
	return r
}

// digit returns the value of a decimal digit of any script. Unicode keeps them in runs of ten.
func digit(r rune) (rune, bool) {
	if !unicode.Is(unicode.Nd, r) {
		return 0, false
	}
	for _, run := range unicode.Nd.R16 {
		if r <= rune(run.Hi) {
			return (r - rune(run.Lo)) % 10, true
		}
	}
	for _, run := range unicode.Nd.R32 {
		if r <= rune(run.Hi) {
			return (r - rune(run.Lo)) % 10, true
		}
	}
	return 0, false
}

// Fold is Clean, in lower case and without accents, for comparing words: "Gewicht (KG)" and "gewicht (kg)".
func Fold(text string) string {
	text = Clean(text)
	ascii, lower := true, true
	for i := 0; i < len(text); i++ {
		ascii = ascii && text[i] < 0x80
		lower = lower && (text[i] < 'A' || text[i] > 'Z')
	}
	switch {
	case ascii && lower:
		return text
	case ascii:
		return strings.ToLower(text)
	}
	text = norm.NFD.String(strings.ToLower(text))
	var b strings.Builder
	for _, r := range text {
		switch {
		case unicode.Is(unicode.Mn, r):
		case foldedLetters[r] != "":
			b.WriteString(foldedLetters[r])
		default:
			b.WriteRune(r)
		}
	}
	return Clean(norm.NFC.String(b.String()))
}

// foldedLetters have no accent to take off.
var foldedLetters = map[rune]string{'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'ł': "l", 'đ': "d", 'ð': "d", 'þ': "th", 'ı': "i"}

// Name is a bird's name with white space at its ends removed and every other byte kept.
func Name(text string) string {
	return strings.TrimFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == 0xFEFF })
}

// NameKey is equal for names that differ in case, width, white space or composition only. Accents count:
// Zoe is not Zoë.
func NameKey(text string) string { return norm.NFC.String(strings.ToLower(Clean(text))) }

// Shown makes text safe to show on one line: control characters and line breaks become spaces, marks that
// turn the direction of writing vanish. It does not escape for HTML or spreadsheets; writers do.
func Shown(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case isDirection(r), r == unicode.ReplacementChar:
			return -1
		case unicode.IsControl(r), r == 0x2028, r == 0x2029:
			return ' '
		}
		return r
	}, text))
}

// quoted is the cell's text as a sentence shows it: safe, and cut to a readable length.
func quoted(text string) string {
	const longest = 40
	runes := []rune(Shown(text))
	if len(runes) > longest {
		runes = append(runes[:longest-1:longest-1], '…')
	}
	return `"` + string(runes) + `"`
}
