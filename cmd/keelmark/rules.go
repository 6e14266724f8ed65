package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/analysis/decision"
	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
)

// rulesFile holds a keeper's own rules, in the flock's folder.
const rulesFile = "rules.star"

// specsOf are the analyses of the catalogue, with the keeper's own rules at work in decisions where the sources of the
// flock hold any. Of several flocks only those of a folder of the flock's name are its own.
func specsOf(sources []string, d *record.Dataset, flocks int) ([]analysis.Spec, error) {
	specs := catalog.All()
	for _, source := range sources {
		dir, path := source, filepath.Join(source, rulesFile)
		if info, err := os.Stat(source); err == nil && !info.IsDir() {
			dir, path = filepath.Dir(source), strings.TrimSuffix(source, filepath.Ext(source))+"."+rulesFile
		}
		if flocks > 1 && filepath.Base(dir) != d.Name {
			continue
		}
		rules, err := readRules(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		for i, s := range specs {
			if s.Name == "decision" {
				specs[i] = decision.SpecUnder(rules.Apply)
			}
		}
		break
	}
	return specs, nil
}

func readRules(path string) (cell.Rules, error) {
	info, err := os.Stat(path)
	if err != nil {
		return cell.Rules{}, err
	}
	if !info.Mode().IsRegular() || info.Size() > cell.LargestRules {
		return cell.Rules{}, fmt.Errorf("%s is no file of at most %d kB; keelmark help rules tells what it holds", path, cell.LargestRules>>10)
	}
	data, err := os.ReadFile(path)
	return cell.Rules{Name: filepath.Base(path), Source: string(data)}, err
}
