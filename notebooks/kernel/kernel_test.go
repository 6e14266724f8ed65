package kernel

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/wire"
)

// patience is how long a test waits for what should come at once.
const patience = 20 * time.Second

// engine is what the kernels of these tests run cells with.
func engine(_ context.Context, input Input) (*cell.Engine, error) {
	memory, _ := strconv.ParseUint(os.Getenv("KEELMARK_KERNEL_MEMORY"), 10, 64) // 0, the default, where it is not set
	return cell.New(cell.Options{Flock: &record.Dataset{Name: "invented"}, Input: input, Limits: cell.Limits{Memory: memory}})
}

// start starts a kernel in this process and connects to it.
func start(t testing.TB, with ...func(*Options)) (*Kernel, *front) {
	t.Helper()
	o := Options{Connection: LocalConnection(), Engine: engine, Name: "keelmark", Version: "1", Banner: "hello", User: "test"}
	for _, f := range with {
		f(&o)
	}
	k, err := Start(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- k.Wait(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Errorf("the kernel ended with %v", err)
		}
	})
	return k, attach(t, k.Connection())
}

// front is a client whose failures end the test.
type front struct {
	*Client
	t   testing.TB
	ctx context.Context
}

func attach(t testing.TB, c Connection) *front {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 4*patience)
	t.Cleanup(cancel)
	dialling, stop := context.WithTimeout(ctx, patience)
	defer stop()
	client, err := Connect(dialling, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(client.Close)
	f := &front{client, t, ctx}
	for { // until the subscription is heard of: the first reply may be ahead of it
		id := f.send(Shell, "kernel_info_request", map[string]any{})
		f.reply(Shell, id)
		short, stop := context.WithTimeout(ctx, time.Second)
		_, err := client.Outputs(short, id)
		stop()
		if err == nil {
			return f
		}
	}
}

func (f *front) send(on Channel, kind string, content any) string {
	f.t.Helper()
	id, err := f.Send(on, kind, content)
	if err != nil {
		f.t.Fatal(err)
	}
	return id
}

type content = map[string]any

func (f *front) reply(on Channel, id string) content {
	f.t.Helper()
	m, err := f.Reply(f.ctx, on, id)
	if err != nil {
		f.t.Fatal(err)
	}
	return read(f.t, m)
}

func read(t testing.TB, m *wire.Message) content {
	t.Helper()
	var c content
	if err := m.Read(&c); err != nil {
		t.Fatal(err)
	}
	return c
}

func (f *front) ask(on Channel, kind string, c any) content {
	f.t.Helper()
	return f.reply(on, f.send(on, kind, c))
}

// shown is an output of a cell.
type shown struct {
	kind string
	content
}

func (f *front) outputs(id string) []shown {
	f.t.Helper()
	all, err := f.Outputs(f.ctx, id)
	if err != nil {
		f.t.Fatal(err)
	}
	var out []shown
	for _, m := range all {
		if m.Header.Type != "status" && m.Header.Type != "execute_input" {
			out = append(out, shown{m.Header.Type, read(f.t, m)})
		}
	}
	return out
}

func (f *front) execute(code string, more ...content) string {
	f.t.Helper()
	request := content{"code": code, "silent": false, "store_history": true, "allow_stdin": true, "stop_on_error": true}
	for _, m := range more {
		for k, v := range m {
			request[k] = v
		}
	}
	return f.send(Shell, "execute_request", request)
}

// run runs a cell and returns its reply and outputs.
func (f *front) run(code string, more ...content) (content, []shown) {
	f.t.Helper()
	id := f.execute(code, more...)
	reply := f.reply(Shell, id)
	return reply, f.outputs(id)
}

// value runs a cell and returns the text of its value.
func (f *front) value(code string) string {
	f.t.Helper()
	_, out := f.run(code)
	if len(out) == 0 {
		return ""
	}
	last := out[len(out)-1]
	if last.kind != "execute_result" {
		return fmt.Sprint(last.kind, " ", last.content["evalue"])
	}
	return last.content["data"].(content)["text/plain"].(string)
}

func text(out []shown) string {
	var b strings.Builder
	for _, o := range out {
		if o.kind == "stream" {
			b.WriteString(o.content["text"].(string))
		}
	}
	return b.String()
}

func kinds(out []shown) string {
	var list []string
	for _, o := range out {
		list = append(list, o.kind)
	}
	return strings.Join(list, " ")
}

// stillAlive fails where the next cell does not run.
func (f *front) stillAlive() {
	f.t.Helper()
	if v := f.value("1 + 1"); v != "2" {
		f.t.Errorf("afterwards 1 + 1 shows %q", v)
	}
}

func TestEveryRequestIsAnswered(t *testing.T) {
	_, f := start(t)
	f.run("hens = [1, 2]\nprint(\"one\\ntwo\")\nhens")
	for _, c := range []struct {
		kind string
		ask  content
		want string // as Go prints the reply's content
	}{
		{"kernel_info_request", content{}, "banner:hello debugger:false help_links:[] implementation:keelmark implementation_version:1 language_info:map[codemirror_mode:python file_extension:.star mimetype:text/x-starlark name:starlark nbconvert_exporter:python pygments_lexer:python version:1] protocol_version:5.3 status:ok"},
		{"complete_request", content{"code": "Žofie = hen", "cursor_pos": 11}, "cursor_end:11 cursor_start:8 matches:[hens] metadata:map[] status:ok"},
		{"complete_request", content{"code": "zz", "cursor_pos": 2}, "cursor_end:2 cursor_start:0 matches:[] metadata:map[] status:ok"},
		{"complete_request", content{"code": "hen", "cursor_pos": 900}, "cursor_end:3 cursor_start:0 matches:[hens] metadata:map[] status:ok"},
		{"inspect_request", content{"code": "zz", "cursor_pos": 1, "detail_level": 0}, "data:map[] found:false metadata:map[] status:ok"},
		{"is_complete_request", content{"code": "1 + 1"}, "status:complete"},
		{"is_complete_request", content{"code": "def f():"}, "indent:     status:incomplete"},
		{"is_complete_request", content{"code": "import os"}, "status:invalid"},
		{"comm_info_request", content{}, "comms:map[] status:ok"},
		{"history_request", content{"hist_access_type": "tail", "n": 5, "output": true}, "history:[[1 1 [hens = [1, 2]\nprint(\"one\\ntwo\")\nhens [1, 2]]]] status:ok"},
		{"complete_request", content{"code": 5}, "ename:RequestError"},
		{"execute_request", content{"code": 5}, "ename:RequestError"},
		{"tea_request", content{}, "does not know the request tea_request"},
	} {
		if got := fmt.Sprint(f.ask(Shell, c.kind, c.ask)); !strings.Contains(got, c.want) {
			t.Errorf("%s %v: %s, want %s", c.kind, c.ask, got, c.want)
		}
	}
	inspected := f.ask(Shell, "inspect_request", content{"code": "mean(x)", "cursor_pos": 2, "detail_level": 0})
	if data := fmt.Sprint(inspected["data"]); inspected["found"] != true || !strings.Contains(data, "Example: mean(") {
		t.Errorf("inspected: %v", inspected)
	}
	if got := f.ask(Control, "kernel_info_request", content{}); got["status"] != "ok" {
		t.Errorf("on control: %v", got)
	}
	if got := f.ask(Shell, "connect_request", content{}); got["hb_port"].(float64) == 0 {
		t.Errorf("ports: %v", got)
	}
	id := f.send(Shell, "comm_open", content{"comm_id": "w", "target_name": "widget", "data": content{}})
	if out := f.outputs(id); kinds(out) != "comm_close" || out[0].content["comm_id"] != "w" {
		t.Errorf("a widget: %v", out)
	}
	f.send(Shell, "comm_msg", content{"comm_id": "w", "data": content{}})
	f.stillAlive()
}

func TestWhatACellShows(t *testing.T) {
	_, f := start(t)
	for _, c := range []struct{ code, want string }{
		{"print(1)\nprint(2)", "stream"},
		{"5", "execute_result"},
		{"5;", ""},
		{"", ""},
		{"print(1)\ndisplay(2)\nprint(3)\n4", "stream display_data stream execute_result"},
		{"fail(\"no\")", "error"},
		{"print(1)\n1 / 0", "stream error"},
		{"1 +", "error"},
		{"print(1)\nclear(wait = True)\nprint(2)", "stream clear_output stream"},
		{"para(\"text\")", "execute_result"},
	} {
		reply, out := f.run(c.code)
		if kinds(out) != c.want || (reply["status"] == "error") != strings.HasSuffix(c.want, "error") {
			t.Errorf("%q shows %q and %v, want %q", c.code, kinds(out), reply, c.want)
		}
	}
	reply, out := f.run("x = 1\ny = x / 0")
	e := out[0].content
	if reply["evalue"] != e["evalue"] || !strings.Contains(e["evalue"].(string), "line 2: division by zero") || len(e["traceback"].([]any)) < 3 {
		t.Errorf("error: %v, reply %v", e, reply)
	}
	_, out = f.run("para(\"text\")")
	data := out[0].content["data"].(content)
	for _, mime := range []string{"text/plain", "text/html", "application/vnd.keelmark.block+json"} {
		if data[mime] == nil {
			t.Errorf("no %s in %v", mime, data)
		}
	}
}

func TestCounting(t *testing.T) {
	_, f := start(t)
	if r, _ := f.run("1"); r["execution_count"] != 1.0 {
		t.Errorf("first: %v", r)
	}
	if r, out := f.run("print(1)\nfail(\"x\")", content{"silent": true, "stop_on_error": false}); kinds(out) != "" || r["status"] != "error" {
		t.Errorf("silent: %v %v", r, out)
	}
	if r, out := f.run("2", content{"store_history": false}); r["execution_count"] != 2.0 || kinds(out) != "execute_result" {
		t.Errorf("not stored: %v %v", r, out)
	}
	if r, _ := f.run("_", content{"user_expressions": content{"a": "1 + 1", "b": "zz", "c": "None"}}); r["execution_count"] != 2.0 ||
		!strings.Contains(fmt.Sprint(r["user_expressions"]), "a:map[data:map[text/plain:2]") || !strings.Contains(fmt.Sprint(r["user_expressions"]), "ename:Error") {
		t.Errorf("expressions: %v", r)
	}
	if r, out := f.run("exit", content{"store_history": false}); !strings.Contains(fmt.Sprint(r["payload"]), "ask_exit") || kinds(out) != "" {
		t.Errorf("exit: %v %v", r, out)
	}
	h := f.ask(Shell, "history_request", content{"hist_access_type": "range", "session": 0, "start": 1})
	if got := fmt.Sprint(h["history"]); got != "[[1 1 1] [1 2 _]]" {
		t.Errorf("history: %s", got)
	}
}

// A name means what it was last set to, whichever order the cells ran in.
func TestNoStaleValue(t *testing.T) {
	_, f := start(t)
	f.run("def later(): return helper() + x")
	f.run("def helper(): return 10\nx = 1")
	if v := f.value("later()"); v != "11" {
		t.Errorf("forward reference: %s", v)
	}
	f.run("x = 2")
	f.run("def helper(): return 20")
	if v := f.value("later()"); v != "22" {
		t.Errorf("stale: %s", v)
	}
}

// Two front ends see the same outputs, and each its own replies.
func TestTwoFrontEnds(t *testing.T) {
	k, a := start(t)
	b := attach(t, k.Connection())
	id := a.execute("print(\"from a\")")
	a.reply(Shell, id)
	if got := text(b.outputs(id)); got != "from a\n" {
		t.Errorf("b sees %q", got)
	}
	if got := text(a.outputs(id)); got != "from a\n" {
		t.Errorf("a sees %q", got)
	}
	if r, _ := b.run("2"); r["execution_count"] != 2.0 {
		t.Errorf("b's reply: %v", r)
	}
	b.Close()
	a.stillAlive()
}

func TestTheHistoryIsSearched(t *testing.T) {
	var h history
	for i, s := range []string{"a/b", "x = 1\ny", "x = 1\ny", "mean(x)"} {
		h.add(i+1, s, "")
	}
	two := 2
	for _, c := range []struct {
		q    historyRequest
		want string
	}{
		{historyRequest{Access: "tail", N: &two}, "[[1 3 x = 1\ny] [1 4 mean(x)]]"},
		{historyRequest{Access: "range", Start: 1, Stop: &two}, "[[1 1 a/b]]"},
		{historyRequest{Access: "range", Session: -1, Start: 1}, "[]"},
		{historyRequest{Access: "search", Pattern: "*/*"}, "[[1 1 a/b]]"},
		{historyRequest{Access: "search", Pattern: "x*y", Unique: true}, "[[1 3 x = 1\ny]]"},
		{historyRequest{Access: "search", Pattern: "?ean*"}, "[[1 4 mean(x)]]"},
		{historyRequest{Access: "search", Pattern: "mean"}, "[]"},
		{historyRequest{Access: "search", N: &two}, "[[1 3 x = 1\ny] [1 4 mean(x)]]"},
	} {
		if got := fmt.Sprint(h.find(c.q)); got != c.want {
			t.Errorf("%+v: %s, want %s", c.q, got, c.want)
		}
	}
	if glob([]rune(strings.Repeat("*a", 50)), []rune(strings.Repeat("a", 2000)+"b")) {
		t.Error("matched")
	}
}
