package sheet

import "strings"

// style is what a cell's style says that matters here.
type style struct {
	kind   Kind   // Number, Date or Percent: what a number in this style shows
	format string // its code
	struck bool
}

// builtin is a number format that a workbook names by number only.
// Source: ECMA-376 part 1, 18.8.30. Number 14 follows the settings of whoever opens the file, whatever its code
// says; 27 to 36, 50 to 58 and 71 to 81 are the dates of East Asian and Thai settings, without a code here.
func builtin(id int) (code string, kind Kind) {
	switch id {
	case 1:
		return "0", Number
	case 2:
		return "0.00", Number
	case 3:
		return "#,##0", Number
	case 4:
		return "#,##0.00", Number
	case 9:
		return "0%", Percent
	case 10:
		return "0.00%", Percent
	case 11:
		return "0.00E+00", Number
	case 12:
		return "# ?/?", Number
	case 13:
		return "# ??/??", Number
	case 14:
		return "mm-dd-yy", Date
	case 15:
		return "d-mmm-yy", Date
	case 16:
		return "d-mmm", Date
	case 17:
		return "mmm-yy", Date
	case 18:
		return "h:mm AM/PM", Date
	case 19:
		return "h:mm:ss AM/PM", Date
	case 20:
		return "h:mm", Date
	case 21:
		return "h:mm:ss", Date
	case 22:
		return "m/d/yy h:mm", Date
	case 37, 38:
		return "#,##0;-#,##0", Number
	case 39, 40:
		return "#,##0.00;-#,##0.00", Number
	case 45:
		return "mm:ss", Date
	case 46:
		return "[h]:mm:ss", Date
	case 47:
		return "mmss.0", Date
	case 48:
		return "##0.0E+0", Number
	case 49:
		return "@", Number
	case 67, 68:
		return "", Percent
	}
	if id >= 27 && id <= 36 || id >= 50 && id <= 58 || id >= 71 && id <= 81 {
		return "", Date
	}
	return "", Number
}

// kindOf tells what a number format code shows. Text in quotes, behind a backslash or in brackets does not
// count, save the brackets of elapsed time, [h], [mm] and [ss]. A code with places for digits is a date only
// where these are fractions of a second.
func kindOf(code string) Kind {
	code, _, _ = strings.Cut(code, ";")
	var bare []byte
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			end := strings.IndexByte(code[i+1:], '"')
			if end < 0 {
				i = len(code)
			} else {
				i += end + 1
			}
		case '\\', '_', '*':
			i++
		case '[':
			end := strings.IndexByte(code[i:], ']')
			if end < 0 {
				i = len(code)
				break
			}
			if inner := strings.ToLower(code[i+1 : i+end]); strings.Trim(inner, "h") == "" || strings.Trim(inner, "m") == "" || strings.Trim(inner, "s") == "" {
				bare = append(bare, inner...)
			}
			i += end
		default:
			if 'A' <= c && c <= 'Z' {
				c += 'a' - 'A'
			}
			bare = append(bare, c)
		}
	}
	text := strings.ReplaceAll(string(bare), "general", "")
	if strings.ContainsAny(text, "ydhsm") {
		fraction := strings.NewReplacer("s.000", "s", "s.00", "s", "s.0", "s").Replace(text)
		if !strings.ContainsAny(fraction, "0#?") {
			return Date
		}
	}
	if strings.Contains(text, "%") {
		return Percent
	}
	return Number
}
