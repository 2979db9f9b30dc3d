package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"plumbline/daemon"
	"plumbline/daemon/setup"
)

// The exit codes beside those of results.
const (
	exitInternal    = 70  // a fault of the program; EX_SOFTWARE of sysexits.h
	exitInterrupted = 130 // by the user, as shells say it: 128 + SIGINT
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// run is the program: it takes arguments and streams and returns the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return guard(stderr, func() int {
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		defer stop()
		root := newRoot(streams{stdin, stdout, stderr})
		root.SetArgs(args)
		return conclude(stderr, root.ExecuteContext(ctx))
	})
}

// streams are what a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// exit is an error that knows its exit code. Without an error inside, what there
// was to say has been said.
type exit struct {
	code int
	err  error
}

func (e *exit) Error() string {
	if e.err == nil {
		return fmt.Sprintf("exit code %d", e.code)
	}
	return e.err.Error()
}

func (e *exit) Unwrap() error { return e.err }

// verdict ends a command with the exit code of its results.
func verdict(code int) error {
	if code == daemon.ExitPass {
		return nil
	}
	return &exit{code: code}
}

// conclude says an error in one sentence and returns the exit code.
func conclude(stderr io.Writer, err error) int {
	if err == nil {
		return daemon.ExitPass
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(stderr, "plumbline: interrupted, nothing was judged to its end")
		return exitInterrupted
	}
	if faults, ok := errors.AsType[setup.Faults](err); ok {
		fmt.Fprintln(stderr, faults.Error())
		fmt.Fprintf(stderr, "plumbline: %s in the setup: mend what is listed above\n", count(len(faults), "fault", "faults"))
		return daemon.ExitUsage
	}
	code := daemon.ExitUsage
	if e, ok := errors.AsType[*exit](err); ok {
		code = e.code
		err = e.err
	}
	if err != nil {
		fmt.Fprintf(stderr, "plumbline: %s\n", strings.TrimSpace(err.Error()))
	}
	return code
}

// guard runs f and turns a panic into a sentence and an exit code of its own: the
// runtime's would be that of a usage error.
func guard(stderr io.Writer, f func() int) (code int) {
	defer func() {
		if p := recover(); p != nil {
			fmt.Fprintf(stderr, "plumbline: this is a fault of the program: please report it, with the command line and what follows\n%v\n\n%s", p, debug.Stack())
			code = exitInternal
		}
	}()
	return f()
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
