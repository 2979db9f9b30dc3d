package packaging

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// guest is a Debian that runs: its own systemd, processes and network, in a folder of this machine.
type guest struct {
	dir    string // its root
	leader string // number of its first process, as seen from here
	cmd    *exec.Cmd
	ended  chan struct{}
}

// bootGuest unpacks and starts a Debian, and waits until it is up. It ends with the test.
func bootGuest(t *testing.T) *guest {
	t.Helper()
	script := filepath.Join("..", "..", ".ci", "debian")
	if out, err := exec.CommandContext(t.Context(), script, "--check").CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s", out)
		}
		t.Skipf("%s", out)
	}
	archive, err := exec.CommandContext(t.Context(), script).Output()
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	g := &guest{dir: filepath.Join(t.TempDir(), "debian"), ended: make(chan struct{})}
	if err := os.Mkdir(g.dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.CommandContext(t.Context(), "tar", "-C", g.dir, "--numeric-owner", "-xpf", strings.TrimSpace(string(archive))).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	args := []string{"--register=no", "--private-network", "--console=pipe", "--directory=" + g.dir, "--boot"}
	if _, err := os.Stat("/run/systemd/system"); err != nil {
		args = append([]string{"--keep-unit"}, args...) // nobody here who would give it a unit
	}
	g.cmd = exec.Command("systemd-nspawn", append(args, "systemd.unit=multi-user.target")...)
	var console bytes.Buffer
	g.cmd.Stdout, g.cmd.Stderr = &console, &console
	if err := g.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { defer close(g.ended); _ = g.cmd.Wait() }()
	t.Cleanup(func() {
		g.stop(t)
		if t.Failed() {
			t.Logf("console:\n%s", console.String())
		}
	})
	g.await(t, "the guest is not up", func() bool {
		if g.leader == "" {
			pid := strconv.Itoa(g.cmd.Process.Pid)
			children, _ := os.ReadFile(filepath.Join("/proc", pid, "task", pid, "children"))
			for child := range strings.FieldsSeq(string(children)) {
				if _, err := os.Stat(filepath.Join("/proc", child, "root", "run", "systemd", "private")); err == nil {
					g.leader = child
				}
			}
			return false
		}
		state, _ := g.try("systemctl is-system-running")
		return strings.HasPrefix(state, "running") || strings.HasPrefix(state, "degraded")
	})
	return g
}

// stop ends the guest with all that runs in it.
func (g *guest) stop(t *testing.T) {
	t.Helper()
	if g.leader != "" {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		_ = g.command(ctx, "systemctl --force poweroff").Run()
	}
	select {
	case <-g.ended:
	case <-time.After(15 * time.Second):
		_ = g.cmd.Process.Kill()
		<-g.ended
	}
}

// await waits for a condition, for half a minute at most.
func (g *guest) await(t *testing.T, what string, is func() bool) {
	t.Helper()
	for range 300 {
		if is() {
			return
		}
		select {
		case <-g.ended:
			t.Fatalf("%s: it has ended", what)
		case <-time.After(100 * time.Millisecond):
		}
	}
	t.Fatal(what)
}

func (g *guest) command(ctx context.Context, script string) *exec.Cmd {
	c := exec.CommandContext(ctx, "nsenter", "--target", g.leader, "--all", "--root", "--wd", "/bin/sh", "-c", "cd / && "+script)
	c.Env = []string{"PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "HOME=/root", "LC_ALL=C.UTF-8", "DEBIAN_FRONTEND=noninteractive", "SYSTEMD_COLORS=0"}
	return c
}

// try runs a script of the shell in the guest, as root, and returns all that it says.
func (g *guest) try(script string) (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	out, err := g.command(ctx, script).CombinedOutput()
	return string(out), err
}

// do is try for what must succeed.
func (g *guest) do(t *testing.T, script string) string {
	t.Helper()
	out, err := g.try(script)
	if err != nil {
		t.Fatalf("%s: %v\n%s", script, err, out)
	}
	return out
}

// pseudoTerminal makes one in the guest; what is written to master arrives there at slave.
func (g *guest) pseudoTerminal(t *testing.T) (master *os.File, slave string) {
	t.Helper()
	fd, err := unix.Open(filepath.Join("/proc", g.leader, "root/dev/pts/ptmx"), unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	master = os.NewFile(uintptr(fd), "ptmx")
	t.Cleanup(func() { _ = master.Close() })
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	return master, fmt.Sprintf("/dev/pts/%d", n)
}
