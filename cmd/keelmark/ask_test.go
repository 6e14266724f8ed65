package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// answering runs keelmark with what a keeper types.
func answering(t *testing.T, typed string, args ...string) (code int, out string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(context.Background(), args, strings.NewReader(typed), &o, &e)
	return code, o.String() + e.String()
}

// bareWeights is an invented sheet: weights without a unit, a doubtful one, a note three times, a bird that died.
const bareWeights = "ring,date,weight\nR1,2025-03-01,2.9\nR2,2025-03-01,3.1\nR1,2025-03-08,3.0?\nR2,2025-03-08,broody\nR1,2025-03-15,broody\n" +
	"R2,2025-03-15,3.3\nR1,2025-03-22,broody\nR2,2025-03-22,†\n"

// theTalk is what the terminal shows, the keeper's lines included.
const theTalk = `bare: 5 questions about 8 cells.
Answer with a letter, or in your own words where that is offered. Enter leaves a question open, u takes the latest answer back, r an earlier one, q stops.
Each answer is kept at once in bare.answers.toml; your spreadsheets are not changed.

Question 1  (4 more)
  bare.csv, C2: "2.9" has no unit; in what unit are the weights under "weight"?
    One answer settles 4 cells: C2, C3, C4, C7
    a) kg: 2900 to 3300 g; 1 of 4 would still be asked
    b) lb: 1315 to 1497 g; 1 of 4 would still be asked
    c) lb-oz: 1162 to 1446 g; 2 of 4 would still be asked
    d) oz: 82 to 94 g; 1 of 4 would still be asked
> stone
  Please answer with a to d, Enter or q.
> kg
  3 weights are now read.

Question 2  (4 more)
  bare.csv, C4: "3.0?" leaves a doubt; confirm 3000 g or leave the cell empty
    a) 3000 g
    b) leave it empty
    or write what the cell should say
> lots
  "lots" is no weight; write it with its unit: 640 g, 0.64 kg, 1.4 lb, 1 lb 6 oz or 22 oz.
> a
  1 weight is now read.

Question 3  (3 more)
  bare.csv, C5: "broody" is a note in a column of weights; move it to a column of notes, or write
    the weight
    a) leave it empty
    or write what the cell should say
> a
  Noted; the records stay as they were read.
  2 more cells of this column hold the same text: C6, C8. The same answer for all of them? y or n
> y
  Noted; the records stay as they were read.

Question 4
  bare.csv, C9: "†" seems to say that the bird died on 22 March 2025; confirm the day, or leave the
    cell empty
    a) as it was read: died on 2025-03-22
    b) leave it empty
    or write the day, such as 2025-03-01
> 2025-03-20
  1 record is confirmed.

6 questions answered, none left open.
In all, 4 weights are now read.
`

func TestTheTalk(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "bare.csv", bareWeights)
	t.Chdir(dir)
	code, out := answering(t, "stone\nkg\nlots\na\na\ny\n2025-03-20\n", "check", "--ask", "--today", "2025-04-01", "bare.csv")
	if code != exitDone || out != theTalk {
		t.Errorf("exit %d, the talk goes\n%s", code, out)
	}
	kept, err := os.ReadFile("bare.answers.toml")
	if err != nil || !strings.Contains(string(kept), "unit_unknown bare.csv weight") || strings.Contains(string(kept), "lots") {
		t.Errorf("%v, answers.toml is\n%s", err, kept)
	}
	if code, out, _ := keelmark(t, "check", "--today", "2025-04-01", path); code != exitDone || !strings.Contains(out, "4 weights") || !strings.Contains(out, "1 death") {
		t.Errorf("read again: exit %d\n%s", code, out)
	}
	if _, out := answering(t, "", "check", "--ask", "--today", "2025-04-01", "bare.csv"); !strings.Contains(out, "there is nothing to ask") {
		t.Errorf("asked again:\n%s", out)
	}

	// The keeper edits the doubtful cell: the answer to it counts no more, and he is told.
	write(t, dir, "bare.csv", strings.Replace(bareWeights, "3.0?", "2.0?", 1))
	code, out = answering(t, "", "check", "--today", "2025-04-01", "bare.csv")
	if code != exitQuestions || !strings.Contains(out, `you answered "3000 g" to "3.0?" in the row "R1 | 2025-03-08 | 3.0?"; no row reads so any more`) {
		t.Errorf("an edited cell: exit %d\n%s", code, out)
	}
	_, out = answering(t, "q\n", "check", "--ask", "--today", "2025-04-01", "bare.csv")
	if !strings.Contains(out, `You answered "3000 g" when the cell held "3.0?". It has changed since`) {
		t.Errorf("the talk about an edited cell:\n%s", out)
	}
}

// An answer is taken back in the same talk with u, and in a later one with r, and its question comes again.
func TestAnswersAreTakenBack(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	write(t, dir, "bare.csv", "ring,date,weight\nR1,2025-03-01,2.9\nR2,2025-03-01,3.1\nR1,2025-03-08,3.0\n")
	code, out := answering(t, "u\nkg\n", "check", "--ask", "--today", "2025-04-01", "bare.csv")
	if code != exitDone || !strings.Contains(out, "Nothing was answered yet this time") || !strings.Contains(out, "3 weights are now read") {
		t.Fatalf("exit %d\n%s", code, out)
	}
	const question = "in what unit are the weights"
	for _, typed := range []string{"\n", "9\n", ""} { // no answer is taken back
		if code, out := answering(t, typed, "check", "--ask", "--today", "2025-04-01", "bare.csv"); code != exitDone || strings.Contains(out, question) || !strings.Contains(out, "unit_unknown bare.csv weight: \"kg\"") {
			t.Errorf("typed %q: exit %d\n%s", typed, code, out)
		}
	}
	code, out = answering(t, "1\noz\n", "check", "--ask", "--today", "2025-04-01", "bare.csv")
	if code != exitDone || !strings.Contains(out, "Taken back: unit_unknown bare.csv weight.") || !strings.Contains(out, question) {
		t.Errorf("exit %d\n%s", code, out)
	}
	if kept, err := os.ReadFile("bare.answers.toml"); err != nil || !strings.Contains(string(kept), "answer = 'oz'") {
		t.Errorf("%v, answers.toml is\n%s", err, kept)
	}

	// The latest answer, and the cells that took the same one with it, while the talk goes on.
	write(t, dir, "sick.csv", "ring,date,weight (g)\nR1,2025-03-01,850\nR1,2025-03-08,broody\nR2,2025-03-08,broody\nR2,2025-03-15,900?\n")
	code, out = answering(t, "a\ny\nu\nu\n860 g\n870 g\nq\n", "check", "--ask", "--today", "2025-04-01", "sick.csv")
	kept, err := os.ReadFile("sick.answers.toml")
	if err != nil || code != exitQuestions || strings.Count(out, "Taken back") != 2 || !strings.Contains(string(kept), "860 g") || strings.Contains(string(kept), "answer = ''") {
		t.Errorf("exit %d, %v\n%s\n%s", code, err, out, kept)
	}
}

func TestATalkThatStops(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "bare.csv", bareWeights)
	answers := filepath.Join(dir, "bare.answers.toml")
	for _, typed := range []string{"", "q\n", "\n\n\n\n\n\n\n\n"} {
		code, out := answering(t, typed, "check", "--ask", path)
		if code != exitQuestions || !strings.Contains(out, "0 questions answered, 5 left open") {
			t.Errorf("typed %q: exit %d\n%s", typed, code, out)
		}
		if _, err := os.Stat(answers); err == nil {
			t.Errorf("typed %q: answers were written", typed)
		}
	}
	// What was answered before the end of the input is kept.
	if code, out := answering(t, "kg", "check", "--ask", path); code != exitQuestions || !strings.Contains(out, "1 question answered, 5 left open") {
		t.Errorf("exit %d\n%s", code, out)
	}
}

func TestCtrlCInATalkDoesNotWaitForTheTerminal(t *testing.T) {
	path := write(t, t.TempDir(), "bare.csv", bareWeights)
	typing, keeper := io.Pipe() // a terminal at which nobody types
	defer keeper.Close()
	ctx, stop := context.WithCancel(context.Background())
	code := make(chan int, 1)
	said := make(chan struct{}, 100)
	go func() { code <- run(ctx, []string{"check", "--ask", path}, typing, told{said}, io.Discard) }()
	<-said // the talk has begun
	stop()
	select {
	case c := <-code:
		if c != exitFailed {
			t.Errorf("exit %d", c)
		}
	case <-time.After(30 * time.Second):
		t.Fatal("the talk waits for a line")
	}
}

// told is an output that tells of each writing.
type told struct{ said chan struct{} }

func (w told) Write(b []byte) (int, error) {
	select {
	case w.said <- struct{}{}:
	default:
	}
	return len(b), nil
}

// A bird's own history raises questions too; a text of the keeper's is taken only where it can mean one weighing.
func TestTheTalkAboutSlips(t *testing.T) {
	var b strings.Builder
	b.WriteString("ring,date,weight (g),sex,breed\n")
	for bird, level := range []int{2900, 3050, 2980, 3100} {
		for m := 1; m <= 9; m++ {
			g := level + 5*m
			if bird == 0 && m == 6 {
				g *= 10 // a digit too many
				g /= 100
			}
			fmt.Fprintf(&b, "R%d,2024-%02d-01,%d,F,Sussex\n", bird+1, m, g)
		}
	}
	dir := t.TempDir()
	path := write(t, dir, "w.csv", b.String())
	_, out := answering(t, "640\n2930 g\n", "check", "--ask", "--today", "2025-06-01", path)
	for _, part := range []string{"or write the weight with its unit", "> 640\n  \"640\" settles nothing here.", "> 2930 g\n", "1 question answered, none left open"} {
		if !strings.Contains(out, part) {
			t.Errorf("the talk lacks %q\n%s", part, out)
		}
	}
	if code, out, _ := keelmark(t, "check", "--today", "2025-06-01", path); code != exitDone {
		t.Errorf("asked again: exit %d\n%s", code, out)
	}
	again := write(t, t.TempDir(), "w.csv", b.String()) // without the answers, which would be taken along
	if code, out, _ := keelmark(t, "import", again, "--flock", filepath.Join(dir, "f"), "--today", "2025-06-01"); code != exitQuestions || !strings.Contains(out, "1 new question has come up") {
		t.Errorf("an import does not ask about slips: exit %d\n%s", code, out)
	}
}

func TestEveryReadingThatIsOfferedSettlesItsQuestion(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "ingest", "testdata", "keepers", "s*.*"))
	if err != nil || len(files) == 0 {
		t.Fatal("no sheets", err)
	}
	o := ingest.Options{}
	if o.Today, err = record.ParseDay("2026-06-01"); err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, f := range files {
		if strings.HasSuffix(f, ".json") {
			continue
		}
		read := func(a *settings.Answers) []*record.Dataset {
			o.Answers = a
			flocks, err := ingest.Load(context.Background(), []string{f}, o)
			if err != nil {
				t.Fatal(err)
			}
			return flocks
		}
		flocks := read(nil)
		for _, q := range openQuestions(flocks) {
			offered := offersFor(q, flocks)
			if len(offered.readings) > 16 {
				t.Errorf("%s: the letters reach q, which stops", q.Key)
			}
			for i, r := range offered.readings {
				value, complaint := offered.value(string(rune('a'+i)), flocks)
				if complaint != "" || value == "" && offered.own == aDate {
					continue // told to the keeper: a bird or a date that is not known has to be written down
				}
				tried++
				a := &settings.Answers{}
				a.Set(settings.Answer{Key: q.Key, Value: value, Cell: q.At.Key(), Raw: q.Raw})
				for _, still := range openQuestions(read(a)) {
					if still.Key == q.Key {
						t.Errorf("%s\n answered by %q (%q) and still asked", q.Message, r.Label, value)
					}
				}
			}
		}
	}
	if tried < 50 {
		t.Errorf("only %d readings tried", tried)
	}
}

func TestAnswersOfLooseFilesHaveNoPlace(t *testing.T) {
	dir := t.TempDir()
	a, b := write(t, dir, "a.csv", bareWeights), write(t, dir, "b.csv", bareWeights)
	if code, out := answering(t, "", "check", "--ask", a, b); code != exitUsage || !strings.Contains(out, "put them into one folder") {
		t.Errorf("exit %d\n%s", code, out)
	}
	if code, out := answering(t, "", "check", "--ask", "--format", "jsonl", a); code != exitUsage || !strings.Contains(out, "--ask is a talk") {
		t.Errorf("exit %d\n%s", code, out)
	}
	// A folder keeps the answers of all its files.
	flock := t.TempDir()
	write(t, flock, "a.csv", bareWeights)
	write(t, flock, "c.csv", "ring,date,weight\nR7,2025-03-01,2.8\n")
	answering(t, "kg\nkg\nq\n", "check", "--ask", "--today", "2025-04-01", flock)
	kept, err := os.ReadFile(filepath.Join(flock, "answers.toml"))
	if err != nil || !strings.Contains(string(kept), "a.csv weight") || !strings.Contains(string(kept), "c.csv weight") {
		t.Errorf("%v\n%s", err, kept)
	}
}

func TestABrokenAnswersFileIsNamedAndLeftAlone(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "bare.csv", bareWeights)
	write(t, dir, "bare.answers.toml", "[[answer]\nkey = 1")
	code, out := answering(t, "g\n", "check", "--ask", path)
	if code != exitFailed || !strings.Contains(out, "bare.answers.toml, line 1") {
		t.Errorf("exit %d\n%s", code, out)
	}
	if data, err := os.ReadFile(filepath.Join(dir, "bare.answers.toml")); err != nil || string(data) != "[[answer]\nkey = 1" {
		t.Errorf("%v: the file is now %q", err, data)
	}
}
