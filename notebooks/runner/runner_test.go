package runner

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/nbformat"
)

func engine(t testing.TB, limits cell.Limits) *cell.Engine {
	t.Helper()
	d := &record.Dataset{Name: "invented", Birds: []record.Bird{{ID: "R12", Ring: "R12"}}}
	for i := range 5 {
		day, _ := record.DayOf(2025, 3, 1+7*i)
		d.Observations = append(d.Observations, record.Observation{Bird: "R12", Trait: record.Weight, Value: float64(500 + 20*i), On: record.On(day),
			At: record.Ref{File: "w.csv", Row: int32(i + 2), Col: 3}})
	}
	e, err := cell.New(cell.Options{Flock: d, Limits: limits})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// notebook makes one of code cells; a source that begins with "%tag " carries the tag.
func notebook(sources ...string) *nbformat.Notebook {
	nb := nbformat.New()
	nb.Add(nbformat.Markdown, "# A notebook")
	for _, s := range sources {
		tag := ""
		if rest, ok := strings.CutPrefix(s, "%"); ok {
			tag, s, _ = strings.Cut(rest, " ")
		}
		c := nb.Add(nbformat.Code, s)
		if tag != "" {
			c.Metadata["tags"] = []any{tag}
		}
	}
	return nb
}

// shown is what the cells of a notebook show, one line a cell: count, then the outputs.
func shown(nb *nbformat.Notebook) string {
	var b strings.Builder
	for _, c := range nb.Cells {
		if c.Type != nbformat.Code {
			continue
		}
		b.WriteString("[")
		if c.Count != nil {
			b.WriteString(string(rune('0' + *c.Count)))
		}
		b.WriteString("]")
		for _, o := range c.Outputs {
			text := o.Text + o.ErrValue
			if s, ok := o.Data["text/plain"].(string); ok {
				text = s
			}
			b.WriteString(" " + o.Type + ":" + strings.TrimSpace(text))
		}
		b.WriteString("\n")
	}
	return strings.TrimSpace(b.String())
}

func TestRun(t *testing.T) {
	nb := notebook("x = 2\nprint(\"a\")\nprint(\"b\")", "", "x * 21", "flock.weights.head(2)", "clear()\nprint(1)\nclear(wait = True)\nprint(2)")
	nb.Cells[1].Metadata["execution"] = map[string]any{"iopub.status.busy": "2025-01-01"}
	before := write(t, nb)
	out, err := Run(context.Background(), nb, engine(t, cell.Limits{}), nil)
	if err != nil {
		t.Fatal(err)
	}
	got := shown(out)
	want := "[1] stream:a\nb\n[]\n[2] execute_result:42\n[3] execute_result:bird  name"
	if !strings.HasPrefix(got, want) || !strings.HasSuffix(got, "[4] stream:2") {
		t.Errorf("got\n%s", got)
	}
	if !bytes.Equal(before, write(t, nb)) {
		t.Error("the notebook that was given changed")
	}
	data := write(t, out)
	validate(t, data)
	if bytes.Contains(data, []byte("iopub")) {
		t.Error("times of another run are left in")
	}
	// Run again, both from the source and from the executed notebook, the bytes are the same.
	for _, from := range []*nbformat.Notebook{nb, out} {
		again, err := Run(context.Background(), from, engine(t, cell.Limits{}), nil)
		if err != nil || !bytes.Equal(write(t, again), data) {
			t.Errorf("a second run differs (%v)", err)
		}
	}
	back, err := nbformat.Parse("n.ipynb", data)
	if err != nil || !bytes.Equal(write(t, back), data) {
		t.Errorf("reading and writing changes the notebook (%v)", err)
	}
}

func TestAFailingCellStopsTheRun(t *testing.T) {
	nb := notebook("x = 1", "print(x)\nx = y + 1", "x", "print(5)")
	nb.Cells[3].Outputs = []nbformat.Output{{Type: nbformat.Stream, Name: "stdout", Text: "stale"}}
	out, err := Run(context.Background(), nb, engine(t, cell.Limits{}), nil)
	var f *cell.Failure
	if !errors.As(err, &f) || f.Cell != "cell 2" || f.Line != 2 {
		t.Fatalf("error %v", err)
	}
	want := "[1]\n[2] stream:1 error:cell 2, line 2: the name y is not known; set it first (y = ...), or run the cell that sets it\n[]\n[]"
	if got := shown(out); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	validate(t, write(t, out))
}

func TestACellThatIsMeantToFail(t *testing.T) {
	out, err := Run(context.Background(), notebook("%raises-exception 1 / 0", "2"), engine(t, cell.Limits{}), nil)
	if err != nil || !strings.HasSuffix(shown(out), "[2] execute_result:2") || !strings.Contains(shown(out), "division by zero") {
		t.Errorf("%v\n%s", err, shown(out))
	}
}

func TestParameters(t *testing.T) {
	nb := notebook("z = 0", "%parameters bird = \"R1\"\nabove = 500\nall = False", "(bird, above, all)")
	for in, want := range map[string]string{
		"":                     `("R1", 500, False)`,
		"bird=007":             `("007", 500, False)`,
		"bird=12":              `("12", 500, False)`,
		"bird=Žofie \"x\"":     `("Žofie \"x\"", 500, False)`,
		"above=612.5 all=True": `("R1", 612.5, True)`,
		"above=-1":             `("R1", -1, False)`,
		"above=[1,2]":          `("R1", [1, 2], False)`,
		"above=None":           `("R1", None, False)`,
		"above=fail(1)":        `("R1", "fail(1)", False)`,
		"above=2025-03-01":     `("R1", "2025-03-01", False)`,
	} {
		var sets []Set
		for _, p := range strings.Split(in, " all") {
			if p == "" {
				continue
			}
			if strings.HasPrefix(p, "=") {
				p = "all" + p
			}
			s, err := ParseSet(p)
			if err != nil {
				t.Fatal(err)
			}
			sets = append(sets, s)
		}
		out, err := Run(context.Background(), nb, engine(t, cell.Limits{}), sets)
		if err != nil {
			t.Errorf("%s: %v", in, err)
			continue
		}
		if got := out.Cells[len(out.Cells)-1].Outputs[0].Data["text/plain"]; got != want {
			t.Errorf("%s: got %v, want %s", in, got, want)
		}
		if injected := len(out.Cells) - len(nb.Cells); injected != min(len(sets), 1) {
			t.Errorf("%s: %d cells put in", in, injected)
		}
		// Running the result without parameters takes the injected cell out again.
		plain, err := Run(context.Background(), out, engine(t, cell.Limits{}), nil)
		if err != nil || len(plain.Cells) != len(nb.Cells) {
			t.Errorf("%s: run again: %d cells (%v)", in, len(plain.Cells), err)
		}
		validate(t, write(t, out))
	}
	for in, want := range map[string]string{"brid=x": "there is no parameter brid; did you mean bird?", "colour=x": "there are: bird, above, all"} {
		s, _ := ParseSet(in)
		if _, err := Run(context.Background(), nb, engine(t, cell.Limits{}), []Set{s}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", in, err)
		}
	}
	if _, err := Run(context.Background(), notebook("1"), engine(t, cell.Limits{}), []Set{{"bird", "x"}}); err == nil || !strings.Contains(err.Error(), "no cell of the notebook is tagged parameters") {
		t.Errorf("without parameters: %v", err)
	}
	if _, err := ParseSet("bird"); err == nil {
		t.Error("a parameter without a value passed")
	}
}

func TestLimitsAndInterrupt(t *testing.T) {
	out, err := Run(context.Background(), notebook("x = 1", "while True:\n    pass", "x"), engine(t, cell.Limits{Steps: 10_000}), nil)
	if err == nil || !strings.Contains(err.Error(), "10000 steps") || !strings.HasSuffix(shown(out), "\n[]") {
		t.Errorf("%v\n%s", err, shown(out))
	}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	if _, err := Run(ctx, notebook("while True:\n    pass"), engine(t, cell.Limits{}), nil); err == nil || !strings.Contains(err.Error(), "stopped by you") {
		t.Errorf("interrupted: %v", err)
	}
}

func TestAHundredThousandPrints(t *testing.T) {
	out, err := Run(context.Background(), notebook("for i in range(100000):\n    print(i)"), engine(t, cell.Limits{}), nil)
	if err != nil || len(out.Cells[1].Outputs) != 1 || !strings.HasSuffix(out.Cells[1].Outputs[0].Text, "\n99999\n") {
		t.Errorf("%d outputs (%v)", len(out.Cells[1].Outputs), err)
	}
}

func write(t testing.TB, nb *nbformat.Notebook) []byte {
	t.Helper()
	data, err := nb.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// validate checks against the public schema of notebook format 4.5; see notebooks/nbformat/testdata.
func validate(t testing.TB, data []byte) {
	t.Helper()
	schema, err := jsonschema.NewCompiler().Compile("../nbformat/testdata/nbformat.v4.5.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(v); err != nil {
		t.Error(err)
	}
}

func BenchmarkFourCells(b *testing.B) {
	nb := notebook("t = flock.weights", "hens = t.where(weight = (500, None))", "mean(hens.weight)", "hens.head(5)")
	for b.Loop() {
		if _, err := Run(context.Background(), nb, engine(b, cell.Unattended()), nil); err != nil {
			b.Fatal(err)
		}
	}
}
