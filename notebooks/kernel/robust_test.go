package kernel

import (
	"context"
	"fmt"
	"net"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"keelmark/notebooks/wire"
	"keelmark/notebooks/zmtp"
)

// heap is the memory in use after a collection, in MB.
func heap() int {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc >> 20)
}

func TestMuchIsShownAndTyped(t *testing.T) {
	_, f := start(t)
	before := heap()
	if _, out := f.run("for i in range(100000):\n    print(i)"); len(out) > 60 || strings.Count(text(out), "\n") != 100000 || !strings.HasSuffix(text(out), "\n99999\n") {
		t.Errorf("100,000 prints came as %d messages with %d lines", len(out), strings.Count(text(out), "\n"))
	}
	// 50 MB printed: the rest is left out with a notice
	if r, out := f.run("line = \"x\" * 1000000\nfor i in range(50):\n    print(line)"); r["status"] != "ok" || len(text(out)) > 9<<20 || !strings.HasSuffix(text(out), "the rest is left out)\n") {
		t.Errorf("50 MB printed came as %d bytes", len(text(out)))
	}
	if _, out := f.run("\"x\" * 20000000"); kinds(out) != "execute_result" || len(out[0].content["data"].(content)["text/plain"].(string)) != 20000002 {
		t.Errorf("a value of 20 MB: %s", kinds(out))
	}
	if r, out := f.run("len(\"" + strings.Repeat("y", 20<<20) + "\")"); r["status"] != "ok" || out[0].content["data"].(content)["text/plain"] != "20971520" {
		t.Errorf("a cell of 20 MB: %v", r["evalue"])
	}
	f.run("line = None\n_ = None")
	f.stillAlive()
	// what remains: the 20 MB cell in the history and in the engine's sources, and buffers that wait to be used again
	if after := heap(); after > before+150 {
		t.Errorf("%d MB before, %d MB after", before, after)
	}
}

// A subscriber that stops reading holds nobody up; what waits for it is forgotten when it goes.
func TestASubscriberThatStopsReading(t *testing.T) {
	k, f := start(t)
	network, address := k.Connection().address(k.Connection().IOPub)
	before := heap()
	stalled, err := zmtp.DialSubscriber(context.Background(), network, address, "")
	if err != nil {
		t.Fatal(err)
	}
	for i := range 30 {
		if _, out := f.run(fmt.Sprintf("print(\"%d \" + \"x\" * 2000000)", i)); len(text(out)) < 2000000 {
			t.Fatalf("cell %d shows %d bytes", i, len(text(out)))
		}
	}
	stalled.Close()
	f.stillAlive()
	for range 100 {
		if after := heap(); after <= before+20 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("%d MB before, %d MB after", before, heap())
}

func TestSilentPeersOnEveryPort(t *testing.T) {
	k, f := start(t)
	c := k.Connection()
	for _, port := range []int{c.Shell, c.IOPub, c.Stdin, c.Control, c.Heartbeat} {
		for range 3 {
			network, address := c.address(port)
			silent, err := net.Dial(network, address)
			if err != nil {
				t.Fatal(err)
			}
			defer silent.Close()
		}
	}
	attach(t, c).stillAlive()
	f.stillAlive()
}

func TestSixtyClientsComeAndGo(t *testing.T) {
	k, f := start(t)
	before := runtime.NumGoroutine()
	for i := range 60 {
		client := attach(t, k.Connection())
		if i%3 == 0 { // goes while much is under way
			client.execute("print(\"x\" * 5000000)")
		} else {
			client.stillAlive()
		}
		client.Close()
	}
	f.stillAlive()
	for range 200 {
		if runtime.NumGoroutine() <= before+2 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}

// What is not signed with the connection's key is dropped without an answer.
func TestForgedAndBrokenMessages(t *testing.T) {
	k, f := start(t)
	forged := k.Connection()
	forged.Key = "another"
	client, err := Connect(context.Background(), forged)
	if err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	if _, err := client.Send(Shell, "execute_request", content{"code": "evil = 1"}); err != nil {
		t.Fatal(err)
	}
	if _, err := client.Send(Control, "shutdown_request", content{}); err != nil {
		t.Fatal(err)
	}
	signer, err := wire.NewSigner("", k.Connection().Key, "junk")
	if err != nil {
		t.Fatal(err)
	}
	deep, err := signer.Build(nil, "execute_request", nil, content{"code": strings.Repeat("(", 1<<20)})
	if err != nil {
		t.Fatal(err)
	}
	c := k.Connection()
	for _, port := range []int{c.Shell, c.Control, c.Stdin, c.IOPub, c.Heartbeat} {
		for _, m := range []zmtp.Message{{nil}, {[]byte("junk")}, {[]byte("<IDS|MSG>")}, {[]byte("<IDS|MSG>"), nil, nil, nil, nil, nil},
			{[]byte("a"), []byte("b"), []byte("<IDS|MSG>"), []byte("sig"), []byte("{}"), []byte("{}"), []byte("{}"), []byte("{}")}, deep} {
			network, address := c.address(port)
			kind := zmtp.DialDealer
			switch port {
			case c.IOPub:
				kind = func(ctx context.Context, n, a, _ string) (*zmtp.Conn, error) { return zmtp.DialSubscriber(ctx, n, a) }
			case c.Heartbeat:
				kind = func(ctx context.Context, n, a, _ string) (*zmtp.Conn, error) { return zmtp.DialHeartbeat(ctx, n, a) }
			}
			conn, err := kind(context.Background(), network, address, "junk")
			if err != nil {
				t.Fatal(err)
			}
			_ = conn.Send(m)
			defer conn.Close()
		}
		network, address := c.address(port)
		raw, err := net.Dial(network, address)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = raw.Write([]byte("GET / HTTP/1.0\r\n\r\n" + strings.Repeat("\xff", 100)))
		raw.Close()
	}
	if v := f.value("evil"); !strings.Contains(v, "error") {
		t.Errorf("a forged cell ran: %s", v)
	}
	f.stillAlive()
	short, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if m, err := client.next(short, Shell); err == nil {
		t.Errorf("the forger got an answer: %s", m.Header.Type)
	}
}

func TestTheHeartbeatBeatsWhileACellRuns(t *testing.T) {
	k, f := start(t)
	id := f.execute("print(1)\nwhile True:\n    pass")
	f.untilPrinted()
	for range 50 {
		if took, err := f.Beat(); err != nil || took > time.Second { // usually below a millisecond
			t.Fatalf("%v %v", took, err)
		}
	}
	k.Interrupt()
	f.reply(Shell, id)
}

func TestConnections(t *testing.T) {
	for what, c := range map[string]struct {
		change func(*Connection)
		want   string
	}{
		"every address":  {func(c *Connection) { c.IP = "0.0.0.0" }, "serves its own machine only"},
		"another's":      {func(c *Connection) { c.IP = "192.0.2.1" }, "serves its own machine only"},
		"a name":         {func(c *Connection) { c.IP = "example.org" }, "serves its own machine only"},
		"another way":    {func(c *Connection) { c.Transport = "udp" }, "transport \"udp\" is not known"},
		"no path":        {func(c *Connection) { c.Transport, c.IP = "ipc", "" }, "must be a path"},
		"another scheme": {func(c *Connection) { c.Scheme = "hmac-md5" }, "signature scheme"},
	} {
		connection := LocalConnection()
		c.change(&connection)
		if _, err := Start(Options{Connection: connection, Engine: engine}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", what, err)
		}
	}
	k, _ := start(t)
	if _, err := Start(Options{Connection: k.Connection(), Engine: engine}); err == nil || !strings.Contains(err.Error(), "cannot open the shell port") {
		t.Errorf("a port that is taken: %v", err)
	}
	for _, with := range []func(*Options){
		func(o *Options) { o.Connection.IP = "localhost" },
		func(o *Options) { o.Connection.Key = "" },
		func(o *Options) { o.Connection.Scheme = "hmac-sha512" },
	} {
		_, f := start(t, with)
		f.stillAlive()
	}
	if runtime.GOOS != "windows" {
		_, f := start(t, func(o *Options) { o.Connection.Transport, o.Connection.IP = "ipc", filepath.Join(t.TempDir(), "k") })
		f.stillAlive()
	}
}

func TestTheConnectionFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "c.json")
	if _, err := ReadConnection(path); err == nil {
		t.Error("a missing file passed")
	}
	c := LocalConnection()
	c.Shell = 5
	if err := c.Write(path); err != nil {
		t.Fatal(err)
	}
	if got, err := ReadConnection(path); err != nil || got != c {
		t.Errorf("%+v %v", got, err)
	}
}

func BenchmarkRoundTrip(b *testing.B) {
	_, f := start(b)
	for b.Loop() {
		id := f.execute("1 + 1")
		f.reply(Shell, id)
		f.outputs(id)
	}
}
