//go:build unix

package kernel

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestMain lets the test program also be the kernel of another process, for what can be seen only from
// outside: signals and orphans.
func TestMain(m *testing.M) {
	switch os.Getenv("KEELMARK_KERNEL_TEST") {
	case "kernel":
		os.Exit(beKernel())
	case "front end":
		os.Exit(beFrontEnd())
	}
	os.Exit(m.Run())
}

// beKernel serves the connection file of the environment until it is shut down.
func beKernel() int {
	c, err := ReadConnection(os.Getenv("KEELMARK_CONNECTION"))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	interrupts := make(chan os.Signal, 1)
	signal.Notify(interrupts, os.Interrupt)
	parent, _ := strconv.Atoi(os.Getenv("JPY_PARENT_PID"))
	k, err := Start(Options{Connection: c, Engine: engine, Parent: parent})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	go func() {
		for range interrupts {
			k.Interrupt()
		}
	}()
	if err := k.Wait(context.Background()); err != nil {
		return 3
	}
	return 0
}

// beFrontEnd starts a kernel as its child, says its process number, and waits to be killed.
func beFrontEnd() int {
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), "KEELMARK_KERNEL_TEST=kernel", "JPY_PARENT_PID="+strconv.Itoa(os.Getpid()))
	if err := child.Start(); err != nil {
		return 2
	}
	fmt.Println(child.Process.Pid)
	time.Sleep(time.Hour)
	return 0
}

// process starts this test program in another role.
func process(t *testing.T, role string, env ...string) (*exec.Cmd, Connection) {
	t.Helper()
	c, err := LocalConnection().FreePorts()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "connection.json")
	if err := c.Write(file); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), append(env, "KEELMARK_KERNEL_TEST="+role, "KEELMARK_CONNECTION="+file)...)
	cmd.Stderr = os.Stderr
	return cmd, c
}

// soon connects once a process listens.
func soon(t *testing.T, c Connection) *front {
	t.Helper()
	for range 2000 {
		client, err := Connect(context.Background(), c)
		if err == nil {
			client.Close()
			return attach(t, c)
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Fatal("the kernel opened no ports")
	return nil
}

func TestASignalStopsTheCellNotTheKernel(t *testing.T) {
	cmd, c := process(t, "kernel")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	f := soon(t, c)
	if err := cmd.Process.Signal(os.Interrupt); err != nil { // idle: nothing happens
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond)
	f.stillAlive()
	id := f.execute("print(1)\nwhile True:\n    pass")
	f.untilPrinted()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if r := f.reply(Shell, id); r["ename"] != "Interrupted" {
		t.Errorf("reply: %v", r)
	}
	f.ask(Control, "shutdown_request", content{"restart": false})
	if err := cmd.Wait(); err != nil {
		t.Errorf("the kernel ended with %v", err)
	}
}

// A kernel ends when the front end that started it is killed.
func TestAnOrphanEnds(t *testing.T) {
	cmd, c := process(t, "front end")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		t.Fatal(err)
	}
	orphan, err := os.FindProcess(pid)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = orphan.Kill() })
	f := soon(t, c)
	f.stillAlive()
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	for {
		if _, err := f.Published(ctx); err != nil {
			if ctx.Err() != nil {
				t.Error("the orphan lives on")
			}
			return
		}
	}
}

// The front end may have been killed before the kernel looked.
func TestAnOrphanFromTheStartEnds(t *testing.T) {
	gone := exec.Command(os.Args[0], "-test.run=^$")
	if err := gone.Run(); err != nil {
		t.Fatal(err)
	}
	cmd, _ := process(t, "kernel", "JPY_PARENT_PID="+strconv.Itoa(gone.Process.Pid))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case err := <-ended:
		if err == nil || cmd.ProcessState.ExitCode() != 3 {
			t.Errorf("it ended with %v", err)
		}
	case <-time.After(patience):
		_ = cmd.Process.Kill()
		t.Error("the orphan lives on")
	}
}
