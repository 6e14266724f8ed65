// Package plots draws what an analysis found: growth curves, weights against the standard, and calendars of
// findings.
//
// A Figure is data. It holds the numbers that it shows, the words under it and an alternative text, goes to
// JSON and back without loss, and is checked before it is drawn. Drawing is a function of a draw.Canvas, so
// that screen (SVG), paper (PDF) and notebook (PNG) show the same picture.
//
// It refuses to compute: a band, a curve or a grade arrives as numbers. It reads and writes no file, and it
// shows no verdict: no dial, no light, no rank.
package plots

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Figure is one picture as data.
type Figure struct {
	Name    string  // one word, unique on its page: "growth-R12"
	Title   string  // one line, printed above
	Caption string  // what is drawn and on how many records it rests, printed below
	Alt     string  // states the finding for whoever cannot see the picture
	Width   float64 // mm, as printed: a figure is never scaled after it is drawn
	Height  float64 // mm
	Panel   Panel
}

// Panel is what a figure shows. The kinds are Growth, Multiples, Residuals, Weights, Glyph, Calendar and
// Reliability.
type Panel interface {
	// Kind is the panel's name in JSON.
	Kind() string
	// Validate reports what would keep the panel from being drawn.
	Validate() error
	// Table holds the numbers that are drawn, for whoever reads rather than looks.
	Table() analysis.Table

	plot(draw.Canvas, Theme)
}

// Limits on the size of a figure, in mm: from a line of type to a poster.
const (
	smallest = 3.0
	largest  = 1000.0
)

// inset keeps the outer half of the outermost lines inside the figure.
const inset = vg.Length(0.75)

// Validate reports what would keep the figure from being drawn or understood.
func (f Figure) Validate() error {
	var errs []error
	if strings.TrimSpace(f.Name) == "" {
		errs = append(errs, errors.New("it has no name"))
	}
	if strings.TrimSpace(f.Alt) == "" {
		errs = append(errs, errors.New("it has no alternative text; state the finding in one sentence"))
	}
	for _, mm := range []float64{f.Width, f.Height} {
		if !(mm >= smallest && mm <= largest) {
			errs = append(errs, fmt.Errorf("a side of %g mm cannot be drawn; use %g to %g", mm, smallest, largest))
		}
	}
	if f.Panel == nil {
		errs = append(errs, errors.New("it has nothing to show"))
	} else if err := f.Panel.Validate(); err != nil {
		errs = append(errs, err)
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("figure %q: %w", f.Name, err)
	}
	return nil
}

// Units is how the figure prints weights; "" where it shows none.
func (f Figure) Units() analysis.Units {
	switch p := f.Panel.(type) {
	case Growth:
		return p.Units
	case Multiples:
		if len(p.Birds) > 0 {
			return p.Birds[0].Units
		}
	case Weights:
		return p.Units
	}
	return ""
}

// Size returns the figure's size in points.
func (f Figure) Size() (width, height vg.Length) {
	return vg.Length(f.Width) * vg.Millimeter, vg.Length(f.Height) * vg.Millimeter
}

// Draw draws the figure into the canvas, which should have the figure's size. A figure that does not pass
// Validate is not drawn.
func (f Figure) Draw(c draw.Canvas, t Theme) error {
	if err := f.Validate(); err != nil {
		return err
	}
	f.Panel.plot(draw.Crop(c, inset, -inset, inset, -inset), t)
	return nil
}

// DataTable holds the numbers that the figure shows.
func (f Figure) DataTable() analysis.Table {
	t := f.Panel.Table()
	t.Name = f.Name
	if t.Caption == "" {
		t.Caption = "The numbers of this figure"
	}
	return t
}

type figureJSON struct {
	Name    string          `json:"name"`
	Title   string          `json:"title,omitempty"`
	Caption string          `json:"caption,omitempty"`
	Alt     string          `json:"alt"`
	Width   float64         `json:"width_mm"`
	Height  float64         `json:"height_mm"`
	Kind    string          `json:"kind"`
	Panel   json.RawMessage `json:"panel"`
}

// MarshalJSON writes the figure with the kind of its panel beside it.
func (f Figure) MarshalJSON() ([]byte, error) {
	if f.Panel == nil {
		return nil, fmt.Errorf("figure %q: it has nothing to show", f.Name)
	}
	panel, err := json.Marshal(f.Panel)
	if err != nil {
		return nil, fmt.Errorf("figure %q: %w", f.Name, err)
	}
	return json.Marshal(figureJSON{f.Name, f.Title, f.Caption, f.Alt, f.Width, f.Height, f.Panel.Kind(), panel})
}

// UnmarshalJSON reads what MarshalJSON wrote. It does not validate.
func (f *Figure) UnmarshalJSON(data []byte) error {
	var in figureJSON
	if err := json.Unmarshal(data, &in); err != nil {
		return err
	}
	panel, err := readPanel(in.Kind, in.Panel)
	if err != nil {
		return fmt.Errorf("figure %q: %w", in.Name, err)
	}
	*f = Figure{in.Name, in.Title, in.Caption, in.Alt, in.Width, in.Height, panel}
	return nil
}

func readPanel(kind string, data []byte) (Panel, error) {
	switch kind {
	case Growth{}.Kind():
		return read[Growth](data)
	case Multiples{}.Kind():
		return read[Multiples](data)
	case Weights{}.Kind():
		return read[Weights](data)
	case Glyph{}.Kind():
		return read[Glyph](data)
	case Calendar{}.Kind():
		return read[Calendar](data)
	case States{}.Kind():
		return read[States](data)
	case Returns{}.Kind():
		return read[Returns](data)
	case Wheel{}.Kind():
		return read[Wheel](data)
	case Years{}.Kind():
		return read[Years](data)
	case Reliability{}.Kind():
		return read[Reliability](data)
	case Funnel{}.Kind():
		return read[Funnel](data)
	case Ranges{}.Kind():
		return read[Ranges](data)
	case Residuals{}.Kind():
		return read[Residuals](data)
	}
	return nil, fmt.Errorf("no panel of kind %q is known", kind)
}

func read[P Panel](data []byte) (Panel, error) {
	var p P
	err := json.Unmarshal(data, &p)
	return p, err
}

// finite reports the first of the named numbers that is NaN or infinite.
func finite(what string, xs ...float64) error {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s: %v is not a number that can be drawn", what, x)
		}
	}
	return nil
}

func checkUnits(u analysis.Units) error {
	switch u {
	case "", analysis.Grams, analysis.PoundsOz:
		return nil
	}
	return fmt.Errorf("units %q; use %q or %q", string(u), string(analysis.Grams), string(analysis.PoundsOz))
}

// day reads an ISO date; Validate has seen it before.
func day(iso string) record.Day {
	d, _ := record.ParseDay(iso)
	return d
}
