//go:build clients

package flocks

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// cluster is a private PostgreSQL of the test's own, reached through a socket in its folder.
type cluster struct {
	dir, bin string
	as       *syscall.SysProcAttr
}

// newCluster starts one. It runs as the user postgres where the test is root, because the server refuses to.
func newCluster(t *testing.T) cluster {
	t.Helper()
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil || len(found) == 0 {
		t.Fatal("no PostgreSQL: .ci/install installs it")
	}
	slices.Sort(found)
	dir, err := os.MkdirTemp("", "keelmark-sql-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	c := cluster{dir: dir, bin: filepath.Dir(found[len(found)-1])}
	if os.Geteuid() == 0 {
		u, err := user.Lookup("postgres")
		if err != nil {
			t.Fatal(err)
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		c.as = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
		if err := os.Chown(dir, uid, gid); err != nil {
			t.Fatal(err)
		}
	}
	c.must(t, "initdb", "--pgdata", filepath.Join(dir, "data"), "--username", "keelmark", "--auth", "trust", "--no-sync", "--encoding", "UTF8", "--locale", "C")
	server := exec.Command(filepath.Join(c.bin, "postgres"), "-D", filepath.Join(dir, "data"), "-k", dir, "-c", "listen_addresses=", "-F")
	server.SysProcAttr, server.Dir = c.as, dir
	var log bytes.Buffer
	server.Stdout, server.Stderr = &log, &log
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		server.Process.Signal(os.Interrupt)
		server.Wait()
	})
	for range 100 {
		if _, err := c.psql("select 1", ""); err == nil {
			return c
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("the server does not answer: %s", log.String())
	return c
}

func (c cluster) must(t *testing.T, name string, args ...string) {
	t.Helper()
	cmd := exec.Command(filepath.Join(c.bin, name), args...)
	cmd.SysProcAttr, cmd.Dir = c.as, c.dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v: %s", name, err, out)
	}
}

// psql runs a command with an input and returns its rows as csv.
func (c cluster) psql(command, input string) ([][]string, error) {
	cmd := exec.Command(filepath.Join(c.bin, "psql"), "-X", "-h", c.dir, "-U", "keelmark", "-d", "postgres", "-v", "ON_ERROR_STOP=1", "--csv", "-t", "-c", command)
	cmd.SysProcAttr, cmd.Dir, cmd.Stdin = c.as, c.dir, strings.NewReader(input)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%w: %s", err, errs.String())
	}
	return csv.NewReader(&out).ReadAll()
}

// TestSQLGivesTheSamePooledNumbers loads shares into PostgreSQL and sets its views beside Compare.
func TestSQLGivesTheSamePooledNumbers(t *testing.T) {
	c := newCluster(t)
	for _, file := range []string{"schema.sql", "pooled.sql"} {
		text, err := os.ReadFile(filepath.Join("sql", file))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.psql(string(text)[strings.Index(string(text), "create"):], ""); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
	}
	e := evening{flocks: 9, years: 2, careful: -1, heavier: 12, lousier: 0.2}
	rng := rand.New(rand.NewPCG(6, 6))
	var list []Summary
	for i := range e.flocks {
		ctx := mixedContext(simulatedToday)
		ctx.Settings.Flock.Code = fmt.Sprintf("K%d", i)
		d := e.flock(rng, i)
		if i > 6 { // small mixed flocks, whose groups are hidden or coarse
			d = mixed(rng, simulatedToday-600, simulatedToday)
		}
		whole, err := Summarise(context.Background(), ctx, d)
		if err != nil {
			t.Fatal(err)
		}
		s := Release(whole, simulatedToday, nil)
		table, err := s.CSV()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.psql("copy share from stdin with (format csv, header, force_not_null (measure, scale, half, size, sex, age))", string(table)); err != nil {
			t.Fatal(err)
		}
		list = append(list, s)
	}
	r, err := Compare(context.Background(), list, Options{})
	if err != nil {
		t.Fatal(err)
	}
	flocks, err := c.psql("select code, measure, scale, rate, expected, difference, variance from compared", "")
	if err != nil {
		t.Fatal(err)
	}
	pools, err := c.psql("select measure, scale, n, rate, dispersion, tau2, mean, low, high from pooled", "")
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	same := func(what, text string, want float64) {
		t.Helper()
		got, err := strconv.ParseFloat(text, 64)
		if checked++; err != nil || !near(want, got) {
			t.Errorf("%s: SQL says %s, Compare %v", what, text, want)
		}
	}
	for _, comparison := range r.Comparisons {
		for _, row := range comparison.Rows {
			at := slices.IndexFunc(flocks, func(f []string) bool {
				return f[0] == row.Code && f[1] == string(comparison.Measure) && f[2] == comparison.Scale
			})
			what := fmt.Sprintf("%s, %s", row.Code, comparison.Measure)
			if at < 0 {
				t.Errorf("%s is not in SQL", what)
				continue
			}
			same(what+": rate", flocks[at][3], row.Rate)
			same(what+": expected", flocks[at][4], row.Expected)
			same(what+": difference", flocks[at][5], row.Difference.Value)
		}
		if len(comparison.Rows) < 2 {
			continue
		}
		at := slices.IndexFunc(pools, func(p []string) bool { return p[0] == string(comparison.Measure) && p[1] == comparison.Scale })
		if at < 0 {
			t.Errorf("%s is not pooled in SQL", comparison.Measure)
			continue
		}
		for i, want := range []float64{comparison.Pool.N, comparison.Pool.Rate(), comparison.Dispersion, comparison.Tau2, comparison.Mean.Value, comparison.Mean.Low, comparison.Mean.High} {
			same(fmt.Sprintf("%s, number %d of the pool", comparison.Measure, i+1), pools[at][2+i], want)
		}
	}
	if checked < 150 {
		t.Errorf("only %d numbers were compared", checked)
	}
}
