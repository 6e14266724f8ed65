package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"
	"golang.org/x/term"

	"keelmark/analysis"
	"keelmark/datasets"
	"keelmark/ingest"
	"keelmark/ingest/record"
)

// sourceFlags are the flags of every verb that reads records. They win over flock.toml.
type sourceFlags struct {
	today      string
	weightUnit string
	ageUnit    string
	dateOrder  string
	showDate   string
	classRule  string
	standard   string
	table      string
	country    string
	breed      string
	size       string
	units      string
}

const sourceHelp = `Options about the records (they win over flock.toml):
    --weight-unit U   unit of bare weights: g, kg, lb, oz or lb-oz
    --age-unit U      unit of bare ages: d or w
    --date-order O    order of dates typed as text: dmy, mdy or ymd
    --breed B         breed, where all birds are of one and the sheet does not say
    --size S          large or bantam
    --country C       country of the standard: GB, US, ...
    --standard S      whose published weights to use, as named in help breeds
    --standard-table F  your own standard weights, as described in help flock.toml
    --show DATE       the day of the show, such as 2025-12-13
    --class-rule R    how the show tells young from old: birthday, calendar-year or season-start
    --units U         how weights are printed: g or lb-oz
    --today DATE      the day to judge from, for a run that can be repeated
`

func (f *sourceFlags) add(set *pflag.FlagSet) {
	set.StringVar(&f.weightUnit, "weight-unit", "", "")
	set.StringVar(&f.ageUnit, "age-unit", "", "")
	set.StringVar(&f.dateOrder, "date-order", "", "")
	set.StringVar(&f.breed, "breed", "", "")
	set.StringVar(&f.size, "size", "", "")
	set.StringVar(&f.country, "country", "", "")
	set.StringVar(&f.standard, "standard", "", "")
	set.StringVar(&f.table, "standard-table", "", "")
	set.StringVar(&f.showDate, "show", "", "")
	set.StringVar(&f.classRule, "class-rule", "", "")
	set.StringVar(&f.units, "units", "", "")
	set.StringVar(&f.today, "today", "", "")
}

// oneOf checks a flag that has few values; the empty value leaves flock.toml its say.
func oneOf(flag, value string, allowed ...string) error {
	if value == "" {
		return nil
	}
	for _, a := range allowed {
		if value == a {
			return nil
		}
	}
	return usage("--%s %s: use %s", flag, value, strings.Join(allowed, ", "))
}

func (f *sourceFlags) settings() (record.Settings, error) {
	err := errors.Join(
		oneOf("weight-unit", f.weightUnit, "g", "kg", "lb", "oz", "lb-oz"),
		oneOf("age-unit", f.ageUnit, "d", "w"),
		oneOf("date-order", f.dateOrder, "dmy", "mdy", "ymd"),
		oneOf("size", f.size, string(record.Large), string(record.Bantam)),
		oneOf("class-rule", f.classRule, "birthday", "calendar-year", "season-start"),
		oneOf("units", f.units, "g", "lb-oz"),
	)
	if err != nil {
		return record.Settings{}, usage("%v", err)
	}
	s := record.Settings{
		Flock: record.FlockSettings{Country: f.country, Standard: f.standard, Breed: f.breed, Size: record.Size(f.size), Units: f.units},
		Show:  record.ShowSettings{ClassRule: f.classRule},
		Dates: record.DateSettings{Order: f.dateOrder},
		Units: record.UnitSettings{Weight: f.weightUnit, Age: f.ageUnit},
	}
	if f.showDate != "" {
		day, err := record.ParseDay(f.showDate)
		if err != nil {
			return s, usage("--show: %v", err)
		}
		s.Show.Date = record.On(day)
	}
	return s, nil
}

// day is the day to judge from: the flag's, else that of the calendar.
func (f *sourceFlags) day() (record.Day, error) {
	if f.today == "" {
		y, m, d := time.Now().Date()
		today, _ := record.DayOf(y, m, d)
		return today, nil
	}
	day, err := record.ParseDay(f.today)
	if err != nil {
		return 0, usage("--today: %v", err)
	}
	return day, nil
}

// load reads the sources. Progress is shown only where a person watches.
func (f *sourceFlags) load(ctx context.Context, w world, sources []string) ([]*record.Dataset, record.Day, error) {
	if len(sources) == 0 {
		return nil, 0, usage("name the spreadsheets, or the folder that holds them")
	}
	settings, err := f.settings()
	if err != nil {
		return nil, 0, err
	}
	today, err := f.day()
	if err != nil {
		return nil, 0, err
	}
	flocks, err := readFlocks(ctx, w, sources, ingest.Options{Today: today, Settings: settings, StandardTable: f.table, Progress: progress(w.err)})
	return flocks, today, err
}

// readFlocks reads sources and adds the questions that only a bird's own history can raise.
func readFlocks(ctx context.Context, w world, sources []string, o ingest.Options) ([]*record.Dataset, error) {
	o.KeepTexts = true // a sign of illness may stand in a cell that became no record
	var err error
	if o.Breeds, err = breedNames(); err != nil {
		return nil, err
	}
	flocks, err := ingest.Load(ctx, sources, o)
	if err != nil {
		return nil, err
	}
	if err := withSlips(ctx, w, o.Today, flocks); err != nil {
		return nil, err
	}
	return flocks, nil
}

// breedNames are the breeds of the published weights, for breeds that are misspelt.
func breedNames() ([]string, error) {
	breeds, err := datasets.Breeds()
	var names []string
	for _, b := range breeds {
		names = append(names, b.Breed)
	}
	slices.Sort(names)
	return slices.Compact(names), err
}

// progress reports what is being read on a terminal, once reading has taken a second.
func progress(w io.Writer) func(ingest.Progress) error {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	begun, shown := time.Now(), false
	return func(p ingest.Progress) error {
		if time.Since(begun) < time.Second {
			return nil
		}
		if p.File == "" {
			if shown {
				fmt.Fprint(f, "\r\033[K")
			}
			return nil
		}
		shown = true
		_, err := fmt.Fprintf(f, "\r\033[Kreading %d/%d: %s", p.Done+1, p.Files, p.File)
		return err
	}
}

// contextOf is what the analyses know of a flock beside its records.
func contextOf(d *record.Dataset, today record.Day) (analysis.Context, error) {
	breeds, err := datasets.Breeds()
	if err != nil {
		return analysis.Context{}, err
	}
	return analysis.Context{Today: today, Standards: slices.Concat(d.Standards, breeds), Settings: d.Settings}, nil
}

// parse reads the flags of a verb. Its help answers --help; a mistake names the verb.
func parse(w world, set *pflag.FlagSet, help string, args []string) ([]string, error) {
	set.SetOutput(io.Discard)
	set.Usage = func() {}
	switch err := set.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		fmt.Fprint(w.out, help)
		return nil, errHelp
	case err != nil:
		return nil, usage("%s: %v; keelmark help %s lists the options", set.Name(), err, set.Name())
	}
	return set.Args(), nil
}

func flags(name string) *pflag.FlagSet { return pflag.NewFlagSet(name, pflag.ContinueOnError) }

// outcome is the exit code of having read flocks: refused files count before open questions.
func outcome(flocks []*record.Dataset) int {
	code := exitDone
	for _, d := range flocks {
		for _, f := range d.Files {
			if f.Outcome == record.Refused {
				return exitFailed
			}
		}
		if len(d.Questions)+len(d.Rejects) > 0 {
			code = exitQuestions
		}
	}
	return code
}
