package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/term"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// talk puts the open questions of one source to the keeper, one by one, and keeps the answers beside the records.
// After each answer the records are read again, so that what is told of it is what happened, and a question that
// the answer settled too is not asked.
type talk struct {
	w       world
	lines   *bufio.Reader
	echo    bool   // answers come from a file: show them
	answers string // path of answers.toml
	read    func(context.Context) ([]*record.Dataset, error)

	flocks   []*record.Dataset
	left     map[string]bool     // keys of questions left open this time
	done     [][]record.Question // what was answered this time, the latest last
	asked    int
	answered int
}

// errStop says that the keeper has had enough.
var errStop = errors.New("the keeper stops")

// askAll talks about one source after the other and returns what is read in the end.
func askAll(ctx context.Context, w world, source *sourceFlags, sources []string) ([]*record.Dataset, error) {
	places, err := answerPlaces(sources)
	if err != nil {
		return nil, err
	}
	lines, echo := bufio.NewReader(w.in), !isTerminal(w.in)
	var all []*record.Dataset
	stopped := false
	for _, p := range places {
		t := &talk{w: w, lines: lines, echo: echo, answers: p.answers, left: map[string]bool{}}
		t.read = func(ctx context.Context) ([]*record.Dataset, error) {
			flocks, _, err := source.load(ctx, w, []string{p.source})
			return flocks, err
		}
		if t.flocks, err = t.read(ctx); err != nil {
			return nil, err
		}
		if !stopped {
			err := t.run(ctx)
			if stopped = errors.Is(err, errStop); err != nil && !stopped {
				return nil, err
			}
		}
		all = append(all, t.flocks...)
	}
	return all, nil
}

// answerPlace is where the answers about one source are kept.
type answerPlace struct{ source, answers string }

// answerPlaces finds the places. Loose files that are read as one flock have none.
func answerPlaces(sources []string) ([]answerPlace, error) {
	var out []answerPlace
	var loose []string
	for _, s := range sources {
		info, err := os.Stat(s)
		if err == nil && info.IsDir() {
			out = append(out, answerPlace{s, filepath.Join(s, "answers.toml")})
			continue
		}
		if !slices.Contains(loose, s) {
			loose = append(loose, s)
			out = append(out, answerPlace{s, strings.TrimSuffix(s, filepath.Ext(s)) + ".answers.toml"})
		}
	}
	if len(loose) > 1 {
		return nil, usage("--ask keeps answers in the flock's folder, or beside one file, and %s have no place of their own; "+
			"put them into one folder and give that (keelmark import does), or ask about one file at a time", count(len(loose), "loose file", "loose files"))
	}
	return out, nil
}

func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// line reads one line of the keeper's. It returns errStop at the end of the input, and does not wait when the
// context ends: a read from a terminal cannot be called back.
func (t *talk) line(ctx context.Context) (string, error) {
	type typed struct {
		text string
		err  error
	}
	got := make(chan typed, 1)
	go func() {
		text, err := t.lines.ReadString('\n')
		got <- typed{text, err}
	}()
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case l := <-got:
		text := strings.TrimSpace(l.text)
		if l.err != nil && (text == "" || !errors.Is(l.err, io.EOF)) {
			if !errors.Is(l.err, io.EOF) {
				return "", l.err
			}
			fmt.Fprintln(t.w.out)
			return "", errStop
		}
		if t.echo {
			fmt.Fprintln(t.w.out, text)
		}
		return text, nil
	}
}

func (t *talk) run(ctx context.Context) error {
	open := openQuestions(t.flocks)
	if len(open) == 0 {
		fmt.Fprintf(t.w.out, "%s: there is nothing to ask.\n", t.flocks[0].Name)
		if old, err := t.kept(); err != nil || len(old.All()) == 0 {
			return err
		}
		if err := t.revise(ctx); err != nil {
			return err
		}
		if open = openQuestions(t.flocks); len(open) == 0 {
			return nil
		}
	}
	fmt.Fprintf(t.w.out, "%s: %s%s.\n", t.flocks[0].Name, count(len(open), "question", "questions"), aboutCells(t.flocks))
	fmt.Fprintf(t.w.out, "Answer with a letter, or in your own words where that is offered. Enter leaves a question open, u takes the latest answer back, r an earlier one, q stops.\n"+
		"Each answer is kept at once in %s; your spreadsheets are not changed.\n", t.answers)
	before := tallyOf(t.flocks)
	err := t.questions(ctx)
	if err != nil && !errors.Is(err, errStop) {
		return err
	}
	still := len(openQuestions(t.flocks))
	fmt.Fprintf(t.w.out, "\n%s answered, %s.\n", count(t.answered, "question", "questions"), openWords(still))
	for _, l := range before.changes(tallyOf(t.flocks)) {
		fmt.Fprintf(t.w.out, "In all, %s.\n", l)
	}
	return err
}

// capital makes a sentence of words that begin with a small letter.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func openWords(n int) string {
	if n == 0 {
		return "none left open"
	}
	return fmt.Sprintf("%d left open", n)
}

// questions asks until nothing is open that was not left open this time.
func (t *talk) questions(ctx context.Context) error {
	for {
		var next []record.Question
		for _, q := range openQuestions(t.flocks) {
			if !t.left[q.Key] {
				next = append(next, q)
			}
		}
		if len(next) == 0 {
			return nil
		}
		if err := t.ask(ctx, next[0], len(next)-1); err != nil {
			return err
		}
	}
}

// ask puts one question until it is answered or left open.
func (t *talk) ask(ctx context.Context, q record.Question, more int) error {
	old, err := t.kept()
	if err != nil {
		return err
	}
	o := offersFor(q, t.flocks)
	t.asked++
	after := ""
	if more > 0 {
		after = fmt.Sprintf("  (%d more)", more)
	}
	fmt.Fprintf(t.w.out, "\nQuestion %d%s\n", t.asked, after)
	printWrapped(t.w.out, "  ", q.Message)
	if len(q.More) > 0 {
		fmt.Fprintf(t.w.out, "    One answer settles %s: %s\n", count(1+len(q.More), "cell", "cells"), places(q))
	}
	if a, ok := old.Get(q.Key); ok {
		if a.Fits(q.Raw) {
			fmt.Fprintf(t.w.out, "    %s holds the answer %q, which does not settle it.\n", filepath.Base(t.answers), a.Value)
		} else {
			fmt.Fprintf(t.w.out, "    You answered %q when the cell held %q. It has changed since, so that answer does not count.\n", a.Value, a.Raw)
		}
	}
	for i, r := range o.readings {
		fmt.Fprintf(t.w.out, "    %s) %s\n", letter(i), r.Label)
	}
	if hint := o.own.hint(); hint != "" {
		or := "or "
		if len(o.readings) == 0 {
			or = ""
		}
		fmt.Fprintf(t.w.out, "    %swrite %s\n", or, hint)
	}
	if len(o.readings) == 0 && o.own == nothing {
		fmt.Fprintln(t.w.out, "    This cannot be settled here: correct the sheet, or say it in flock.toml (keelmark help flock.toml).")
		t.left[q.Key] = true
		return nil
	}
	for {
		fmt.Fprint(t.w.out, "> ")
		text, err := t.line(ctx)
		if err != nil {
			return err
		}
		switch strings.ToLower(text) {
		case "":
			t.left[q.Key] = true
			return nil
		case "q":
			return errStop
		case "u":
			return t.undo(ctx)
		case "r":
			return t.revise(ctx)
		}
		value, complaint := o.value(text, t.flocks)
		if complaint == "" {
			complaint, err = t.settle(ctx, []record.Question{q}, value)
		}
		if err != nil {
			return err
		}
		if complaint == "" {
			return t.alike(ctx, q, value)
		}
		printWrapped(t.w.out, "  ", complaint)
	}
}

// undo takes back the latest answer of this talk, so that its question is asked again.
func (t *talk) undo(ctx context.Context) error {
	if len(t.done) == 0 {
		fmt.Fprintln(t.w.out, "  Nothing was answered yet this time; r takes back an answer of an earlier time.")
		return nil
	}
	last := t.done[len(t.done)-1]
	t.done = t.done[:len(t.done)-1]
	if err := t.forget(last); err != nil {
		return err
	}
	flocks, err := t.read(ctx)
	if err != nil {
		return err
	}
	t.flocks = flocks
	t.answered -= len(last)
	fmt.Fprintf(t.w.out, "  Taken back: %s.\n", last[0].Message)
	return nil
}

// revise takes back an answer of an earlier time, so that its question is asked again.
func (t *talk) revise(ctx context.Context) error {
	old, err := t.kept()
	if err != nil {
		return err
	}
	all := old.All()
	if len(all) == 0 {
		fmt.Fprintf(t.w.out, "  %s holds no answer.\n", t.answers)
		return nil
	}
	fmt.Fprintf(t.w.out, "  These answers are kept in %s:\n", t.answers)
	for i, a := range all {
		value := fmt.Sprintf("%q", a.Value)
		if a.Value == "" {
			value = "left empty"
		}
		fmt.Fprintf(t.w.out, "    %d) %s: %s\n", i+1, a.Key, value)
	}
	fmt.Fprint(t.w.out, "  Which of them is to be asked again? Its number, or Enter for none\n> ")
	text, err := t.line(ctx)
	if err != nil || text == "" {
		return err
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > len(all) {
		fmt.Fprintf(t.w.out, "  %q is none of these numbers; all answers stay.\n", text)
		return nil
	}
	key := all[n-1].Key
	if err := t.forget([]record.Question{{Key: key}}); err != nil {
		return err
	}
	if t.flocks, err = t.read(ctx); err != nil {
		return err
	}
	delete(t.left, key)
	for i := range t.done {
		n := len(t.done[i])
		t.done[i] = slices.DeleteFunc(t.done[i], func(q record.Question) bool { return q.Key == key })
		t.answered -= n - len(t.done[i])
	}
	t.done = slices.DeleteFunc(t.done, func(q []record.Question) bool { return len(q) == 0 })
	fmt.Fprintf(t.w.out, "  Taken back: %s.\n", key)
	return nil
}

// alike offers an answer for the cells of the same column that hold the same text.
func (t *talk) alike(ctx context.Context, q record.Question, value string) error {
	same := sameText(q, openQuestions(t.flocks))
	if len(same) == 0 {
		return nil
	}
	var cells []string
	for _, s := range same {
		cells = append(cells, s.At.Cell())
	}
	fmt.Fprintf(t.w.out, "  %s of this column %s the same text: %s. The same answer for all of them? y or n\n> ",
		count(len(same), "more cell", "more cells"), plural(len(same), "holds", "hold"), listed(cells, shownAtMost))
	text, err := t.line(ctx)
	if err != nil {
		return err
	}
	if text = strings.ToLower(text); text != "y" && text != "yes" {
		return nil
	}
	complaint, err := t.settle(ctx, same, value)
	if complaint != "" {
		printWrapped(t.w.out, "  ", complaint)
	}
	return err
}

// settle keeps an answer, reads the records again and tells what changed. It returns why the answer settles
// nothing, in which case it is not kept.
func (t *talk) settle(ctx context.Context, settled []record.Question, value string) (complaint string, err error) {
	if err := t.keep(settled, value); err != nil {
		return "", err
	}
	before := tallyOf(t.flocks)
	flocks, err := t.read(ctx)
	if err != nil {
		return "", err
	}
	var refused []record.Question
	for _, now := range openQuestions(flocks) {
		if slices.ContainsFunc(settled, func(s record.Question) bool { return s.Key == now.Key }) {
			refused = append(refused, now)
		}
	}
	if len(refused) > 0 {
		if err := t.forget(refused); err != nil {
			return "", err
		}
		if len(refused) == len(settled) {
			what := fmt.Sprintf("%q", value)
			if value == "" {
				what = "Leaving it empty"
			}
			return what + " settles nothing here. Write it another way, or press Enter to leave it open and correct the sheet.", nil
		}
	}
	t.answered += len(settled) - len(refused)
	t.done = append(t.done, slices.DeleteFunc(slices.Clone(settled), func(s record.Question) bool {
		return slices.ContainsFunc(refused, func(r record.Question) bool { return r.Key == s.Key })
	}))
	changes := before.changes(tallyOf(flocks))
	if len(changes) == 0 {
		changes = []string{"noted; the records stay as they were read"}
	}
	for _, l := range changes {
		fmt.Fprintf(t.w.out, "  %s.\n", capital(l))
	}
	for _, r := range refused {
		fmt.Fprintf(t.w.out, "  For %s the answer settles nothing; it is asked by itself.\n", r.At.Cell())
	}
	t.flocks = flocks
	return "", nil
}

// kept reads the answers as they are now: the keeper may have edited the file meanwhile.
func (t *talk) kept() (*settings.Answers, error) {
	data, err := os.ReadFile(t.answers)
	if errors.Is(err, fs.ErrNotExist) {
		return &settings.Answers{}, nil
	}
	if err != nil {
		return nil, err
	}
	return settings.ReadAnswers(filepath.Base(t.answers), data)
}

func (t *talk) keep(questions []record.Question, value string) error {
	return t.change(func(a *settings.Answers) {
		for _, q := range questions {
			one := settings.Answer{Key: q.Key, Value: value, Cell: q.At.Key(), Raw: q.Raw}
			if aboutOneCell(q) {
				one.Row = rowOf(q.At, t.flocks)
			}
			a.Set(one)
		}
	})
}

// rowOf is what the row of a cell holds, so that the answer can follow it.
func rowOf(at record.Ref, flocks []*record.Dataset) string {
	for _, d := range flocks {
		for _, l := range d.Ledgers {
			if l.File == at.File && l.Sheet == at.Sheet && at.Row > 0 && int(at.Row) <= len(l.Texts) {
				return ingest.RowText(l.Texts[at.Row-1])
			}
		}
	}
	return ""
}

func (t *talk) forget(questions []record.Question) error {
	return t.change(func(a *settings.Answers) {
		for _, q := range questions {
			a.Delete(q.Key)
		}
	})
}

func (t *talk) change(edit func(*settings.Answers)) error {
	a, err := t.kept()
	if err != nil {
		return err
	}
	a = ingest.Follow(a, t.flocks) // an answer whose row has moved must not be taken for one to the row that is there now
	edit(a)
	data, err := a.Encode()
	if err != nil {
		return err
	}
	return writeFile(t.answers, data)
}
