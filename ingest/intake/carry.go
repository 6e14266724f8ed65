package intake

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// The files in which a flock's folder keeps what the sheets cannot say.
const (
	settingsFile = "flock.toml"
	answersFile  = "answers.toml"
)

// side is a new state of flock.toml or answers.toml.
type side struct {
	name, hash, oldHash string
	staged              string // the new state, put aside
}

// carry takes along what belongs to the files that are imported: the answers about the cells of a sheet that was edited,
// each to where its row now stands, and the settings and answers that lie beside a file as NAME.flock.toml and
// NAME.answers.toml. What the folder says already stays; where the two differ, Carried tells so. Nothing is written
// but to the folder aside. It reports whether anything is carried.
func (p *Plan) carry() (bool, error) {
	old, answers, err := p.answers()
	if err != nil {
		return false, err
	}
	flock, err := readAny(filepath.Join(p.Dir, settingsFile))
	if err != nil {
		return false, err
	}
	newFlock := flock
	for i := range p.Items {
		it := &p.Items[i]
		if it.Action == Replace {
			p.moveAnswers(it.Name, answers)
		}
		if it.Action == Skip {
			continue
		}
		beside := strings.TrimSuffix(it.Source, filepath.Ext(it.Source))
		if newFlock, err = p.takeSettings(beside+"."+settingsFile, newFlock); err != nil {
			return false, err
		}
		if err := p.takeAnswers(beside+"."+answersFile, answers); err != nil {
			return false, err
		}
	}
	var newAnswers []byte
	if len(answers.All()) > 0 || old != nil {
		if newAnswers, err = answers.Encode(); err != nil {
			return false, err
		}
	}
	if old != nil && sameAnswers(old, answers) {
		newAnswers = old
	}
	err = errors.Join(p.put(settingsFile, flock, newFlock), p.put(answersFile, old, newAnswers))
	return len(p.sides) > 0, err
}

// readAny reads a file, nil where there is none.
func readAny(path string) ([]byte, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return data, err
}

// answers are those of the folder, each at the cell to which it has followed its row so far.
func (p *Plan) answers() ([]byte, *settings.Answers, error) {
	data, err := readAny(filepath.Join(p.Dir, answersFile))
	if err != nil || data == nil {
		return nil, &settings.Answers{}, err
	}
	a, err := settings.ReadAnswers(answersFile, data)
	if err != nil {
		return nil, nil, err
	}
	return data, ingest.Follow(a, p.Before), nil
}

// sameAnswers reports whether a file says what the answers say, so that it need not be written anew.
func sameAnswers(data []byte, a *settings.Answers) bool {
	b, err := settings.ReadAnswers(answersFile, data)
	if err != nil || len(b.All()) != len(a.All()) {
		return false
	}
	for _, one := range b.All() {
		other, ok := a.Get(one.Key)
		if other.Line = one.Line; !ok || other != one {
			return false
		}
	}
	return true
}

// put sets a new state of a side file aside, where it differs from the old one.
func (p *Plan) put(name string, old, now []byte) error {
	if string(old) == string(now) {
		return nil
	}
	s := side{name: name, hash: hashBytes(now), staged: filepath.Join(p.aside, "side", name)}
	if old != nil {
		s.oldHash = hashBytes(old)
	}
	if err := os.MkdirAll(filepath.Dir(s.staged), 0o755); err != nil {
		return err
	}
	p.sides = append(p.sides, s)
	return os.WriteFile(s.staged, now, 0o644)
}

func hashBytes(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// moveAnswers moves the answers about the cells of an edited file to where their rows now stand. An answer whose row has
// vanished stays as it is: when the folder is read, it is told that it fits no more.
func (p *Plan) moveAnswers(file string, answers *settings.Answers) {
	var was, is []settings.Answer
	change := func(from, to settings.Answer) {
		if from != to {
			was, is = append(was, from), append(is, to)
		}
	}
	for _, s := range pairSheets(file, p.Before, p.After) {
		if s.old == nil || s.now == nil {
			continue
		}
		cells := map[string][]settings.Answer{}
		for _, a := range answers.All() {
			if about, ofSheet := strings.CutSuffix(a.Key, " "+file+" "+s.old.Sheet); ofSheet && s.old.Sheet != "" {
				renamed := a
				renamed.Key = about + " " + file + " " + s.now.Sheet
				change(a, renamed)
			} else {
				cells[a.Cell] = append(cells[a.Cell], a)
			}
		}
		s.eachCell(func(old, now record.Ref, oldRow, nowRow string) {
			for _, a := range cells[old.Key()] {
				if _, one := ingest.MoveAnswer(a, old); !one {
					continue
				}
				to := a
				if to.Row = oldRow; now.Row > 0 && now.Col > 0 {
					to, _ = ingest.MoveAnswer(a, now)
					to.Row = nowRow
				}
				change(a, to)
			}
		})
	}
	for _, a := range was {
		answers.Delete(a.Key)
	}
	for _, a := range is {
		answers.Set(a)
	}
}

// eachCell goes over the cells of the older state, with where each stands now, row 0 or column 0 where it has gone, and
// with what its row held and holds. The row is kept as it now is, and so one cell of a row that was corrected does not
// cost the answers to the others.
func (s sheetPair) eachCell(do func(old, now record.Ref, oldRow, nowRow string)) {
	cols := pairColumns(s.old.Texts, s.now.Texts)
	rows := pairRows(s.old.Texts, s.now.Texts, cols)
	for o, row := range s.old.Texts {
		if len(row) == 0 {
			continue
		}
		n, oldRow, nowRow := rows.from[o], ingest.RowText(row), ""
		if n >= 0 {
			nowRow = ingest.RowText(s.now.Texts[n])
		}
		for c, nc := range cols.from {
			do(record.Ref{File: s.old.File, Sheet: s.old.Sheet, Row: int32(o + 1), Col: int32(c + 1)},
				record.Ref{File: s.now.File, Sheet: s.now.Sheet, Row: int32(n + 1), Col: int32(nc + 1)}, oldRow, nowRow)
		}
	}
}

// takeSettings adds the settings beside a file to those of the folder.
func (p *Plan) takeSettings(path string, flock []byte) ([]byte, error) {
	data, err := readAny(path)
	if err != nil || data == nil {
		return flock, err
	}
	file := filepath.Base(path)
	merged, conflicts, err := settings.Merge(settingsFile, flock, file, data)
	if err != nil {
		p.Carried = append(p.Carried, fmt.Sprintf("%s is not taken along: %v; correct it and import again", path, err))
		return flock, nil
	}
	for _, c := range conflicts {
		p.Carried = append(p.Carried, fmt.Sprintf("%s and %s differ, %s: what stands in %s is kept; change it there if the other is right",
			filepath.Join(p.Dir, settingsFile), path, c, settingsFile))
	}
	if string(merged) != string(flock) {
		p.Carried = append(p.Carried, fmt.Sprintf("%s is taken along, into %s", path, filepath.Join(p.Dir, settingsFile)))
	}
	return merged, nil
}

// takeAnswers adds the answers beside a file to those of the folder.
func (p *Plan) takeAnswers(path string, answers *settings.Answers) error {
	data, err := readAny(path)
	if err != nil || data == nil {
		return err
	}
	theirs, err := settings.ReadAnswers(filepath.Base(path), data)
	if err != nil {
		p.Carried = append(p.Carried, fmt.Sprintf("%s is not taken along: %v; correct it and import again", path, err))
		return nil
	}
	n := 0
	for _, a := range theirs.All() {
		have, ok := answers.Get(a.Key)
		switch {
		case !ok:
			answers.Set(a)
			n++
		case have.Value != a.Value:
			p.Carried = append(p.Carried, fmt.Sprintf("%s answers %q to %q, and %s answers %q: that one is kept; change it there if the other is right",
				path, a.Value, a.Key, filepath.Join(p.Dir, answersFile), have.Value))
		}
	}
	if n > 0 {
		p.Carried = append(p.Carried, fmt.Sprintf("%s: %d %s taken along, into %s", path, n, map[bool]string{true: "answer", false: "answers"}[n == 1], filepath.Join(p.Dir, answersFile)))
	}
	return nil
}

// stageSides copies the new states of flock.toml and answers.toml, and what they replace, to the stage.
func (p *Plan) stageSides(ctx context.Context, stage string) ([]move, error) {
	var out []move
	for i, s := range p.sides {
		m := move{Staged: fmt.Sprintf("side-%d", i), Name: s.name, Hash: s.hash, OldHash: s.oldHash}
		if err := exactCopy(ctx, s.staged, filepath.Join(stage, m.Staged), s.hash, p.step); err != nil {
			return out, err
		}
		if s.oldHash != "" {
			m.Kept, m.Earlier = fmt.Sprintf("old-side-%d", i), filepath.ToSlash(earlierName(s.name, s.oldHash))
			if err := exactCopy(ctx, filepath.Join(p.Dir, s.name), filepath.Join(stage, m.Kept), s.oldHash, p.step); err != nil {
				return out, err
			}
		}
		out = append(out, m)
	}
	return out, nil
}
