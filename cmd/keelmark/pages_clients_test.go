//go:build clients

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"keelmark/datasets"
)

// browser is a headless Chromium, driven by its own driver over loopback (W3C WebDriver).
type browser struct {
	t       *testing.T
	session string // address of the session
}

func open(t *testing.T) *browser {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := listener.Addr().(*net.TCPAddr).Port
	listener.Close()
	driver := exec.Command("chromedriver", fmt.Sprintf("--port=%d", port))
	if err := driver.Start(); err != nil {
		t.Fatalf("chromedriver: %v; .ci/install installs it", err)
	}
	b := &browser{t: t, session: fmt.Sprintf("http://127.0.0.1:%d", port)}
	t.Cleanup(func() {
		_ = driver.Process.Kill() // it may have ended with its session
		_ = driver.Wait()
	})
	for range 100 {
		if r, err := http.Get(b.session + "/status"); err == nil {
			r.Body.Close()
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	var made struct{ SessionID string }
	b.call("POST", "/session", map[string]any{"capabilities": map[string]any{"alwaysMatch": map[string]any{"browserName": "chrome",
		"goog:chromeOptions": map[string]any{"args": []string{"--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
			"--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run", "--window-size=1000,1400",
			"--user-data-dir=" + t.TempDir()}}}}}, &made)
	b.session += "/session/" + made.SessionID
	t.Cleanup(func() { b.call("DELETE", "", nil, nil) })
	b.call("POST", "/timeouts", map[string]any{"script": 120000}, nil)
	return b
}

func (b *browser) call(method, path string, body, into any) {
	b.t.Helper()
	var content io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		if err != nil {
			b.t.Fatal(err)
		}
		content = bytes.NewReader(data)
	}
	r, err := http.NewRequest(method, b.session+path, content)
	if err != nil {
		b.t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	data, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		b.t.Fatalf("chromedriver %s: %s %v\n%.2000s", path, answer.Status, err, data)
	}
	if into == nil {
		return
	}
	var wrapped struct{ Value json.RawMessage }
	if err := json.Unmarshal(data, &wrapped); err != nil {
		b.t.Fatal(err)
	}
	if err := json.Unmarshal(wrapped.Value, into); err != nil {
		b.t.Fatalf("%v in %.500s", err, wrapped.Value)
	}
}

func (b *browser) script(code string, into any) {
	b.t.Helper()
	b.call("POST", "/execute/sync", map[string]any{"script": code, "args": []any{}}, into)
}

func (b *browser) cdp(command string, params map[string]any) {
	b.t.Helper()
	b.call("POST", "/goog/cdp/execute", map[string]any{"cmd": command, "params": params}, nil)
}

// axe is the accessibility checker that .ci/install fetches.
func axe(t *testing.T) string {
	t.Helper()
	path := filepath.Join("..", "..", ".ci", "node_modules", "axe-core", "axe.min.js")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; .ci/install fetches axe-core", err)
	}
	return string(data)
}

// pages writes every page that keelmark makes for the screen from the demo, and returns their paths by name.
func pages(t *testing.T) map[string]string {
	t.Helper()
	keeper, dir := demo(t), t.TempDir()
	today := datasets.DemoToday().String()
	out := map[string]string{}
	for name, part := range map[string]string{"entry": "pages=False", "breeding": "bird=W22-21", "culling": "bird=W22-03", "season": "birds=False", "plan": "birds=W22-21"} { // one of each part is enough, and whole flocks take a browser minutes
		code, said, errOut := keelmark(t, "report", name, "--today", today, "--out", dir, "-p", part, keeper)
		found, err := filepath.Glob(filepath.Join(dir, "*-"+name+".html"))
		if err != nil || len(found) != 1 {
			t.Fatalf("%s: exit %d, %v\n%s%s", name, code, err, said, errOut)
		}
		out[name] = found[0]
	}
	return out
}

func TestEveryPageIsAccessible(t *testing.T) {
	checker, b := axe(t), open(t)
	for name, path := range pages(t) {
		b.call("POST", "/url", map[string]any{"url": "file://" + path}, nil)
		for _, scheme := range []string{"light", "dark"} {
			b.cdp("Emulation.setEmulatedMedia", map[string]any{"features": []any{map[string]any{"name": "prefers-color-scheme", "value": scheme}}})
			b.script("document.querySelectorAll('details').forEach(d => d.open = true); return null", nil) // all that can be read
			var found struct {
				Passes     int
				Violations []struct {
					ID, Impact, Help string
					Nodes            []string
				}
			}
			b.script(checker+`
return axe.run(document, {resultTypes: ["violations"], runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}})
	.then(r => ({passes: r.passes.length, violations: r.violations.map(v => ({id: v.id, impact: v.impact, help: v.help,
		nodes: v.nodes.slice(0, 3).map(n => n.html.slice(0, 200) + " " + (n.any[0] ? n.any[0].message : ""))}))}))`, &found)
			if found.Passes < 10 {
				t.Errorf("%s: only %d rules were tried", name, found.Passes)
			}
			for _, v := range found.Violations {
				t.Errorf("%s, %s: %s (%s): %s\n  %s", name, scheme, v.ID, v.Impact, v.Help, strings.Join(v.Nodes, "\n  "))
			}
		}
		var dark bool
		b.script(`const m = getComputedStyle(document.documentElement).backgroundColor.match(/\d+/g).map(Number);
return m[0] + m[1] + m[2] < 200 && (m.length < 4 || m[3] > 0)`, &dark)
		if !dark {
			t.Errorf("%s stays light where the screen is dark", name)
		}
		b.cdp("Emulation.setEmulatedMedia", map[string]any{"features": []any{}})
	}
}

// Whoever has no mouse walks the page with Tab and opens with Enter.
func TestTheKeyboardReachesEveryExpansion(t *testing.T) {
	b := open(t)
	for name, path := range pages(t) {
		b.call("POST", "/url", map[string]any{"url": "file://" + path}, nil)
		var expansions int
		b.script(`window.reached = new Set(); document.querySelectorAll("details").forEach(d => d.open = false);
document.addEventListener("focusin", e => { if (e.target.tagName === "SUMMARY") window.reached.add(e.target) });
return document.querySelectorAll("summary").length`, &expansions)
		press := func(key string, times int) {
			var strokes []any
			for range times {
				strokes = append(strokes, map[string]any{"type": "keyDown", "value": key}, map[string]any{"type": "keyUp", "value": key})
			}
			b.call("POST", "/actions", map[string]any{"actions": []any{map[string]any{"type": "key", "id": "keys", "actions": strokes}}}, nil)
		}
		const tab, enter = "\ue004", "\ue007"
		press(tab, 1)
		var focused string
		b.script("return document.activeElement.tagName", &focused)
		if focused == "BODY" {
			t.Errorf("%s: Tab goes nowhere", name)
		}
		var links int
		b.script(`return document.querySelectorAll("a[href], [tabindex]").length`, &links)
		press(tab, expansions+links+5)
		var reached, opened int
		b.script("return window.reached.size", &reached)
		if expansions == 0 || reached != expansions {
			t.Errorf("%s: Tab reaches %d of %d expansions", name, reached, expansions)
		}
		b.script(`document.querySelector("summary").focus(); return 0`, nil)
		press(enter, 1)
		if b.script("return document.querySelectorAll('details[open]').length", &opened); opened != 1 {
			t.Errorf("%s: Enter opens %d expansions", name, opened)
		}
		var wide bool
		if b.script("return document.documentElement.scrollWidth > document.documentElement.clientWidth", &wide); wide {
			t.Errorf("%s is wider than the screen", name)
		}
	}
}

// What Chromium prints has the parts of our own PDF on pages of their own, in the same order.
func TestChromiumPrintsTheSamePages(t *testing.T) {
	all := pages(t)
	for _, name := range []string{"entry", "culling", "season"} {
		path := all[name]
		theirs := filepath.Join(t.TempDir(), name+".pdf")
		client(t, "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
			"--disable-sync", "--user-data-dir="+t.TempDir(), "--no-pdf-header-footer", "--print-to-pdf="+theirs, "file://"+path)
		client(t, "qpdf", "--check", theirs)
		heads := regexp.MustCompile(`(?s)class="break"[^>]*></div>\s*<h2[^>]*>(.*?)</h2>`)
		page, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var ours [][]string
		for _, file := range []string{strings.TrimSuffix(path, ".html") + ".pdf", theirs} {
			ours = append(ours, strings.Split(client(t, "pdftotext", "-layout", file, "-"), "\f"))
		}
		n := 0
		for _, m := range heads.FindAllStringSubmatch(string(page), -1) {
			head := strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(m[1], "")), " ")
			n++
			if a, b := opensAPage(ours[0], head), opensAPage(ours[1], head); !a || !b {
				t.Errorf("%s: %q opens a page of the PDF: %v; of what Chromium prints: %v", name, head, a, b)
			}
		}
		if n == 0 {
			t.Errorf("%s: no part opens a page", name)
		}
	}
}

// opensAPage reports whether a heading is the first line of a page, below the running head.
func opensAPage(pages []string, head string) bool {
	for _, page := range pages {
		seen := 0
		for _, line := range strings.Split(page, "\n") {
			if line = strings.Join(strings.Fields(line), " "); line == "" {
				continue
			}
			if seen++; line == head && seen <= 2 {
				return true
			}
			if seen > 2 {
				break
			}
		}
	}
	return false
}
