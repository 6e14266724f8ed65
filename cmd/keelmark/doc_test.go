package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// block is a fenced block of a Markdown page.
type block struct {
	language string
	lines    []string
	line     int
}

func blocksOf(page string) []block {
	var out []block
	var open *block
	for i, l := range strings.Split(page, "\n") {
		fence, isFence := strings.CutPrefix(l, "```")
		switch {
		case isFence && open == nil:
			open = &block{language: fence, line: i + 1}
		case isFence:
			out, open = append(out, *open), nil
		case open != nil:
			open.lines = append(open.lines, l)
		}
	}
	return out
}

// TestTheCommandsOfTheReadmeRun runs every sh block of README.md, in order and in one folder. A text block that
// follows is what the command prints; a line "..." stands for any lines.
func TestTheCommandsOfTheReadmeRun(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	ci, err := os.ReadFile(filepath.Join("..", "..", ".ci", "run"))
	if err != nil {
		t.Fatal(err)
	}
	picture := regexp.MustCompile(`\]\(([^)#:]+)\)`)
	for _, m := range picture.FindAllStringSubmatch(string(page), -1) {
		if _, err := os.Stat(filepath.Join("..", "..", m[1])); err != nil {
			t.Errorf("README.md points to %s, which is not there", m[1])
		}
	}
	t.Chdir(t.TempDir())
	ran := 0
	blocks := blocksOf(string(page))
	for i, b := range blocks {
		if b.language != "sh" {
			continue
		}
		printed := ""
		for _, command := range b.lines {
			words := strings.Fields(command)
			switch {
			case command == "go test ./...":
				if !strings.Contains(string(ci), "\n"+command+"\n") {
					t.Errorf(".ci/run does not run the README's %q", command)
				}
			case strings.HasPrefix(command, "go run ./cmd/keelmark "):
				words = words[2:]
				fallthrough
			case words[0] == "keelmark":
				code, out, errOut := keelmark(t, words[1:]...)
				if code != exitDone && code != exitQuestions {
					t.Errorf("README.md line %d: %s: exit %d\n%s", b.line, command, code, errOut)
				}
				printed += out
			default:
				t.Errorf("README.md line %d: %q is no command that this test can run", b.line, command)
				continue
			}
			ran++
		}
		if i+1 < len(blocks) && blocks[i+1].language == "text" {
			if err := matches(blocks[i+1].lines, strings.Split(strings.TrimRight(printed, "\n"), "\n")); err != nil {
				t.Errorf("README.md line %d shows another output: %v\nprinted:\n%s", blocks[i+1].line, err, printed)
			}
		}
	}
	if ran < 5 {
		t.Errorf("only %d commands were run", ran)
	}
}

// matches compares lines with a pattern in which "..." stands for any lines.
func matches(pattern, lines []string) error {
	for i, p := range pattern {
		if strings.TrimSpace(p) == "..." {
			rest := pattern[i+1:]
			for skip := 0; skip <= len(lines); skip++ {
				if matches(rest, lines[skip:]) == nil {
					return nil
				}
			}
			return fmt.Errorf("nothing printed matches %q and what follows", strings.Join(rest, "\n"))
		}
		if len(lines) == 0 {
			return fmt.Errorf("%q is not printed", p)
		}
		if strings.TrimRight(lines[0], " ") != strings.TrimRight(p, " ") {
			return fmt.Errorf("%q is shown, %q is printed", p, lines[0])
		}
		lines = lines[1:]
	}
	if len(lines) > 0 {
		return fmt.Errorf("%q is printed and not shown", lines[0])
	}
	return nil
}
