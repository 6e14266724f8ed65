package kernel

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"keelmark/notebooks/cell"
)

// untilPrinted waits until a cell has shown something.
func (f *front) untilPrinted() {
	f.t.Helper()
	for {
		m, err := f.Published(f.ctx)
		if err != nil {
			f.t.Fatal(err)
		}
		if m.Header.Type == "stream" {
			return
		}
	}
}

func TestInterruptsStopWhateverRuns(t *testing.T) {
	k, f := start(t)
	f.run("kept = 5\nt = frame({\"x\": [i for i in range(2000)]})")
	for what, code := range map[string]string{
		"a loop":             "while True:\n    pass",
		"a long computation": "[i for i in range(8000000) for j in range(8000000)]",
		"a question":         "input(\"?\")",
		"a filter of rows":   "while True:\n    t.where(lambda r: r.x > 5)",
	} {
		for how, interrupt := range map[string]func(){
			"by message": func() { f.ask(Control, "interrupt_request", content{}) },
			"by signal":  k.Interrupt,
		} {
			id := f.execute("print(\"begun\")\n" + code)
			if what == "a question" {
				if _, err := f.Question(f.ctx); err != nil {
					t.Fatal(err)
				}
			} else {
				f.untilPrinted()
			}
			begun := time.Now()
			interrupt()
			reply := f.reply(Shell, id)
			if took := time.Since(begun); took > 5*time.Second { // usually some milliseconds
				t.Errorf("%s %s: stopped after %v", what, how, took)
			}
			if reply["ename"] != "Interrupted" || !strings.Contains(fmt.Sprint(reply["evalue"]), "stopped by you") {
				t.Errorf("%s %s: %v", what, how, reply)
			}
			if v := f.value("kept"); v != "5" {
				t.Errorf("after %s %s kept is %q", what, how, v)
			}
		}
	}
}

// An interrupt while nothing runs does not stop the next cell.
func TestAnIdleInterruptIsForgotten(t *testing.T) {
	k, f := start(t)
	k.Interrupt()
	f.ask(Control, "interrupt_request", content{})
	f.stillAlive()
}

func TestAnInterruptWhileTheFlockIsRead(t *testing.T) {
	release := make(chan struct{})
	_, f := start(t, func(o *Options) {
		o.Engine = func(ctx context.Context, input Input) (*cell.Engine, error) {
			<-release
			return engine(ctx, input)
		}
	})
	id := f.execute("1")
	for { // until it is that cell's turn
		if m, err := f.Published(f.ctx); err != nil || m.Header.Type == "execute_input" {
			break
		}
	}
	f.ask(Control, "interrupt_request", content{})
	if r := f.reply(Shell, id); r["ename"] != "Interrupted" || !strings.Contains(fmt.Sprint(r["evalue"]), "still being read") {
		t.Errorf("reply: %v", r)
	}
	close(release)
	f.stillAlive()
}

func TestAnEngineThatCannotBeMade(t *testing.T) {
	for _, bad := range []func(context.Context, Input) (*cell.Engine, error){
		func(context.Context, Input) (*cell.Engine, error) { return nil, fmt.Errorf("the flock is gone") },
		func(context.Context, Input) (*cell.Engine, error) { panic("the flock is gone") },
	} {
		_, f := start(t, func(o *Options) { o.Engine = bad })
		if r, out := f.run("1"); !strings.Contains(fmt.Sprint(r["evalue"]), "the flock is gone") || kinds(out) != "error" {
			t.Errorf("reply %v, shown %v", r, out)
		}
		if r := f.ask(Shell, "complete_request", content{"code": "x", "cursor_pos": 1}); r["status"] != "error" {
			t.Errorf("complete: %v", r)
		}
	}
}

// A fault of ours ends the cell, with a reply, and not the kernel.
func TestAFaultEndsTheCellOnly(t *testing.T) {
	_, f := start(t, func(o *Options) {
		o.Engine = func(context.Context, Input) (*cell.Engine, error) {
			return cell.New(cell.Options{Input: func(context.Context, string) (string, error) { panic("kaboom") }})
		}
	})
	if r, _ := f.run("input()"); r["ename"] != string(cell.Internal) {
		t.Errorf("reply: %v", r)
	}
	f.stillAlive()
}

// Front ends send all cells of a notebook at once: those after one that fails are not run.
func TestQueuedCellsAfterAnError(t *testing.T) {
	k, f := start(t)
	other := attach(t, k.Connection())
	for range 20 {
		first := f.execute("x = 1\nfail(\"no\")")
		ids := []string{f.execute("x = 2"), f.execute("x = 3")}
		info := f.send(Shell, "kernel_info_request", content{})
		id := other.execute("\"another's\"")
		if r := f.reply(Shell, first); r["status"] != "error" {
			t.Fatalf("first: %v", r)
		}
		for _, id := range ids {
			if r := f.reply(Shell, id); r["status"] != "aborted" {
				t.Fatalf("queued: %v", r)
			}
			f.outputs(id) // also an aborted request ends with idle
		}
		if r := f.reply(Shell, info); r["status"] != "ok" {
			t.Fatalf("info: %v", r)
		}
		if r := other.reply(Shell, id); r["status"] != "ok" {
			t.Fatalf("another front end's cell: %v", r)
		}
		// What is sent in answer to the failure is run, however soon.
		if v := f.value("x"); v != "1" {
			t.Fatalf("afterwards x is %s", v)
		}
	}
	first := f.execute("fail(\"no\")", content{"stop_on_error": false})
	second := f.execute("2")
	f.reply(Shell, first)
	if r := f.reply(Shell, second); r["status"] != "ok" {
		t.Errorf("with stop_on_error false: %v", r)
	}
}

func TestQuestions(t *testing.T) {
	_, f := start(t)
	answer := func(text string) {
		m, err := f.Question(f.ctx)
		if err != nil {
			t.Fatal(err)
		}
		if q := read(t, m); m.Header.Type != "input_request" || q["prompt"] != "which bird? " || q["password"] != false {
			t.Errorf("%s: %v", m.Header.Type, q)
		}
		f.send(Stdin, "input_reply", content{"value": text})
	}
	f.send(Stdin, "input_reply", content{"value": "too early"})
	time.Sleep(20 * time.Millisecond)
	id := f.execute("a = input(\"which bird? \")\nb = input(\"which bird? \")\n(a, b)")
	answer("Žofie")
	answer("")
	if r := f.reply(Shell, id); r["status"] != "ok" {
		t.Errorf("reply: %v", r)
	}
	if v := f.value("(a, b)"); v != `("Žofie", "")` {
		t.Errorf("answers: %s", v)
	}
	if r, _ := f.run("input(\"?\")", content{"allow_stdin": false}); !strings.Contains(fmt.Sprint(r["evalue"]), "cannot ask questions") {
		t.Errorf("not allowed: %v", r)
	}
	f.stillAlive()
}

func TestShutdown(t *testing.T) {
	for _, on := range []Channel{Shell, Control} {
		for _, busy := range []bool{false, true} {
			if busy && on == Shell {
				continue // it waits its turn
			}
			k, err := Start(Options{Connection: LocalConnection(), Engine: engine})
			if err != nil {
				t.Fatal(err)
			}
			ended := make(chan error, 1)
			go func() { ended <- k.Wait(context.Background()) }()
			f := attach(t, k.Connection())
			var running string
			if busy {
				running = f.execute("print(1)\nwhile True:\n    pass")
				f.untilPrinted()
			}
			id := f.send(on, "shutdown_request", content{"restart": true})
			if r := f.reply(on, id); r["status"] != "ok" || r["restart"] != true {
				t.Errorf("reply: %v", r)
			}
			if busy {
				if r := f.reply(Shell, running); r["ename"] != "Interrupted" {
					t.Errorf("the cell that ran: %v", r)
				}
			}
			f.outputs(id)
			select {
			case err := <-ended:
				if err != nil {
					t.Error(err)
				}
			case <-time.After(patience):
				t.Fatal("the kernel did not end")
			}
		}
	}
}
