package sheet

import (
	"context"
	"fmt"
	"strings"
	"testing"
)

// table prints the rows of a text as "N: a|b|c", blanks as nothing.
func table(g Grid) string {
	var lines []string
	for _, r := range g.Rows {
		var cells []string
		for _, c := range r.Cells {
			cells = append(cells, strings.NewReplacer("\n", `\n`, "\r", `\r`).Replace(c.Raw))
		}
		lines = append(lines, fmt.Sprintf("%d: %s", r.N, strings.Join(cells, "|")))
	}
	return strings.Join(lines, "\n")
}

func TestDelimitedText(t *testing.T) {
	for _, c := range []struct{ what, text, want, note string }{
		{"commas", "ring,g\nR1,965\n", "1: ring|g\n2: R1|965", ""},
		{"semicolons and decimal commas", "Ring;kg\nR1;0,965\nR2;1,025\n", "1: Ring|kg\n2: R1|0,965\n3: R2|1,025", "semicolons"},
		{"tabs", "ring\tg\tnote\nR1\t965\ta, b\n", "1: ring|g|note\n2: R1|965|a, b", "tabs"},
		{"bars", "ring|g\nR1|965\n", "1: ring|g\n2: R1|965", "vertical bars"},
		{"numbers only", "42,0,1,1\n51,2,1,1\n", "1: 42|0|1|1\n2: 51|2|1|1", ""},
		{"a quoted line break is no new row", "ring,note,g\nR1,\"wet,\nlate\",965\nR2,,900\n", "1: ring|note|g\n2: R1|wet,\\nlate|965\n3: R2||900", ""},
		{"a blank line counts", "ring,g\n\nR1,965\n,\nR2,900", "1: ring|g\n3: R1|965\n5: R2|900", ""},
		{"doubled quotes", "ring,note\nR1,\"the \"\"big\"\" one\"\n", "1: ring|note\n2: R1|the \"big\" one", ""},
		{"quotes within a field", "ring,note\nR1,5\" ring\nR2,\"x\" y\n", "1: ring|note\n2: R1|5\" ring\n3: R2|x y", ""},
		{"a quote that never closes", "ring,note,g\nR1,\"wet,965\nR2,dry,900\n", "1: ring|note|g\n2: R1|\"wet|965\n3: R2|dry|900", "read as plain characters"},
		{"a stray quote that another one rows below would close", "ring,note,g\nR1,\"wet,965\nR2,dry,900\nR3,late\",910\nR4,x,920\n", "1: ring|note|g\n2: R1|\"wet|965\n3: R2|dry|900\n4: R3|late\"|910\n5: R4|x|920", "read as plain characters"},
		{"old Macintosh line ends", "ring,g\rR1,965\r\rR2,900\r", "1: ring|g\n2: R1|965\n4: R2|900", ""},
		{"mixed line ends", "ring,g\r\nR1,965\nR2,900\rR3,1", "1: ring|g\n2: R1|965\n3: R2|900\n4: R3|1", ""},
		{"rows of any length", "title\nring,date,g,note\nR1,1/2/24,965\nR2,1/2/24,900,wet,x\n", "1: title\n2: ring|date|g|note\n3: R1|1/2/24|965\n4: R2|1/2/24|900|wet|x", "commas"},
		{"an instruction in the first line", "sep=;\r\na;b,c\r\n1;2,5\r\n", "1: a|b,c\n2: 1|2,5", "its first line says so"},
		{"one column", "ring\nR1\nR2\n", "1: ring\n2: R1\n3: R2", "one column"},
		{"a diary", "12 March: weighed R12 965g, R14 900g, wet\n13 March: rain\n20 March: R12 970g\n", "1: 12 March: weighed R12 965g, R14 900g, wet\n2: 13 March: rain\n3: 20 March: R12 970g", "one column"},
		{"prose with as many commas", "wet, cold\nR12 moulting, R13 too, thin\nnothing, quiet, dull\nfine\n", "1: wet, cold\n2: R12 moulting, R13 too, thin\n3: nothing, quiet, dull\n4: fine", "one column"},
		{"columns under each other", "Ring   Date        g    note\nR1     2025-03-01  965  wet\nR2     2025-03-01       dry\n", "1: Ring|Date|g|note\n2: R1|2025-03-01|965|wet\n3: R2|2025-03-01||dry", "spaces"},
		{"single spaces", "ring week g\nR1 3 250\nR2 3 260\nR3 3 240\n", "1: ring|week|g\n2: R1|3|250\n3: R2|3|260\n4: R3|3|240", "spaces"},
		{"names of two words", "Plum Duff\nOld Tansy\nLady Rook\n", "1: Plum Duff\n2: Old Tansy\n3: Lady Rook", "one column"},
		{"a byte order mark", "\xef\xbb\xbfring,g\nR1,965\n", "1: ring|g\n2: R1|965", ""},
		{"Windows-1252", "ring,name\nR1,K\xe4the\nR2,\x93Jo\x94 \x80\n", "1: ring|name\n2: R1|Käthe\n3: R2|“Jo” €", "Windows-1252"},
		{"two encodings", "ring,name\nR1,Käthe\nR2,K\xe4the\n", "1: ring|name\n2: R1|Käthe\n3: R2|Käthe", "1 of its lines as Windows-1252"},
		{"UTF-16 LE", "\xff\xfer\x00,\x00g\x00\n\x00\x01\x01,\x009\x00", "1: r|g\n2: ā|9", "UTF-16"},
		{"UTF-16 BE", "\xfe\xff\x00r\x00,\x00g\x00\n\x00R\x00,\x009", "1: r|g\n2: R|9", "UTF-16"},
		{"UTF-16 without a mark", "r\x00,\x00g\x00\n\x00R\x00,\x009\x00", "1: r|g\n2: R|9", "UTF-16 (without a mark)"},
		{"zero bytes", "ring,g\nR1,9\x0065\n" + strings.Repeat("R2,900\n", 30), "", "without its 1 zero bytes"},
		{"an end mark of old", "ring,g\nR1,965\n\x1a", "1: ring|g\n2: R1|965", ""},
		{"white space only", " \n\n", "1:  ", "one column"},
	} {
		t.Run(c.what, func(t *testing.T) {
			b := mustOpen(t, "a.csv", []byte(c.text))
			if got := table(b.Grids[0]); c.want != "" && got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
			if notes := strings.Join(b.Notes, "; "); !strings.Contains(notes, c.note) || c.what == "commas" && notes != "" {
				t.Errorf("notes %q, want %q and nothing where all is ordinary", notes, c.note)
			}
			if b.Grids[0].Sheet != "" || len(b.Grids) != 1 {
				t.Error("a text is one grid without a name")
			}
		})
	}
}

func TestTextUnderAWorkbooksName(t *testing.T) {
	b := mustOpen(t, "a.xlsx", []byte("ring,g\nR1,965\n"))
	if notes := strings.Join(b.Notes, "; "); !strings.Contains(notes, "plain text although its name ends in .xlsx") {
		t.Errorf("notes %q", notes)
	}
}

// Columns that do not line up: which cell is empty cannot be told, and that is said.
func TestSpacesThatCannotShowAGap(t *testing.T) {
	b := mustOpen(t, "a.txt", []byte("ring  week  g\nR1  3  250\nR2  3  260\nR3000000  300000  240\nR4  250\n"))
	if notes := strings.Join(b.Notes, "; "); !strings.Contains(notes, "lines 5 have fewer fields") {
		t.Errorf("notes %q", notes)
	}
}

func TestTextTooLarge(t *testing.T) {
	data := strings.Repeat("R1,965\n", 1000)
	for _, memory := range []int64{100, 10_000} {
		_, err := Open(context.Background(), "a.csv", strings.NewReader(data), int64(len(data)), Limits{Memory: memory})
		if r, ok := err.(*Refusal); !ok || r.Reason != TooLarge {
			t.Errorf("%d bytes: %v", memory, err)
		}
	}
	refused(t, "a.txt", []byte(strings.Repeat("ab  ", 100_000)+"\n"+strings.Repeat("ab  cd\n", 10)), TooLarge)
}
