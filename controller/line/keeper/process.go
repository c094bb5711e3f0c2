//go:build unix

package keeper

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"syscall"
	"time"
)

// process is a keeper that is a child process.
type process struct {
	in, out *os.File
	child   *exec.Cmd
	ended   chan struct{}
}

// Process starts this same program as a keeper, with arguments that make it
// one. What it complains about goes to complaints.
//
// It gets a process group of its own, so that a Ctrl-C in the terminal, or a
// signal to the daemon's group, ends the daemon and leaves the keeper to switch
// off.
func Process(complaints io.Writer, args ...string) (Conn, error) {
	theirIn, in, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer theirIn.Close()
	out, theirOut, err := os.Pipe()
	if err != nil {
		in.Close()
		return nil, err
	}
	defer theirOut.Close()
	// The running program itself, also after its file was replaced.
	child := exec.Command(self(), args...)
	child.Args[0] = "mashward"
	child.Stdin, child.Stdout, child.Stderr = theirIn, theirOut, complaints
	child.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := child.Start(); err != nil {
		in.Close()
		out.Close()
		return nil, err
	}
	p := &process{in: in, out: out, child: child, ended: make(chan struct{})}
	go func() {
		defer close(p.ended)
		_ = child.Wait() // how it ended is seen by the end of its answers
	}()
	return p, nil
}

// self is the path of the running program.
func self() string {
	const running = "/proc/self/exe"
	if _, err := os.Stat(running); err == nil {
		return running
	}
	path, err := os.Executable()
	if err != nil {
		return os.Args[0]
	}
	return path
}

func (p *process) Read(b []byte) (int, error) { return p.out.Read(b) }

// Write does not wait for a keeper that does not read.
func (p *process) Write(b []byte) (int, error) {
	if err := p.in.SetWriteDeadline(time.Now().Add(answersWithin)); err != nil && !errors.Is(err, os.ErrNoDeadline) {
		return 0, err
	}
	return p.in.Write(b)
}

// Close ends the requests. The answers stay open until the keeper ends.
func (p *process) Close() error { return p.in.Close() }

// Kill ends the keeper and waits, not for long, until the kernel has taken the
// line from it.
func (p *process) Kill() {
	_ = p.child.Process.Kill() // an error says that it has ended already
	late := time.NewTimer(answersWithin)
	defer late.Stop()
	select {
	case <-p.ended:
	case <-late.C:
	}
	p.out.Close()
}
