package cell

import (
	"context"
	"os"
	"regexp"
	"strings"
	"testing"
)

var wanted = regexp.MustCompile(` ### /(.*)/$`)

// Each chunk of testdata/mistakes.star must fail with the message at the line that carries it.
func TestMistakesAreExplainedWhereTheyAre(t *testing.T) {
	data, err := os.ReadFile("testdata/mistakes.star")
	if err != nil {
		t.Fatal(err)
	}
	for _, chunk := range strings.Split(string(data), "\n---\n") {
		var lines []string
		message, at := "", 0
		for i, line := range strings.Split(chunk, "\n") {
			if m := wanted.FindStringSubmatch(line); m != nil {
				message = m[1]
				at = i + 1
				line = strings.TrimSuffix(line, m[0])
			}
			lines = append(lines, line)
		}
		if at == 0 {
			t.Errorf("a chunk without a wanted message: %s", chunk)
			continue
		}
		r := &recorder{}
		f := engine(t, Limits{}).Run(context.Background(), "cell 1", strings.Join(lines, "\n"), r)
		switch {
		case f == nil:
			t.Errorf("no failure: %s", chunk)
		case f.Line != at:
			t.Errorf("failed in line %d: %s\nwant line %d of: %s", f.Line, f.Message, at, chunk)
		case !regexp.MustCompile(message).MatchString(f.Message):
			t.Errorf("%s\n got: %s\nwant: %s", chunk, f.Message, message)
		}
	}
}
