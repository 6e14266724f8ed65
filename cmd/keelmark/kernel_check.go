package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"keelmark/notebooks/kernel"
)

// checkKernel starts the kernel as a notebook program would and says of each step whether it went well.
func checkKernel(ctx context.Context, w world, name string) (int, error) {
	spec, missing, err := installed(w, name)
	if err != nil {
		return 0, err
	}
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	if err := tryKernel(ctx, w, spec); err != nil {
		return 0, err
	}
	if missing {
		return 0, fmt.Errorf("the kernel itself works, but no notebook program can find it yet: run keelmark kernel install")
	}
	fmt.Fprintln(w.out, "all is well")
	return exitDone, nil
}

// installed finds what notebook programs would start; where nothing is installed, what they would start after
// an install.
func installed(w world, name string) (s kernel.Spec, missing bool, err error) {
	program, err := os.Executable()
	if err != nil {
		return s, false, fmt.Errorf("cannot tell where this program lies: %w", err)
	}
	dirs := filepath.SplitList(os.Getenv("JUPYTER_PATH"))
	if own, err := kernel.UserData(os.Getenv); err == nil {
		dirs = append(dirs, own)
	}
	dirs = append(dirs, "/usr/local/share/jupyter", "/usr/share/jupyter")
	for _, data := range dirs {
		dir, err := kernel.SpecDir(data, name)
		if err != nil {
			return s, false, usage("kernel check: %v", err)
		}
		s, err = kernel.ReadSpec(dir)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return s, false, fmt.Errorf("%w; keelmark kernel install writes it anew", err)
		}
		if len(s.Argv) == 0 {
			return s, false, fmt.Errorf("%s names no program; keelmark kernel install writes it anew", dir)
		}
		fmt.Fprintf(w.out, "installed in %s\n", dir)
		if _, err := exec.LookPath(s.Argv[0]); err != nil {
			return s, false, fmt.Errorf("it would start %s, which is not there or cannot be run (moved, perhaps); keelmark kernel install puts it right", s.Argv[0])
		}
		if s.Argv[0] != program {
			fmt.Fprintf(w.out, "it starts %s, which is not the program that checks\n", s.Argv[0])
		}
		return s, false, nil
	}
	fmt.Fprintf(w.out, "not installed (looked in %s)\n", strings.Join(dirs, ", "))
	return kernel.NewSpec(program, ""), true, nil
}

func tryKernel(ctx context.Context, w world, spec kernel.Spec) (err error) {
	dir, err := os.MkdirTemp("", "keelmark-kernel-*")
	if err != nil {
		return fmt.Errorf("cannot make a temporary folder for the connection file: %w", err)
	}
	defer os.RemoveAll(dir)
	connection, err := kernel.LocalConnection().FreePorts()
	if err != nil {
		return fmt.Errorf("cannot open ports on this machine (127.0.0.1): %w; a firewall or a sandbox may forbid it", err)
	}
	file := filepath.Join(dir, "connection.json")
	if err := connection.Write(file); err != nil {
		return err
	}
	var args []string
	for _, a := range spec.Argv[1:] {
		args = append(args, strings.ReplaceAll(a, "{connection_file}", file))
	}
	child := exec.CommandContext(ctx, spec.Argv[0], args...)
	child.Dir = dir // no flock lies here
	child.Env = append(os.Environ(), "JPY_PARENT_PID="+strconv.Itoa(os.Getpid()))
	for name, value := range spec.Env {
		child.Env = append(child.Env, name+"="+value)
	}
	var said bytes.Buffer
	child.Stderr = &said
	start := time.Now()
	if err := child.Start(); err != nil {
		return fmt.Errorf("cannot start %s: %w", spec.Argv[0], err)
	}
	ended := make(chan error, 1)
	go func() { ended <- child.Wait() }()
	fail := func(step string, why error) error {
		_ = child.Process.Kill()
		<-ended
		text := strings.TrimSpace(said.String())
		if text != "" {
			text = "; it said: " + text
		}
		return fmt.Errorf("%s: %w%s", step, why, text)
	}

	client, err := connectSoon(ctx, connection, ended)
	if errors.Is(err, errEnded) {
		ended <- nil
	}
	if err != nil {
		return fail("the kernel did not open its ports", err)
	}
	defer client.Close()
	if _, err := client.Ask(ctx, kernel.Shell, "kernel_info_request", map[string]any{}); err != nil {
		return fail("the kernel did not introduce itself", err)
	}
	fmt.Fprintf(w.out, "started and ready after %d ms\n", time.Since(start).Milliseconds())
	start = time.Now()
	if err := tryCell(ctx, client); err != nil {
		return fail("a cell did not run", err)
	}
	fmt.Fprintf(w.out, "a cell ran in %d ms\n", time.Since(start).Milliseconds())
	if _, err := client.Beat(); err != nil {
		return fail("the heartbeat does not answer", err)
	}
	if _, err := client.Ask(ctx, kernel.Control, "shutdown_request", map[string]any{"restart": false}); err != nil {
		return fail("the kernel did not shut down when asked", err)
	}
	select {
	case err = <-ended:
	case <-ctx.Done():
		return fail("the kernel did not end after its shutdown", ctx.Err())
	}
	if err != nil {
		return fmt.Errorf("the kernel ended with %w; it said: %s", err, strings.TrimSpace(said.String()))
	}
	fmt.Fprintln(w.out, "shut down")
	return nil
}

var errEnded = errors.New("it ended at once")

// connectSoon connects once the child listens.
func connectSoon(ctx context.Context, c kernel.Connection, ended <-chan error) (*kernel.Client, error) {
	for {
		client, err := kernel.Connect(ctx, c)
		if err == nil || ctx.Err() != nil {
			return client, err
		}
		select {
		case <-ended:
			return nil, errEnded
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// tryCell runs 1 + 1.
func tryCell(ctx context.Context, client *kernel.Client) error {
	id, err := client.Send(kernel.Shell, "execute_request", map[string]any{"code": "1 + 1", "allow_stdin": false})
	if err != nil {
		return err
	}
	outputs, err := client.Outputs(ctx, id)
	if err != nil {
		return err
	}
	for _, m := range outputs {
		var content struct {
			Data  map[string]any
			Value string `json:"evalue"`
		}
		if err := m.Read(&content); err != nil {
			return err
		}
		if m.Header.Type == "error" {
			return errors.New(content.Value)
		}
		if m.Header.Type == "execute_result" && content.Data["text/plain"] == "2" {
			return nil
		}
	}
	return errors.New("1 + 1 showed no 2")
}
