package packaging

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/simulated"
)

// TestInstall does on a Debian what SERVICE.md tells a person to do: install the package, look at the demo, write
// a setup, start the service, read the page, stop it, remove it, purge it.
func TestInstall(t *testing.T) {
	dir := packages(t)
	g := bootGuest(t)
	text, err := os.ReadFile(one(t, dir, "plumbline_*_amd64.deb"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(g.dir, "root", "plumbline.deb"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	before := g.files(t)

	said := g.do(t, "cd /root && apt-get -q install -y --no-install-recommends ./plumbline.deb")
	if !strings.Contains(said, "write /etc/plumbline/setup.yaml") {
		t.Errorf("the package does not say what comes next:\n%s", said)
	}
	if out, err := g.try("systemctl is-enabled plumbline"); err == nil {
		t.Errorf("the service is %s without a setup", out)
	}
	t.Run("as a user", func(t *testing.T) {
		// nobody: none of this needs a privilege
		as := "setpriv --reuid nobody --regid nogroup --clear-groups "
		if out := g.do(t, as+"plumbline version"); !strings.Contains(out, "revision ") || strings.Contains(out, "with changes") {
			t.Errorf("version: %s", out)
		}
		if out := g.do(t, as+"plumbline demo"); !strings.Contains(out, "PASS") {
			t.Errorf("demo:\n%s", out)
		}
		g.do(t, as+"plumbline setup check /etc/plumbline/example.yaml")
		g.do(t, "bash -c 'source /usr/share/bash-completion/completions/plumbline && complete -p plumbline'")
		g.do(t, "gzip -t /usr/share/man/man1/plumbline*.gz && test -s /usr/share/man/man1/plumbline-run.1.gz")
		// systemd itself finds nothing to say about the unit where it lies
		if out := g.do(t, "systemd-analyze verify --man=no plumbline.service"); out != "" {
			t.Errorf("verify: %s", out)
		}
	})
	t.Run("documents", func(t *testing.T) { documents(t, filepath.Join(g.dir, "usr/share/doc/plumbline")) })
	t.Run("service", func(t *testing.T) { service(t, g) })
	t.Run("update", func(t *testing.T) {
		g.do(t, "systemctl start plumbline && cd /root && apt-get -q install -y --reinstall ./plumbline.deb")
		if out := g.do(t, "systemctl is-active plumbline"); out != "active\n" {
			t.Errorf("after an update it is %s", out)
		}
	})

	g.do(t, "apt-get -q remove -y plumbline")
	if out, _ := g.try("systemctl is-active plumbline; ls /usr/bin/plumbline"); !strings.Contains(out, "inactive") || !strings.Contains(out, "No such file") {
		t.Errorf("after it was removed: %s", out)
	}
	g.do(t, "test -f /etc/plumbline/setup.yaml && ls /var/lib/plumbline/*")
	g.do(t, "apt-get -q purge -y plumbline")
	if out, err := g.try("getent passwd plumbline || getent group plumbline"); err == nil {
		t.Errorf("the user is still there: %s", out)
	}
	recordings := 0
	for _, file := range g.files(t) {
		if _, was := slices.BinarySearch(before, file); was {
			continue
		}
		if strings.HasPrefix(file, "/var/lib/plumbline") {
			recordings++
			continue
		}
		t.Errorf("left behind: %s", file)
	}
	if recordings < 2 {
		t.Errorf("the recordings are gone")
	}
	if out := g.do(t, "find /var/lib/plumbline ! -user root -o ! -group root"); out != "" {
		t.Errorf("owned by a user that there is no more: %s", out)
	}
}

// files lists all that is in the guest but what the system itself writes as it goes.
func (g *guest) files(t *testing.T) []string {
	t.Helper()
	out := g.do(t, `find / -xdev \( -path /proc -o -path /sys -o -path /dev -o -path /run -o -path /tmp -o -path /var/tmp -o -path /var/log -o -path /var/cache `+
		`-o -path /var/lib/dpkg -o -path /var/lib/apt -o -path /var/lib/systemd -o -path '/etc/*-' -o -path /etc/.pwd.lock \) -prune -o -print`)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	slices.Sort(lines)
	return lines
}

// service starts the unit as it was installed, with a wheel on a pseudo-terminal, and sees it judge in its sandbox.
func service(t *testing.T, g *guest) {
	t.Helper()
	cfg := simulated.Standard(1)
	cfg.RateHz, cfg.JitterS, cfg.Optics = 50, 0, nil
	cfg.Script = []simulated.Phase{{Kind: simulated.Rest, Seconds: 300}}
	master, slave := g.pseudoTerminal(t)
	setup := strings.Replace(cfg.SetupYAML(), "can: can0", "serial: "+slave+", baud: 921600, framing: slcan", 1)
	for name, text := range map[string]string{"setup.yaml": setup, "vehicle.dbc": cfg.DBC()} {
		if err := os.WriteFile(filepath.Join(g.dir, "etc/plumbline", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// as SERVICE.md has it for signed tests; whether the sandbox lets it be written is seen below
	override := "[Service]\nExecStart=\nExecStart=plumbline run /etc/plumbline/setup.yaml --record /var/lib/plumbline --keep-mib 20000 --results /var/lib/plumbline/tests\n"
	g.do(t, "mkdir -p /etc/systemd/system/plumbline.service.d")
	if err := os.WriteFile(filepath.Join(g.dir, "etc/systemd/system/plumbline.service.d/override.conf"), []byte(override), 0o644); err != nil {
		t.Fatal(err)
	}
	// as udev does with a serial adapter
	g.do(t, "chown root:dialout "+slave+" && chmod 660 "+slave+" && systemctl daemon-reload && systemctl enable --now plumbline 2>&1")
	feed(t, cfg, master)
	defer func() {
		if t.Failed() {
			out, _ := g.try("journalctl -u plumbline -o cat --no-pager | tail -n 40")
			t.Logf("journal:\n%s", out)
		}
	}()

	type result struct {
		Captures []struct{ Frames int }
		Findings []struct{ Check, Subject, Verdict string }
	}
	var seen result
	g.await(t, "the service does not judge", func() bool {
		// there is no browser in so small a Debian, but a shell that can ask
		out, _ := g.try(`bash -c 'exec 3<>/dev/tcp/127.0.0.1/8474; printf "GET /api/result HTTP/1.0\r\nHost: 127.0.0.1:8474\r\n\r\n" >&3; cat <&3' 2>&1`)
		_, body, _ := strings.Cut(out, "\r\n\r\n")
		seen = result{}
		if json.Unmarshal([]byte(body), &seen) != nil || len(seen.Captures) != 1 {
			return false
		}
		return slices.ContainsFunc(seen.Findings, func(f struct{ Check, Subject, Verdict string }) bool {
			// alive may miss the frames that were sent before the port was open
			return f.Check == "load" && f.Subject == "FL" && f.Verdict == "pass"
		})
	})
	t.Logf("judged %d frames, %d findings", seen.Captures[0].Frames, len(seen.Findings))

	pid := strings.TrimSpace(g.do(t, "systemctl show -P MainPID plumbline"))
	status := g.do(t, "cat /proc/"+pid+"/status")
	uid := strings.TrimSpace(g.do(t, "id -u plumbline"))
	for _, want := range []string{"Uid:\t" + uid + "\t" + uid, "CapEff:\t0000000000000000", "CapBnd:\t0000000000000000", "NoNewPrivs:\t1", "Seccomp:\t2"} {
		if !strings.Contains(status, want) {
			t.Errorf("the process is not %q:\n%s", want, status)
		}
	}
	// what the process itself would be told when it wrote elsewhere
	inside := "nsenter --target " + pid + " --mount touch "
	for _, place := range []string{"/etc/plumbline/x", "/usr/x", "/var/x", "/opt/x"} {
		if out, err := g.try(inside + place); err == nil || !strings.Contains(out, "Read-only file system") {
			t.Errorf("%s can be written: %s", place, out)
		}
	}
	g.do(t, inside+"/var/lib/plumbline/.x && rm /var/lib/plumbline/.x")

	if out := g.do(t, "stat -c '%a %U' /var/lib/plumbline/tests"); out != "750 plumbline\n" {
		t.Errorf("the folder of signed tests is %s", out)
	}

	g.do(t, "systemctl reload plumbline")
	g.await(t, "no reload", func() bool {
		out, _ := g.try("journalctl -u plumbline -o cat --no-pager")
		return strings.Contains(out, "setup read again")
	})
	g.do(t, "systemctl stop plumbline")
	if out := g.do(t, "systemctl show -P Result plumbline"); out != "success\n" {
		t.Errorf("it ended with %s\n%s", out, g.do(t, "journalctl -u plumbline -o cat --no-pager"))
	}
	if out := g.do(t, "stat -c '%a %U %G' /var/lib/plumbline"); out != "750 plumbline plumbline\n" {
		t.Errorf("/var/lib/plumbline is %s", out)
	}
	if out := g.do(t, "find /var/lib/plumbline -type f -perm /137 -o -type d -perm /027 ! -path /var/lib/plumbline"); out != "" {
		t.Errorf("open to others than the group, which reads: %s", out)
	}
	if out := g.do(t, "plumbline replay /etc/plumbline/setup.yaml /var/lib/plumbline || true"); !strings.Contains(out, "FL") {
		t.Errorf("the recording cannot be judged: %s", out)
	}
}

// feed writes what the vehicle sends as a serial CAN adapter would, at its times, until the test ends.
func feed(t *testing.T, cfg simulated.Config, to *os.File) {
	t.Helper()
	v, err := simulated.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	stop, done := make(chan struct{}), make(chan struct{})
	t.Cleanup(func() { close(stop); <-done })
	go func() {
		defer close(done)
		began, first := time.Now(), int64(0)
		var b bus.Batch
		for {
			err := v.Read(&b)
			var text []byte
			for i := range b.Frames {
				f := &b.Frames[i]
				if first == 0 {
					first = f.At
				}
				if due := time.Duration(f.At-first) - time.Since(began); due > 10*time.Millisecond {
					_, _ = to.Write(text) // who does not listen yet misses it
					text = text[:0]
					select {
					case <-stop:
						return
					case <-time.After(due):
					}
				}
				kind, digits := byte('t'), 3
				if f.Flags.Has(bus.Extended) {
					kind, digits = 'T', 8
				}
				text = fmt.Appendf(text, "%c%0*X%d%X\r", kind, digits, f.ID, f.Len, f.Payload())
			}
			_, _ = to.Write(text)
			if errors.Is(err, io.EOF) || err != nil {
				return
			}
		}
	}()
}
