package intake

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"keelmark/ingest/settings"
)

// scene is a flock's folder before an import, and the files to import. The edited sheet is copied in some parts.
type scene struct {
	given, dir string
	before     map[string]string
	files      []string
	answers    string // what answers.toml holds in the end: its own and those beside a file that is imported
}

func newScene(t *testing.T, rows int) scene {
	t.Helper()
	s := scene{given: t.TempDir(), dir: filepath.Join(t.TempDir(), "fl[o]ck")}
	var long strings.Builder
	long.WriteString("ring,date,weight (g),note\n")
	for i := range rows {
		fmt.Fprintf(&long, "R%d,2025-01-04,%d,%s\n", i, 600+i, strings.Repeat("x", 250))
	}
	put(t, s.dir, "w.csv", long.String())
	put(t, s.dir, "pens.csv", pens)
	put(t, s.dir, "flock.toml", "[flock]\nname = \"Invented\"\n")
	put(t, s.dir, "imports.log", "2024-06-01\tan older import")
	put(t, s.dir, "earlier/w.0.csv", winter)
	put(t, s.dir, "photo.jpg", "not a sheet")
	own, theirs := settings.Answer{Key: "hidden_row pens.csv!C3", Value: "yes", Cell: "pens.csv!C3", Raw: "hidden"}, settings.Answer{Key: "approximate_value new.csv!D2", Value: "622 g", Cell: "new.csv!D2", Raw: "621"}
	put(t, s.dir, "answers.toml", encoded(t, own))
	put(t, s.given, "new.answers.toml", encoded(t, theirs))
	s.answers = encoded(t, own, theirs)
	s.files = []string{put(t, s.given, "w.csv", strings.Replace(long.String(), ",601,", ",106,", 1)), put(t, s.given, "new.csv", edited)}
	s.before = tree(t, s.dir)
	return s
}

func encoded(t *testing.T, answers ...settings.Answer) string {
	t.Helper()
	all := &settings.Answers{}
	for _, a := range answers {
		all.Set(a)
	}
	data, err := all.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// check holds what must be true at every moment: nothing that was there or given is lost or cut.
func (s scene) check(t *testing.T, when string, given map[string]string) {
	t.Helper()
	now := tree(t, s.dir)
	whole := map[string]bool{"not a sheet": true, s.answers: true}
	for _, tr := range []map[string]string{s.before, given} {
		for _, content := range tr {
			whole[content] = true
		}
	}
	has := func(content string) bool {
		for path, c := range now {
			if c == content && !strings.HasPrefix(path, ".") {
				return true
			}
		}
		return false
	}
	for path, content := range s.before {
		if path == LogFile {
			if !strings.HasPrefix(now[path], content) {
				t.Errorf("%s: the log lost lines: %q", when, now[path])
			}
			continue
		}
		if !has(content) {
			t.Errorf("%s: %s is lost", when, path)
		}
		if _, ok := now[path]; !ok {
			t.Errorf("%s: there is no %s", when, path)
		}
	}
	for path, content := range now {
		if strings.HasPrefix(path, ".") || path == LogFile {
			continue
		}
		if !whole[content] {
			t.Errorf("%s: %s is cut, %d bytes", when, path, len(content))
		}
	}
	if got := tree(t, s.given); !mapsEqual(got, given) {
		t.Errorf("%s: the originals changed", when)
	}
}

// settle finishes and imports again, and compares with an import that nothing disturbed.
func (s scene) settle(t *testing.T, when string) {
	t.Helper()
	if _, err := Resume(s.dir); err != nil {
		t.Fatalf("%s: %v", when, err)
	}
	if tree(t, s.dir)["new.csv"] == "" { // the crash came before anything was promised
		bring(t, s.dir, options(), s.files...)
	}
	now := tree(t, s.dir)
	for path := range now {
		if strings.HasPrefix(path, ".") {
			t.Errorf("%s: %s is left", when, path)
		}
	}
	newer, err := os.ReadFile(s.files[0])
	if err != nil {
		t.Fatal(err)
	}
	if now["w.csv"] != string(newer) || now["new.csv"] != edited || now["earlier/w."+hashOf(s.before["w.csv"])[:12]+".csv"] != s.before["w.csv"] || len(now) != len(s.before)+3 {
		t.Errorf("%s: in the end the folder holds %d files", when, len(now))
	}
	if now["answers.toml"] != s.answers || now["earlier/answers."+hashOf(s.before["answers.toml"])[:12]+".toml"] != s.before["answers.toml"] {
		t.Errorf("%s: the answers are in the end\n%s", when, now["answers.toml"])
	}
	if lines := strings.Split(strings.TrimSuffix(now[LogFile], "\n"), "\n"); len(lines) != 2 || !strings.HasPrefix(lines[1], "2025-06-01\tedited \"w.csv\"") {
		t.Errorf("%s: the log says %q", when, lines)
	}
}

// die ends the process as a power cut would: nothing that is deferred runs.
func die() {
	p, err := os.FindProcess(os.Getpid())
	if err == nil {
		err = p.Kill()
	}
	if err != nil {
		os.Exit(70)
	}
	select {}
}

// TestImportInAChild is the process that TestKilledAtEveryMoment kills; by itself it does nothing.
func TestImportInAChild(t *testing.T) {
	args := flag.Args()
	if len(args) < 3 {
		return
	}
	last, err := strconv.Atoi(args[0])
	if err != nil {
		t.Fatal(err)
	}
	p := prepare(t, args[1], options(), args[2:]...)
	n := 0
	p.step = func() {
		if n++; n == last {
			die()
		}
	}
	if err := p.Commit(context.Background(), today()); err != nil {
		t.Fatal(err)
	}
}

func TestKilledAtEveryMoment(t *testing.T) {
	const most = 100
	for n := 1; ; n++ {
		s := newScene(t, 300)
		given := tree(t, s.given)
		child := exec.Command(os.Args[0], append([]string{"-test.run=^TestImportInAChild$", "--", strconv.Itoa(n), s.dir}, s.files...)...)
		// The child cannot clear its own copies away; they go with the test's folder.
		child.Env = append(os.Environ(), "TMPDIR="+t.TempDir())
		out, err := child.CombinedOutput()
		when := fmt.Sprintf("killed at step %d", n)
		s.check(t, when, given)
		s.settle(t, when)
		var exit *exec.ExitError
		if err == nil {
			if n < 20 {
				t.Errorf("an import has only %d steps", n-1)
			}
			return
		}
		if !errors.As(err, &exit) || exit.ExitCode() >= 0 || n > most {
			t.Fatalf("%s: %v\n%s", when, err, out)
		}
	}
}

// Whoever is cut off may be cut off again while finishing.
func TestCutOffTwice(t *testing.T) {
	type cut struct{}
	// try runs an import or its end up to a step, and reports whether it came to its end.
	try := func(last int, do func(step func()) error) (done bool) {
		defer func() {
			if r := recover(); r != nil && r != (cut{}) {
				panic(r)
			}
		}()
		n := 0
		err := do(func() {
			if n++; n == last {
				panic(cut{})
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		return true
	}
	for n := 1; ; n++ {
		ended := false
		for m := 1 + n%3; ; m += 3 {
			s := newScene(t, 3)
			given := tree(t, s.given)
			p := prepare(t, s.dir, options(), s.files...)
			ended = try(n, func(step func()) error {
				p.step = step
				return p.Commit(context.Background(), today())
			})
			again := try(m, func(step func()) error {
				_, err := resume(s.dir, step)
				return err
			})
			when := fmt.Sprintf("cut off at step %d, then at step %d", n, m)
			s.check(t, when, given)
			s.settle(t, when)
			if again || t.Failed() {
				break
			}
		}
		if ended || t.Failed() {
			return
		}
	}
}
