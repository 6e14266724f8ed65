package intake

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest"
	"keelmark/ingest/record"
)

// All sheets of these tests are invented.

func today() record.Day {
	day, err := record.ParseDay("2025-06-01")
	if err != nil {
		panic(err)
	}
	return day
}

func options() Options { return Options{Load: ingest.Options{Today: today()}} }

func put(t testing.TB, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func prepare(t testing.TB, dir string, o Options, files ...string) *Plan {
	t.Helper()
	p, err := Prepare(context.Background(), dir, files, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(p.aside); err == nil {
			t.Error("the copies aside are still there")
		}
	})
	return p
}

func bring(t testing.TB, dir string, o Options, files ...string) *Plan {
	t.Helper()
	p := prepare(t, dir, o, files...)
	if err := p.Commit(context.Background(), today()); err != nil {
		t.Fatal(err)
	}
	return p
}

// tree is a folder: content by path.
func tree(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func hashOf(content string) string {
	sum := sha256.Sum256([]byte(content))
	return hex.EncodeToString(sum[:])
}

const (
	winter = "ring,name,date,weight (g)\nR1,Bess,2025-01-04,612\nR2,Clary,2025-01-04,700\nR1,Bess,2025-02-01,640\n"
	edited = "ring,name,date,weight (g)\nR1,Bess,2025-01-04,621\nR1,Bess,2025-02-01,640\nR3,Dot,2025-02-01,655\n"
	pens   = "date,ring,weight (g)\n2025-02-01,R1,640\n2025-03-01,R1,660\n"
)

func TestASeasonIsCopiedUntouched(t *testing.T) {
	given, dir := t.TempDir(), filepath.Join(t.TempDir(), "my flock")
	odd := "ring;date;weight (g)\r\nR1;2025-01-04;612\r\n\xe9\x00"
	a, b := put(t, given, "w.csv", winter), put(t, given, "odd name é.csv", odd)
	p := bring(t, dir, options(), a)
	if p.Before != nil || len(p.After) != 1 || len(p.After[0].Birds) != 2 || p.After[0].Name != "my flock" {
		t.Errorf("before %v, after %+v", p.Before, p.After)
	}
	bring(t, dir, Options{Load: options().Load, Anyway: true}, b)
	got := tree(t, dir)
	if got["w.csv"] != winter || got["odd name é.csv"] != odd || len(got) != 3 {
		t.Errorf("the folder holds %q", got)
	}
	log := strings.Split(got[LogFile], "\n")
	if len(log) != 3 || !strings.HasPrefix(log[0], "2025-06-01\tnew \"w.csv\" sha256:"+hashOf(winter)+"\t") || !strings.Contains(log[0], "birds 2, records 3, questions 0") {
		t.Errorf("the log says %q", log)
	}
	if left := tree(t, given); left["w.csv"] != winter || len(left) != 2 {
		t.Errorf("the originals are now %q", left)
	}
	if one, two := stat(t, a), stat(t, filepath.Join(dir, "w.csv")); !one.ModTime().Equal(two.ModTime()) {
		t.Errorf("last changed %s, now %s", one.ModTime(), two.ModTime())
	}
}

func stat(t *testing.T, path string) os.FileInfo {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info
}

func TestAnEditedSheetReplacesAndIsKept(t *testing.T) {
	given, dir := t.TempDir(), t.TempDir()
	put(t, dir, "w.csv", winter)
	put(t, dir, "pens.csv", pens)
	p := bring(t, dir, options(), put(t, given, "w.csv", edited))
	it := p.Items[0]
	if it.Action != Replace || it.OldHash != hashOf(winter) || len(it.Diffs) != 1 {
		t.Fatalf("%+v", it)
	}
	d := it.Diffs[0]
	if len(d.Cells) != 1 || d.Cells[0].At.Cell() != "D2" || d.Cells[0].Old != "612" || d.Cells[0].New != "621" {
		t.Errorf("cells %+v", d.Cells)
	}
	if len(d.Gone) != 1 || d.Gone[0].N != 3 || d.Gone[0].Texts[1] != "Clary" || len(d.NewRows) != 1 || d.NewRows[0].N != 4 {
		t.Errorf("gone %+v, new %+v", d.Gone, d.NewRows)
	}
	got := tree(t, dir)
	if got["w.csv"] != edited || got[filepath.ToSlash(it.Earlier)] != winter || got["pens.csv"] != pens || len(got) != 4 {
		t.Errorf("the folder holds %q", got)
	}
	m := p.Meaning()
	if m.Once != 1 || !slices.Equal(m.Known, []string{"R1 Bess"}) || !slices.Equal(m.New, []string{"R3 Dot"}) || !slices.Equal(m.Vanished, []string{"R2 Clary"}) {
		t.Errorf("%+v", m)
	}
	// What is read of the folder now is what the plan read.
	now, err := ingest.Load(context.Background(), []string{dir}, options().Load)
	if err != nil || len(now[0].Observations) != len(p.After[0].Observations) {
		t.Errorf("%v: %d looks, the plan had %d", err, len(now[0].Observations), len(p.After[0].Observations))
	}
	// The older sheet again is no news; going back to it is possible and loses nothing either.
	old := put(t, given, "old/w.csv", winter)
	if back := prepare(t, dir, options(), old); back.Items[0].Action != Skip || !strings.Contains(back.Items[0].Reason, "--anyway") || !back.Nothing() {
		t.Errorf("%+v", back.Items[0])
	}
	back := options()
	back.Anyway = true
	bring(t, dir, back, old)
	if got := tree(t, dir); got["w.csv"] != winter || got["earlier/w."+hashOf(edited)[:12]+".csv"] != edited || got[filepath.ToSlash(it.Earlier)] != winter {
		t.Errorf("going back: %q", got)
	}
}

func TestWhatIsNotCopied(t *testing.T) {
	given, dir := t.TempDir(), t.TempDir()
	put(t, dir, "w.csv", winter)
	before := tree(t, dir)
	for _, c := range []struct {
		name, content string
		action        Action
		says          string
	}{
		{"same.csv", winter, Same, "the same content as w.csv"},
		{"w.csv", winter, Same, "the same content as w.csv"},
		{"empty.csv", "", Skip, "empty"},
		{"letter.pdf", "%PDF-1.4", Skip, "not looked at"},
		{"w.xlsx", "PK\x03\x04 torn", Skip, ""},
		{"flock.toml", "[flock]\n", Skip, "keeps for something else"},
		{"Answers.TOML", "x", Skip, "keeps for something else"},
		{".hidden.csv", winter + "R9,Elm,2025-01-04,600\n", Skip, "keeps for something else"},
		{"~$w.csv", winter + "R9,Elm,2025-01-04,600\n", Skip, "not looked at"},
	} {
		p := bring(t, dir, options(), put(t, given, c.name, c.content))
		if it := p.Items[0]; it.Action != c.action || !strings.Contains(it.Reason, c.says) || it.Reason == "" {
			t.Errorf("%s: %+v", c.name, it)
		}
		if got := tree(t, dir); !mapsEqual(got, before) {
			t.Errorf("%s changed the folder: %q", c.name, got)
		}
	}
	for _, c := range []struct {
		files []string
		says  string
	}{
		{[]string{filepath.Join(given, "none.csv")}, "no such file"},
		{[]string{given}, "is a folder"},
		{[]string{put(t, given, "x/a.csv", pens), put(t, given, "y/A.csv", edited)}, "one name and different content"},
	} {
		if _, err := Prepare(context.Background(), dir, c.files, options()); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v", c.files, err)
		}
	}
	if _, err := Prepare(context.Background(), filepath.Join(dir, "w.csv"), nil, options()); err == nil || !strings.Contains(err.Error(), "is a file") {
		t.Error(err)
	}
	// A refused file does not stop the others, and is copied if that is wanted.
	anyway := options()
	anyway.Anyway = true
	p := bring(t, dir, anyway, filepath.Join(given, "w.xlsx"), put(t, given, "pens.csv", pens))
	if got := tree(t, dir); got["w.xlsx"] != "PK\x03\x04 torn" || got["pens.csv"] != pens || p.Items[0].Reason == "" {
		t.Errorf("%+v\n%q", p.Items, got)
	}
}

func mapsEqual(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if w, ok := b[k]; !ok || w != v {
			return false
		}
	}
	return true
}

func TestAStoppedImportLeavesNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "flock")
	p := prepare(t, dir, options(), put(t, t.TempDir(), "w.csv", winter))
	ctx, stop := context.WithCancel(context.Background())
	p.step = stop
	if err := p.Commit(ctx, today()); err == nil {
		t.Error("a stopped import is done")
	}
	if _, err := os.Stat(dir); err == nil {
		t.Errorf("it left %q", tree(t, dir))
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Prepare(stopped, dir, []string{p.Items[0].Source}, options()); err == nil {
		t.Error("a stopped preparation goes on")
	}
}

// A file that is edited while an import runs is kept as it then is.
func TestAFileThatIsEditedMeanwhileIsKept(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "w.csv", winter)
	p := prepare(t, dir, options(), put(t, t.TempDir(), "w.csv", edited))
	const late = winter + "R9,Late,2025-05-01,900\n"
	p.step = func() {
		if Interrupted(dir) {
			p.step = func() {}
			put(t, dir, "w.csv", late)
		}
	}
	commitWith(t, p)
	got := tree(t, dir)
	if got["w.csv"] != edited || got["earlier/w."+hashOf(late)[:12]+".csv"] != late {
		t.Errorf("the folder holds %q", got)
	}
}

// commitWith commits with a step that may change while it runs.
func commitWith(t *testing.T, p *Plan) {
	t.Helper()
	step := p.step
	p.step = func() { step() }
	if err := p.Commit(context.Background(), today()); err != nil {
		t.Fatal(err)
	}
}

func TestRingsAndSeasonsAreReported(t *testing.T) {
	dir := t.TempDir()
	row := func(b *bytes.Buffer, ring, name, date, g string) {
		b.WriteString(ring + "," + name + "," + date + "," + g + "\n")
	}
	var old, young bytes.Buffer
	for _, b := range []*bytes.Buffer{&old, &young} {
		b.WriteString("ring,name,date,weight (g)\n")
	}
	for _, m := range []string{"01", "02", "03", "04"} {
		row(&old, "7", "Bess", "2021-"+m+"-01", "2900")
		row(&old, "8", "Clary", "2021-"+m+"-01", "3100")
		row(&young, "7", "Thimble", "2025-"+m+"-01", "1900")
		row(&young, "8", "Clary", "2025-"+m+"-01", "3200")
	}
	put(t, dir, "2021.csv", old.String())
	p := bring(t, dir, options(), put(t, t.TempDir(), "2025.csv", young.String()))
	m := p.Meaning()
	if !slices.Equal(m.Known, []string{"8 Clary"}) || len(m.New) != 1 || len(m.Split) != 1 || m.Split[0].Ring != "7" || len(m.Split[0].Birds) != 2 {
		t.Errorf("%+v", m)
	}
}
