package intake

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// lockFile lies in a flock's folder while an import changes it. It holds the number of the process and its machine.
const lockFile = ".keelmark-import.lock"

// lock keeps other imports out of a folder until release is called. The lock of a process that has ended is taken over;
// one that cannot be judged, as another machine's on a shared disk, is told with the cure.
func lock(dir string) (release func() error, err error) {
	path := filepath.Join(dir, lockFile)
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	me := fmt.Sprintf("%d %s\n", os.Getpid(), host)
	for range 3 { // a stale lock may be taken away by two at once
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err == nil {
			_, err = f.WriteString(me)
			if err = errors.Join(err, f.Close()); err != nil {
				return nil, errors.Join(err, os.Remove(path))
			}
			return func() error { return os.Remove(path) }, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
		held, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue // just released
		}
		if err != nil {
			return nil, err
		}
		info, err := os.Stat(path)
		unfinished := err == nil && len(held) == 0 && time.Since(info.ModTime()) > time.Minute // killed before it was written
		if !unfinished && !stale(string(held), host) {
			return nil, fmt.Errorf("another import into %s is running (process %s); wait until it has ended and try again; if none runs, delete the file %s",
				dir, strings.TrimSpace(string(held)), path)
		}
		if err := takeAway(path, held); err != nil {
			return nil, err
		}
	}
	return nil, fmt.Errorf("another import into %s has just begun; wait until it has ended and try again", dir)
}

// takeAway removes a stale lock: it is first renamed, so that only one of several does it, and looked at again, so that
// a lock which somebody took meanwhile is put back.
func takeAway(path string, held []byte) error {
	away := fmt.Sprintf("%s.%d", path, os.Getpid())
	if err := os.Rename(path, away); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	}
	now, err := os.ReadFile(away)
	if err == nil && string(now) != string(held) {
		err = os.Link(away, path)
	}
	return errors.Join(err, os.Remove(away))
}

// stale reports whether the process that holds a lock is known to have ended.
func stale(held, host string) bool {
	number, machine, _ := strings.Cut(strings.TrimSpace(held), " ")
	pid, err := strconv.Atoi(number)
	if err != nil || machine != host || pid == os.Getpid() {
		return false
	}
	p, err := os.FindProcess(pid)
	if err != nil {
		return true // as some systems say it
	}
	if runtime.GOOS == "windows" { // what is found there runs
		return false
	}
	err = p.Signal(syscall.Signal(0))
	return errors.Is(err, os.ErrProcessDone) || errors.Is(err, syscall.ESRCH)
}
