package hardware

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"mashward/controller/line"
	"mashward/controller/line/gpio"
	"mashward/controller/line/keeper"
	"mashward/controller/line/sysfs"
)

// driver is an opened line.
type driver interface {
	line.Driver
	io.Closer
}

// open takes a line, with off written first.
func (l Line) open() (driver, error) {
	switch l.Driver {
	case "sysfs":
		path, err := sysfs.Path(l.Name)
		if err != nil {
			return nil, err
		}
		return sysfs.Open(path)
	case "gpio":
		return gpio.Open(l.Name)
	}
	return nil, fmt.Errorf("there is no relay driver %q; write gpio or sysfs", l.Driver)
}

// off writes off once. A file takes it whoever holds the line; the kernel gives a
// board's line to nobody else.
func (l Line) off() error {
	switch l.Driver {
	case "sysfs":
		path, err := sysfs.Path(l.Name)
		if err != nil {
			return err
		}
		return sysfs.Off(path)
	case "gpio":
		return gpio.Off(l.Name)
	}
	return fmt.Errorf("there is no relay driver %q; write gpio or sysfs", l.Driver)
}

// Keep is the keeper's process: it keeps a line for the daemon at the other end
// of in and out, and ends when the daemon does. Why there is no line to keep is
// told the daemon, and returned. A line behind the element's goes off a moment
// later than it is told to.
func Keep(l Line, behind bool, in io.Reader, out io.Writer) error {
	// It ends with the pipe and not before: what ends a whole group of processes
	// must not end it while the line may be on. A daemon that reads no answers
	// any more must not end it either.
	signal.Ignore(syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE)
	d, err := l.open()
	if err != nil {
		keeper.Fail(out, err)
		return fmt.Errorf("%w: %w", ErrNoLine, err)
	}
	defer d.Close()
	if behind {
		return keeper.Serve(line.Behind(d), in, out)
	}
	return keeper.Serve(d, in, out)
}

// between is the pause between two attempts to switch off.
const between = 100 * time.Millisecond

// Off switches lines off, each by itself, those that fail again and again for a
// while. It is the way off that needs no daemon and no configuration; a keeper
// that is just ending is waited for. The first line, the element's, goes first:
// what stands behind it opens without current, or all the same if the first one
// hangs.
func Off(lines []Line, patience time.Duration) []error {
	failed := make([]error, len(lines))
	var all sync.WaitGroup
	for i, l := range lines {
		all.Go(func() {
			if i > 0 {
				time.Sleep(line.Pause)
			}
			failed[i] = l.off()
			for waited := time.Duration(0); waited < patience && mayPass(failed[i]); waited += between {
				time.Sleep(between)
				failed[i] = l.off()
			}
		})
	}
	all.Wait()
	return failed
}

// mayPass tells whether an error may be gone in a moment: the line is held, or
// took nothing. A line that is not there, or not for us, will not be.
func mayPass(err error) bool {
	var path *fs.PathError
	return errors.Is(err, line.ErrTaken) ||
		errors.As(err, &path) && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrPermission)
}
