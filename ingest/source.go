package ingest

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
	"keelmark/ingest/sheet"
)

// group is the files of one source with the place of its settings.
type group struct {
	name  string // of the flock until a setting or column gives a better one
	dir   string // folder that holds flock.toml, "" for loose files
	paths []string
}

// gather sorts the sources: each folder is a group, all loose files together are one, at the place of the
// first.
func gather(sources []string) ([]group, error) {
	if len(sources) == 0 {
		return nil, fmt.Errorf("%w: name a file or a folder", ErrNoSheets)
	}
	var groups []group
	loose := -1
	for _, src := range sources {
		info, err := os.Stat(src)
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("%s: there is no such file or folder; check the spelling", src)
		}
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			if loose < 0 {
				groups = append(groups, group{name: stem(src)})
				loose = len(groups) - 1
			}
			if !slices.Contains(groups[loose].paths, src) {
				groups[loose].paths = append(groups[loose].paths, src)
			}
			continue
		}
		paths, err := sheetsIn(src)
		if err != nil {
			return nil, err
		}
		if len(paths) == 0 {
			return nil, fmt.Errorf("%s: %w in this folder; put the flock's .xlsx, .ods or .csv files there", src, ErrNoSheets)
		}
		abs, err := filepath.Abs(src)
		if err != nil {
			abs = src
		}
		groups = append(groups, group{name: filepath.Base(abs), dir: src, paths: paths})
	}
	return groups, nil
}

// extensions of files that are looked at in a folder. A loose file is looked at whatever its name.
func extensions() []string {
	return []string{".xlsx", ".xlsm", ".xltx", ".ods", ".fods", ".csv", ".tsv", ".tab", ".txt", ".xls"}
}

// sheetsIn lists the spreadsheets of a folder by name, without hidden files and without those that an open
// spreadsheet program leaves beside its file.
func sheetsIn(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		name := e.Name()
		if e.IsDir() || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~$") || strings.HasPrefix(name, "._") {
			continue
		}
		if slices.Contains(extensions(), strings.ToLower(filepath.Ext(name))) {
			out = append(out, filepath.Join(dir, name))
		}
	}
	return out, nil
}

func base(path string) string { return filepath.Base(path) }

func stem(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

// plain is an error as File.Reason tells it.
func plain(err error) string {
	var refusal *sheet.Refusal
	if errors.As(err, &refusal) {
		return refusal.Error()
	}
	return err.Error()
}

// settings reads flock.toml and answers.toml: those of the folder, or NAME.flock.toml and NAME.answers.toml
// beside a single file. Neither need exist.
func (g group) settings() (record.Settings, *settings.Answers, error) {
	set, answers := filepath.Join(g.dir, "flock.toml"), filepath.Join(g.dir, "answers.toml")
	if g.dir == "" {
		if len(g.paths) != 1 {
			return record.Settings{}, nil, nil
		}
		beside := strings.TrimSuffix(g.paths[0], filepath.Ext(g.paths[0]))
		set, answers = beside+".flock.toml", beside+".answers.toml"
	}
	var s record.Settings
	var a *settings.Answers
	data, err := os.ReadFile(set)
	if err == nil {
		s, err = settings.Read(filepath.Base(set), data, fields())
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return record.Settings{}, nil, err
	}
	data, err = os.ReadFile(answers)
	if err == nil {
		a, err = settings.ReadAnswers(filepath.Base(answers), data)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return record.Settings{}, nil, err
	}
	return s, a, nil
}

// fields lists what flock.toml may call a column.
func fields() []string {
	all := parse.Fields()
	out := make([]string, len(all))
	for i, f := range all {
		out[i] = string(f)
	}
	return out
}

// overlay returns base with every setting that over sets.
func overlay(base, over record.Settings) record.Settings {
	s := base
	text := func(at *string, v string) {
		if v != "" {
			*at = v
		}
	}
	text(&s.Flock.Name, over.Flock.Name)
	text(&s.Flock.Code, over.Flock.Code)
	text(&s.Flock.Country, over.Flock.Country)
	text(&s.Flock.Hemisphere, over.Flock.Hemisphere)
	text(&s.Flock.Breed, over.Flock.Breed)
	text(&s.Flock.Standard, over.Flock.Standard)
	text(&s.Flock.Units, over.Flock.Units)
	text(&s.Flock.StandardTable, over.Flock.StandardTable)
	if over.Flock.Size != "" {
		s.Flock.Size = over.Flock.Size
	}
	text(&s.Show.Name, over.Show.Name)
	text(&s.Show.ClassRule, over.Show.ClassRule)
	text(&s.Show.SeasonStart, over.Show.SeasonStart)
	text(&s.Show.Paper, over.Show.Paper)
	if over.Show.Date.Known() {
		s.Show.Date = over.Show.Date
	}
	text(&s.Dates.Order, over.Dates.Order)
	text(&s.Units.Weight, over.Units.Weight)
	text(&s.Units.Age, over.Units.Age)
	return s
}

func first(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}
