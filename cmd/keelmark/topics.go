package main

import (
	"fmt"
	"strings"

	"keelmark/analysis/catalog"
	"keelmark/datasets"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
	"keelmark/notebooks/cell"
)

// topics are the pages of help that are no verb.
func topics() []topic {
	return []topic{
		{"cells", "the language of notebook cells", cellHelp},
		{"breeds", "the breeds with published weights, and their sources", breedHelp},
		{"rules", "rules of your own: add or mute lines of a bird's sheet", func() (string, error) { return cell.RulesHelp, nil }},
		{"flock.toml", "what a flock.toml may say, ready to copy", func() (string, error) { return string(settings.Template()), nil }},
	}
}

// cellHelp is the manual of the cell language, made from the table that binds it.
func cellHelp() (string, error) {
	engine, err := newEngine(catalog.All(), &record.Dataset{}, 0)
	if err != nil {
		return "", err
	}
	return cell.Reference(engine.Manual()), nil
}

// breedHelp lists the published weights, disagreements included.
func breedHelp() (string, error) {
	rows, err := datasets.Breeds()
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "Published show weights, %d rows, each with its source. Sources disagree; all are kept.\n", len(rows))
	breed := ""
	for _, r := range rows {
		if r.Breed != breed {
			breed = r.Breed
			fmt.Fprintf(&b, "\n%s\n", breed)
		}
		var weights []string
		for _, c := range record.Classes() {
			if w := r.Weights[c]; w.Published() {
				weights = append(weights, fmt.Sprintf("%s %s", c, w.Printed))
			}
		}
		name := strings.TrimSpace(r.Variety + " " + r.SizeText)
		fmt.Fprintf(&b, "    %s: %s %s\n        %s, %s, edition %s; %s: %s\n", name, strings.Join(weights, ", "), r.Unit,
			r.Standard, r.Country, r.Edition, r.SourceKind, r.Source)
	}
	return b.String(), nil
}
