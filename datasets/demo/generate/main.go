// Command generate writes the invented demo: a keeper's flock folder, six neighbouring flocks, and the truth
// behind them for tests.
//
//	go run ./datasets/demo/generate [DIR]
//
// DIR is the folder of the demo, "datasets/demo" where none is given. The same program writes the same bytes.
// It refuses to draw on real birds, people or places: names are made up, weights are simulated around
// published show weights, and every flock calls itself invented.
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"keelmark/datasets"
)

// seed fixes every draw.
const seed = 20251124

func main() {
	dir := filepath.Join("datasets", "demo")
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := run(dir); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(dir string) error {
	if _, err := os.Stat(dir); err != nil {
		return fmt.Errorf("%w; run it in the project's top folder or name the folder of the demo", err)
	}
	files, err := demo()
	if err != nil {
		return err
	}
	if err := os.RemoveAll(filepath.Join(dir, "files")); err != nil {
		return err
	}
	for _, f := range files {
		path := filepath.Join(dir, filepath.FromSlash(f.path))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, f.data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// file is one file to write, its path relative to the folder of the demo.
type file struct {
	path string
	data []byte
}

// demo makes every file of the demo, the truth last.
func demo() ([]file, error) {
	standards, err := datasets.Breeds()
	if err != nil {
		return nil, err
	}
	truth := datasets.Truth{
		Seed: seed, Today: datasets.DemoToday().String(), Show: show.String(), NoiseCV: noiseCV,
		Outbreaks: []datasets.Outbreak{}, Doubtful: []datasets.DoubtCell{},
	}
	keeper := keeperFlock()
	keeper.spreadLice(&truth)
	files := []file{
		{"files/README.md", []byte(readme)},
		{"files/" + datasets.DemoKeeper + "/flock.toml", []byte(keeperToml)},
	}
	for _, write := range []func(*flock, *datasets.Truth) (string, []byte, error){season2023, season2024, season2025} {
		name, data, err := write(keeper, &truth)
		if err != nil {
			return nil, err
		}
		files = append(files, file{"files/" + datasets.DemoKeeper + "/" + name, data})
	}
	for _, n := range neighbours() {
		more, err := n.files(&truth)
		if err != nil {
			return nil, err
		}
		files = append(files, more...)
	}
	for _, b := range keeper.birds {
		truth.Birds = append(truth.Birds, b.truth(standards))
	}
	var text bytes.Buffer
	out := json.NewEncoder(&text)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	if err := out.Encode(truth); err != nil {
		return nil, err
	}
	return append(files, file{"truth.json", text.Bytes()}), nil
}
