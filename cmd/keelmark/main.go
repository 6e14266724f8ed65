// Command keelmark turns a keeper's own spreadsheets of exhibition fowl into evidence: what was read, what
// the records say of each bird before a show, and what they cannot say. It changes no file of the keeper's,
// asks no network, and gives no verdict.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
)

// Exit codes. A refusal by claim is a result and exits with done.
const (
	exitDone      = 0
	exitFailed    = 1 // failed, or a file was refused
	exitUsage     = 2
	exitQuestions = 3 // done, with open questions or rejected cells
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// world is what a verb may talk to.
type world struct {
	in       io.Reader
	out, err io.Writer
}

// verb is one command of keelmark. run returns an exit code, or an error whose sentence is printed.
type verb struct {
	name  string
	brief string // one line of the overview
	help  string // arguments, text and examples
	run   func(ctx context.Context, w world, args []string) (int, error)
}

func verbs() []verb {
	return []verb{demoVerb(), checkVerb(), importVerb(), sheetVerb(), analyseVerb(), reportVerb(), planVerb(), compareVerb(), shareVerb(), runVerb(), kernelVerb()}
}

// usageError is a mistake in how keelmark was called.
type usageError struct{ text string }

func (e usageError) Error() string { return e.text }

func usage(format string, a ...any) error { return usageError{fmt.Sprintf(format, a...)} }

// errHelp says that help was printed in place of running.
var errHelp = errors.New("help was printed")

// run is keelmark without its process: it returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	w := world{in, out, errOut}
	code, err := dispatch(ctx, w, args)
	var bad usageError
	switch {
	case err == nil:
		return code
	case errors.Is(err, errHelp):
		return exitDone
	case ctx.Err() != nil:
		fmt.Fprintln(errOut, "keelmark: stopped; nothing was left half-written")
		return exitFailed
	case errors.As(err, &bad):
		fmt.Fprintf(errOut, "keelmark: %v\n", err)
		return exitUsage
	}
	fmt.Fprintf(errOut, "keelmark: %v\n", err)
	return exitFailed
}

func dispatch(ctx context.Context, w world, args []string) (int, error) {
	if len(args) == 0 {
		fmt.Fprint(w.err, overview())
		return exitUsage, nil
	}
	switch args[0] {
	case "help", "-h", "--help":
		return help(w, args[1:])
	}
	for _, v := range verbs() {
		if v.name == args[0] {
			return v.run(ctx, w, args[1:])
		}
	}
	if !strings.HasPrefix(args[0], "-") && !looksLikeAPath(args[0]) {
		return 0, usage("there is no command %q, and no file or folder of that name here; `keelmark help` lists the commands%s",
			args[0], didYouMean(args[0], verbNames()))
	}
	return checkAndReport(ctx, w, args)
}

// looksLikeAPath reports whether a first argument that is no verb can be meant as a file: it exists, or is
// spelt like one.
func looksLikeAPath(arg string) bool {
	if strings.ContainsAny(arg, `./\`) {
		return true
	}
	_, err := os.Stat(arg)
	return err == nil
}

func verbNames() []string {
	var names []string
	for _, v := range verbs() {
		names = append(names, v.name)
	}
	return names
}
