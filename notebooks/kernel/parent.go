package kernel

import (
	"context"
	"os"
	"runtime"
	"syscall"
	"time"
)

// watchParent calls gone once a process has ended. A front end that is killed cannot shut its kernel down.
func watchParent(ctx context.Context, pid int, gone func()) {
	if runtime.GOOS == "windows" { // there, the number of a parent does not change when it ends
		return
	}
	direct := os.Getppid() == pid
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	for {
		if direct && os.Getppid() != pid || !direct && !alive(pid) {
			gone()
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// alive reports whether a process is there. It is asked where another process stands between the front end
// and the kernel, or where the front end had ended before the kernel looked.
func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || err == syscall.EPERM || os.IsPermission(err)
}
