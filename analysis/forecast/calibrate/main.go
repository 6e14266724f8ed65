// Command calibrate measures how often the forecast's stated ranges and chances come true, on invented flocks whose
// truth is known, and prints a table: the share inside the 50, 80 and 90 % ranges four weeks ahead and of the mature
// weight, each with the standard error of the last (birds of a flock going together), and the error that nine birds of
// ten stay below. With -figure it also draws the stated chances of being on weight beside how often they came true.
//
//	go run ./analysis/forecast/calibrate -flocks 60 -figure reliability.svg
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"

	"keelmark/analysis/forecast/invent"
	"keelmark/plots"
)

func main() {
	flocks := flag.Int("flocks", 60, "flocks a row")
	seed := flag.Uint64("seed", 1, "of the random numbers")
	only := flag.String("only", "", "one part: family, error, shape, relatives or setback")
	figure := flag.String("figure", "", "file for the reliability figure, SVG")
	flag.Parse()
	if err := run(os.Stdout, *flocks, *seed, *only, *figure); err != nil {
		fmt.Fprintln(os.Stderr, "calibrate:", err)
		os.Exit(1)
	}
}

func run(out io.Writer, flocks int, seed uint64, only, figure string) error {
	if flocks < 1 {
		return fmt.Errorf("%d flocks cannot be measured; use at least 1", flocks)
	}
	var told tally
	for _, part := range parts() {
		if only != "" && part.name != only {
			continue
		}
		fmt.Fprintf(out, "\n%s\n%-53s %-22s %-22s %s\n", part.title, "", "4 weeks ahead", "mature", "mature  setbacks")
		fmt.Fprintf(out, "%-53s %-16s %-5s %-16s %-5s %s\n", "weighed", "50/80/90 (SE)", "p90", "50/80/90 (SE)", "p90", "refused found")
		for i, d := range part.designs {
			m, err := measure(context.Background(), d, seed+uint64(i), flocks)
			if err != nil {
				return err
			}
			fmt.Fprintf(out, "%-53s %s %s %-7d %d of %d\n", describe(d), m.later, m.mature, m.refused, m.setbacks, flocks)
			if d.Setback == 0 {
				told.join(m.told)
			} else {
				fmt.Fprintf(out, "%-53s found, or told to be too small to show, in %d of %d\n", "", m.marked, flocks)
			}
		}
	}
	if figure == "" {
		return nil
	}
	f, err := told.figure()
	if err != nil {
		return err
	}
	file, err := os.Create(figure)
	if err != nil {
		return err
	}
	if err := f.SVG(file, plots.Print(), "reliability"); err != nil {
		file.Close()
		return err
	}
	fmt.Fprintf(out, "\n%s\n%s\n", f.Alt, figure)
	return file.Close()
}

type part struct {
	name, title string
	designs     []invent.Design
}

// parts are flocks of 10 to 30 birds weighed every 2, 4 or 6 weeks, 3 to 10 times, 5 % of the weighings bad.
func parts() []part {
	var family, shape, relatives, setback []invent.Design
	for _, w := range [][2]float64{{2, 6}, {2, 8}, {2, 12}, {2, 16}, {2, 20}, {4, 10}, {4, 14}, {4, 22}, {6, 14}, {6, 20}, {6, 26}} {
		for _, noise := range []float64{0.02, 0.04} {
			family = append(family, invent.Design{Step: w[0], Last: w[1], Noise: noise, Bad: 0.05})
		}
	}
	for _, nu := range []float64{-0.1, 0.2, 0.5, 1} {
		for _, w := range [][2]float64{{2, 8}, {2, 12}, {2, 16}, {4, 18}} {
			d := invent.Design{Step: w[0], Last: w[1], Noise: 0.03, Bad: 0.05, Shape: nu}
			shape = append(shape, d)
			d.Relatives = 12
			relatives = append(relatives, d)
		}
	}
	var errors, others []invent.Design
	for _, w := range []invent.Design{{Step: 2, Last: 12}, {Step: 4, Last: 12}, {First: 4, Step: 4, Last: 12}, {Step: 2, Last: 16}, {Step: 4, Last: 16}, {First: 4, Step: 4, Last: 16}} {
		w.Noise, w.Bad = 0.03, 0.05
		errors = append(errors, w)
		w.Relatives = 12
		others = append(others, w)
	}
	for _, last := range []float64{12, 16, 20} {
		setback = append(setback, invent.Design{Step: 2, Last: last, Noise: 0.03, Bad: 0.05, Setback: 0.08})
	}
	return []part{
		{"family", "Growth of the usual shape (Gompertz)", family},
		{"error", "Errors of the mature weight, breed table only and with relatives", append(errors, others...)},
		{"shape", "Growth of another shape, breed table only", shape},
		{"relatives", "Growth of another shape, 12 relatives followed to 30 weeks", relatives},
		{"setback", "A setback of 8 % shared by the flock at 9 to 11 weeks", setback},
	}
}

func describe(d invent.Design) string {
	first := d.First
	if first == 0 {
		first = 2
	}
	s := fmt.Sprintf("week %g to %g every %g, %g %% noise", first, d.Last, d.Step, 100*d.Noise)
	if d.Shape != 0 {
		s += fmt.Sprintf(", shape %g", d.Shape)
	}
	if d.Relatives > 0 {
		s += fmt.Sprintf(", %d rel.", d.Relatives)
	}
	return s
}
