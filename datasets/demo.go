package datasets

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"time"

	"keelmark/ingest/record"
)

// The files are written by the generator and never by hand.
//
//go:generate go run keelmark/datasets/demo/generate
//go:embed demo/files demo/truth.json
var demoFiles embed.FS

// Folders of the demo. Each is one flock with its flock.toml.
const (
	DemoKeeper     = "wrenlow-yard" // three seasons in three habits
	DemoNeighbours = "neighbours"   // holds six folders, k1 to k6
)

// Demo returns the invented demo: README.md, the keeper's flock folder (DemoKeeper) and the folders of six
// neighbouring flocks (in DemoNeighbours). Birds, people, places and the show are invented, the weights
// simulated; nothing in it is evidence about real birds.
func Demo() fs.FS {
	sub, err := fs.Sub(demoFiles, "demo/files")
	if err != nil { // only a malformed path can fail
		panic(err)
	}
	return sub
}

// DemoToday is the day on which the demo is read, Monday 24 November 2025: two days after its last record
// and nineteen before its show. The demo ignores the clock, so that it tells the same story every year.
func DemoToday() record.Day {
	d, _ := record.DayOf(2025, time.November, 24)
	return d
}

// Truth is what the generator of the demo knew and the files do not say. It serves tests only: an analysis
// that reads it has seen the answers.
type Truth struct {
	Seed      uint64       `json:"seed"`
	Today     string       `json:"today"` // ISO, as all dates here
	Show      string       `json:"show"`
	NoiseCV   float64      `json:"noise_cv"` // of one weighing, the rounding of the scale apart
	Birds     []TrueBird   `json:"birds"`    // of the keeper
	Outbreaks []Outbreak   `json:"outbreaks"`
	Dustings  []Dusting    `json:"dustings"`
	Doubtful  []DoubtCell  `json:"doubtful"` // cells that must lead to a question or a flag
	Files     []FileCounts `json:"files"`    // what a perfect reader finds, of all flocks
	Flocks    []TrueFlock  `json:"flocks"`   // of the neighbours
}

// TrueBird is one bird as it was simulated: W(age) = Adult exp(-ln(Adult/Chick) exp(-Rate age)), age in days,
// times the loss of a moult. Weights in grams.
type TrueBird struct {
	Ring     string      `json:"ring"`
	Name     string      `json:"name,omitempty"`
	Sex      record.Sex  `json:"sex"`
	Breed    string      `json:"breed"`
	Size     record.Size `json:"size"`
	Pen      string      `json:"pen"`
	Hatched  string      `json:"hatched"`
	Left     string      `json:"left,omitempty"`
	Adult    float64     `json:"adult_g"`
	Chick    float64     `json:"chick_g"`
	Rate     float64     `json:"rate_per_day"`
	Moults   []Moult     `json:"moults,omitempty"`
	Infested [][2]string `json:"infested,omitempty"` // from, until (not included); lice
	// On the day of the show, for birds still there:
	ShowWeight float64      `json:"show_weight_g,omitempty"`
	ShowClass  record.Class `json:"show_class,omitempty"`
	Low        float64      `json:"low_g,omitempty"` // published weight less and plus a fifth; 0 where none is published
	High       float64      `json:"high_g,omitempty"`
	Inside     bool         `json:"inside"`
}

// Moult is a moult: the weight falls by Loss (a fraction) at its middle and comes back by its end.
type Moult struct {
	From string  `json:"from"`
	Days int     `json:"days"`
	Loss float64 `json:"loss"`
}

// Outbreak is a time in which lice spread in a pen.
type Outbreak struct {
	Pen   string `json:"pen"`
	From  string `json:"from"`
	Until string `json:"until"` // first day on which the last bird was clear; "" if it lasts
	Birds int    `json:"birds"`
}

// Dusting is a treatment against lice and the chance with which it cleared a bird.
type Dusting struct {
	Pen    string  `json:"pen"`
	On     string  `json:"on"`
	Second bool    `json:"second"` // 7 to 10 days after a first
	Clears float64 `json:"clears"`
}

// DoubtCell is a cell that only the keeper can settle.
type DoubtCell struct {
	File  string  `json:"file"`
	Sheet string  `json:"sheet"`
	Cell  string  `json:"cell"`
	Ring  string  `json:"ring"`
	Raw   string  `json:"raw"`
	Grams float64 `json:"grams,omitempty"` // what it meant; 0 where nobody knows
	Why   string  `json:"why"`
}

// FileCounts counts what stands in one file: records that a perfect reader finds, doubtful cells included
// where they hold a value.
type FileCounts struct {
	Flock      string `json:"flock"` // its folder
	File       string `json:"file"`
	Weights    int    `json:"weights"`
	Conditions int    `json:"conditions"`
	Lice       int    `json:"lice"`
	Mites      int    `json:"mites"`
	Treatments int    `json:"treatments"`
	Gone       int    `json:"gone"` // deaths and departures
}

// TrueFlock is a neighbouring flock as it was simulated.
type TrueFlock struct {
	Code       string  `json:"code"`
	Hemisphere string  `json:"hemisphere"`
	Birds      int     `json:"birds"`
	Checks     int     `json:"checks"`     // dates on which birds were looked at
	Lousy      float64 `json:"lousy"`      // share of bird-days with lice
	Level      float64 `json:"level"`      // adult weight over the published one, mean of the flock
	Comparable bool    `json:"comparable"` // condition scored on the keeper's scale
}

// DemoTruth returns what the generator of the demo knew. For tests.
func DemoTruth() (Truth, error) {
	var t Truth
	data, err := demoFiles.ReadFile("demo/truth.json")
	if err != nil {
		return t, err
	}
	if err := json.Unmarshal(data, &t); err != nil {
		return t, fmt.Errorf("demo/truth.json: %w", err)
	}
	return t, nil
}
