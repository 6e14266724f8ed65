package analysis

import (
	"encoding/json"
	"math"
	"slices"

	"keelmark/ingest/record"
)

// Stands says on which side of a decision a claim stands. It never says what to decide.
type Stands string

// The sides.
const (
	For     Stands = "for"
	Against Stands = "against"
	Open    Stands = "open" // too little to say, or neither
	Stop    Stands = "stop" // a vet or the authority comes first
)

// Claim is one sentence with what it rests on.
type Claim struct {
	ID       string       // "forecast.band/R12": analysis, kind, subject; unique within a result
	Subject  Subject      //
	Topic    string       // "weight", "parasites", "records", ...
	Stands   Stands       //
	Text     string       // the sentence, with its range and N
	Estimate *Estimate    // the number in it, where there is one
	N        Counts       //
	RestsOn  []record.Ref // the cells
	Pool     []string     // IDs of pool claims it leans on, which list their own cells
	Caveats  []string     //
	Refusal  *Refusal     // set where the data are too few; Text then says so
	Method   string       // in a few words
	Source   string       // publication or "common practice, no source"
}

// Subject is whom a claim is about; empty fields do not apply.
type Subject struct {
	Bird  string `json:"bird,omitempty"`
	Pen   string `json:"pen,omitempty"`
	Line  string `json:"line,omitempty"`
	Flock string `json:"flock,omitempty"`
}

// Counts is how much a claim rests on.
type Counts struct {
	Records int `json:"records,omitempty"`
	Birds   int `json:"birds,omitempty"`
	Dates   int `json:"dates,omitempty"`
	Years   int `json:"years,omitempty"`
}

// Refusal says what is missing and the cheapest observation that would supply it.
type Refusal struct {
	Needs string `json:"needs"`
	Next  string `json:"next"`
}

// Estimate is a number with its interval. An unknown bound is NaN or an infinity and is not written to JSON.
type Estimate struct {
	Value float64
	Low   float64
	High  float64
	Level float64 // stated chance of the interval: 0.9
	Unit  string
}

// MarshalJSON writes the claim in the form that executed notebooks and `--format json` share.
func (c Claim) MarshalJSON() ([]byte, error) {
	type out struct {
		ID      string   `json:"id"`
		Subject Subject  `json:"subject"`
		Topic   string   `json:"topic"`
		Stands  Stands   `json:"stands"`
		Text    string   `json:"text"`
		Value   *float64 `json:"value,omitempty"`
		Unit    string   `json:"unit,omitempty"`
		Low     *float64 `json:"low,omitempty"`
		High    *float64 `json:"high,omitempty"`
		Level   float64  `json:"level,omitempty"`
		N       Counts   `json:"n"`
		RestsOn []string `json:"rests_on"`
		Pool    []string `json:"pool,omitempty"`
		Caveats []string `json:"caveats,omitempty"`
		Refusal *Refusal `json:"refusal,omitempty"`
		Method  string   `json:"method,omitempty"`
		Source  string   `json:"source,omitempty"`
	}
	o := out{ID: c.ID, Subject: c.Subject, Topic: c.Topic, Stands: c.Stands, Text: c.Text, N: c.N,
		RestsOn: []string{}, Pool: c.Pool, Caveats: c.Caveats, Refusal: c.Refusal, Method: c.Method, Source: c.Source}
	for _, r := range c.RestsOn {
		o.RestsOn = append(o.RestsOn, r.Key())
	}
	if e := c.Estimate; e != nil {
		o.Value, o.Low, o.High = finite(e.Value), finite(e.Low), finite(e.High)
		o.Unit, o.Level = e.Unit, e.Level
	}
	return json.Marshal(o)
}

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// Refs collects the cells of observations, in order and each once.
func Refs(obs []record.Observation) []record.Ref {
	var refs []record.Ref
	for _, o := range obs {
		refs = append(refs, o.At)
		refs = append(refs, o.Detail().Also...)
	}
	slices.SortFunc(refs, record.Ref.Compare)
	return slices.Compact(refs)
}
