// Not under the race detector, which multiplies memory and time: what is measured here is the memory itself.
//go:build linux && !race

package kernel

import (
	"fmt"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// bombs take memory without end, each in another way. # tells one cell's names from those of the others.
var bombs = []string{
	"l# = []\nwhile True:\n    l#.append(\"x\" * 1000)",
	"l# = [0]\nwhile True:\n    l# = l# + [0] * 100000",
	"d# = {}\ni = 0\nwhile True:\n    d#[i] = [i]\n    i += 1",
	"t# = []\nwhile True:\n    t#.append([0] * 65000)",
	"b = \"abc\" * 2000000\ns# = []\nwhile True:\n    s#.append((b + str(len(s#)))[1:])",
	"q# = [[i] * 60000 for i in range(8000000)]",
	"a = list(range(400000))\nz# = []\nwhile True:\n    z#.append(a[:])",
	"e# = {}\nwhile True:\n    e# = e# | {len(e#): \"y\" * 3000}",
	"n# = []\nwhile True:\n    n#.append(sorted(range(100000)))",
	"kept.append([0] * 4000000)\nwhile True:\n    kept.append(str(range(100)) + \"w\" * 4000)", // into an earlier cell's list
}

// Twenty cells of one session that take memory without end are stopped, and together take no more of the
// machine's than a few times what they may hold: the growing dictionary needs three times its size for a moment.
func TestCellsThatTakeAllMemory(t *testing.T) {
	const limit = 64 // MB
	cmd, c := process(t, "kernel", fmt.Sprintf("KEELMARK_KERNEL_MEMORY=%d", limit<<20))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	f := soon(t, c)
	f.run("kept = []")
	for i := range 20 {
		source := strings.ReplaceAll(bombs[i%len(bombs)], "#", strconv.Itoa(i))
		r, _ := f.run(source)
		if says, _ := r["evalue"].(string); r["ename"] != "LimitReached" || !strings.Contains(says, "more than 64 MB of memory") {
			t.Errorf("%s\nends in %v", source, r)
		}
		if v := f.value("1 + 1"); v != "2" {
			t.Fatalf("after it, 1 + 1 gives %s", v)
		}
	}
	f.ask(Control, "shutdown_request", content{"restart": false})
	if err := cmd.Wait(); err != nil {
		t.Errorf("the kernel ended with %v", err)
	}
	most := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss >> 10 // KiB on Linux
	t.Logf("at most %d MB in memory", most)
	if most > 5*limit {
		t.Errorf("the kernel took %d MB, where its cells may hold %d", most, limit)
	}
}
