package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"keelmark/analysis/catalog"
	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/notebooks/cell"
	"keelmark/notebooks/kernel"
	"keelmark/plots"
)

const kernelHelp = `keelmark kernel install | uninstall | check | serve

Lets notebook programs that speak the Jupyter protocol run Keelmark's cells. A notebook reads the flock in its own
folder, or the one named with --flock, and nothing else; what it saves goes into the folder saved beside it; it asks
no network.

    keelmark kernel install              for you alone; nothing but this program is needed
    keelmark kernel check                starts a kernel as a notebook program would, runs a cell, says what is wrong
    keelmark kernel uninstall
    keelmark kernel serve FILE           what a notebook program starts; FILE is its connection file

Options of install and uninstall:
    --user            into your own data folder, also where JUPYTER_PATH names another
    --prefix DIR      into DIR/share/jupyter, such as /usr/local or an environment's folder
    --name NAME       of the kernel (default keelmark); a second name can have a flock of its own

Options of install and serve:
    --flock DIR       the flock of every notebook (default: the folder in which the notebook lies)
    --compare         the folder holds flocks to lay side by side, as for keelmark compare: cells find them as compared,
                      and no flock's records at all

` + sourceHelp

func kernelVerb() verb {
	return verb{"kernel", "let notebook programs run Keelmark's cells: install, uninstall, check, serve", kernelHelp, kernelRun}
}

// kernelFlags are the flags of the four, each of which heeds its own.
type kernelFlags struct {
	set                 *pflag.FlagSet
	source              sourceFlags
	user, compare       bool
	prefix, name, flock string
}

func kernelRun(ctx context.Context, w world, args []string) (int, error) {
	f := kernelFlags{set: flags("kernel")}
	f.source.add(f.set)
	f.set.BoolVar(&f.user, "user", false, "")
	f.set.BoolVar(&f.compare, "compare", false, "")
	f.set.StringVar(&f.prefix, "prefix", "", "")
	f.set.StringVar(&f.name, "name", "keelmark", "")
	f.set.StringVar(&f.flock, "flock", "", "")
	rest, err := parse(w, f.set, kernelHelp, args)
	if err != nil {
		return 0, err
	}
	if len(rest) == 0 {
		return 0, usage("kernel: write install, uninstall, check or serve after it")
	}
	if f.user && f.prefix != "" {
		return 0, usage("kernel: --user and --prefix name two different places; give one")
	}
	what, rest := rest[0], rest[1:]
	if what != "serve" && len(rest) > 0 {
		return 0, usage("kernel %s takes no %q", what, rest[0])
	}
	switch what {
	case "install":
		return f.install(w)
	case "uninstall":
		return f.uninstall(w)
	case "check":
		return checkKernel(ctx, w, f.name)
	case "serve":
		if len(rest) != 1 {
			return 0, usage("kernel serve: name the connection file; a notebook program does, see keelmark help kernel")
		}
		return f.serve(ctx, w, rest[0])
	}
	return 0, usage("kernel %s: write install, uninstall, check or serve%s", what, didYouMean(what, []string{"install", "uninstall", "check", "serve"}))
}

// dataFolder is where the kernelspec goes.
func (f *kernelFlags) dataFolder() (string, error) {
	switch {
	case f.prefix != "":
		return filepath.Join(f.prefix, "share", "jupyter"), nil
	case !f.user:
		for _, dir := range filepath.SplitList(os.Getenv("JUPYTER_PATH")) {
			if dir != "" {
				return dir, nil
			}
		}
	}
	return kernel.UserData(os.Getenv)
}

func (f *kernelFlags) install(w world) (int, error) {
	data, err := f.dataFolder()
	if err != nil {
		return 0, err
	}
	dir, err := kernel.SpecDir(data, f.name)
	if err != nil {
		return 0, usage("kernel install: %v", err)
	}
	program, err := os.Executable()
	if err != nil {
		return 0, fmt.Errorf("cannot tell where this program lies: %w", err)
	}
	more, display, err := f.passedOn()
	if err != nil {
		return 0, err
	}
	path, err := kernel.NewSpec(program, display, more...).Install(dir)
	if err != nil {
		return 0, fmt.Errorf("cannot install: %w; --prefix names another place", err)
	}
	fmt.Fprintf(w.out, "%s\n\nIt starts %s; install again if you move that.\n", path, program)
	if rel, err := filepath.Rel(os.TempDir(), program); err == nil && !strings.HasPrefix(rel, "..") {
		fmt.Fprintf(w.out, "That is a folder for temporary files, which are cleared away: better put the program elsewhere first.\n")
	}
	fmt.Fprintf(w.out, `
To use it: put a notebook into the folder of your flock's spreadsheets, open it in a notebook program, and choose
the kernel %q (New > %[1]s in the classic Notebook; "Select Kernel" elsewhere).
To see whether all is well: keelmark kernel check
`, display)
	return exitDone, nil
}

// passedOn are the options that install hands to each serve, and how the kernel is called.
func (f *kernelFlags) passedOn() (more []string, display string, err error) {
	f.set.Visit(func(flag *pflag.Flag) {
		switch flag.Name {
		case "user", "prefix", "name", "flock":
		case "compare":
			more = append(more, "--"+flag.Name+"="+flag.Value.String())
		default:
			more = append(more, "--"+flag.Name, flag.Value.String())
		}
	})
	if _, err := f.source.settings(); err != nil {
		return nil, "", err
	}
	if f.flock != "" {
		abs, err := filepath.Abs(f.flock)
		if err != nil {
			return nil, "", err
		}
		if _, err := os.Stat(abs); err != nil {
			return nil, "", fmt.Errorf("--flock: %w", err)
		}
		more = append(more, "--flock", abs)
	}
	if f.name == "keelmark" {
		return more, "Keelmark", nil
	}
	return more, "Keelmark " + f.name, nil
}

func (f *kernelFlags) uninstall(w world) (int, error) {
	data, err := f.dataFolder()
	if err != nil {
		return 0, err
	}
	dir, err := kernel.SpecDir(data, f.name)
	if err != nil {
		return 0, usage("kernel uninstall: %v", err)
	}
	if err := kernel.Uninstall(dir); err != nil {
		return 0, err
	}
	fmt.Fprintf(w.out, "removed %s\n", dir)
	return exitDone, nil
}

// serve is the kernel. An interrupt (SIGINT) stops the cell that runs, never the kernel.
func (f *kernelFlags) serve(ctx context.Context, w world, file string) (int, error) {
	interrupts := make(chan os.Signal, 8)
	signal.Notify(interrupts, os.Interrupt)
	defer signal.Stop(interrupts)
	ctx, stop := signal.NotifyContext(context.WithoutCancel(ctx), syscall.SIGTERM)
	defer stop()

	connection, err := kernel.ReadConnection(file)
	if err != nil {
		return 0, err
	}
	parent, _ := strconv.Atoi(os.Getenv("JPY_PARENT_PID")) // 0 where it is not set
	k, err := kernel.Start(kernel.Options{Connection: connection, Engine: f.engine(w), Name: "keelmark", Version: version(),
		Banner: "Keelmark " + version() + ": records of a flock as evidence. help() lists what there is.", Parent: parent, User: "keelmark"})
	if err != nil {
		return 0, err
	}
	go func() {
		for range interrupts {
			k.Interrupt()
		}
	}()
	return exitDone, k.Wait(ctx)
}

// engine reads the flock once the ports are open. A flock that cannot be read ends no kernel: a cell that asks
// for it is told why.
func (f *kernelFlags) engine(w world) func(context.Context, kernel.Input) (*cell.Engine, error) {
	return func(ctx context.Context, input kernel.Input) (*cell.Engine, error) {
		dir := f.flock
		if dir == "" {
			dir = "."
		}
		quiet := world{in: strings.NewReader(""), out: io.Discard, err: struct{ io.Writer }{w.err}} // no progress bar
		o := cell.Options{Figures: plots.For, BirdFigures: plots.ForBird, Input: input, Save: newSaved(savedFolder).save}
		var d *record.Dataset
		var err error
		if f.compare {
			o, err = f.source.compared(ctx, quiet, []string{dir}, o)
		} else {
			d, o, err = f.source.noted(ctx, quiet, []string{dir}, o)
		}
		switch {
		case err == nil && f.compare:
			return cell.New(o)
		case err == nil:
			if o.Specs, err = specsOf([]string{dir}, d, 1); err != nil {
				fmt.Fprintf(w.err, "keelmark: the rules are left out: %v\n", err)
				o.Specs = catalog.All()
			}
			return cell.New(o)
		case f.compare:
			o.NoFlock = fmt.Sprintf("the flocks could not be compared: %v", err)
			fmt.Fprintf(w.err, "keelmark: %s\n", o.NoFlock)
		case errors.Is(err, ingest.ErrNoSheets) && f.flock == "":
			o.NoFlock = "there is no spreadsheet beside this notebook, and so no flock; put the notebook into the flock's folder, or install the kernel with --flock DIR"
		default:
			o.NoFlock = fmt.Sprintf("the flock could not be read: %v", err)
		}
		today, err := f.source.day()
		if err != nil {
			return nil, err
		}
		if o.Context, err = contextOf(&record.Dataset{}, today); err != nil {
			return nil, err
		}
		o.Specs = catalog.All()
		return cell.New(o)
	}
}

// version is what the build knows of itself.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "0"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	at := slices.IndexFunc(info.Settings, func(s debug.BuildSetting) bool { return s.Key == "vcs.revision" })
	if at < 0 || len(info.Settings[at].Value) < 12 {
		return "0"
	}
	return "0-" + info.Settings[at].Value[:12]
}
