package main_test

import (
	"fmt"
	"go/ast"
	"path"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// wayOut is something of a package that sends, or opens for sending.
type wayOut struct {
	name   string
	files  *regexp.Regexp // looked for in these
	except *regexp.Regexp // but let through in these; nil: nowhere
	pkgs   []string
	names  *regexp.Regexp
	why    string
}

// waysOut lists what plumbline promises not to have: a path to a bus, a bit rate to set, a device open for writing.
func waysOut() []wayOut {
	kernel := []string{"golang.org/x/sys/unix", "syscall"}
	return []wayOut{
		{
			name: "bytes into a descriptor", files: regexp.MustCompile(`^(bus|checks|daemon|cmd|dashboards)/`),
			// a question to the kernel about an interface is a message on a socket of its own; see TestNetlinkOnly
			except: regexp.MustCompile(`^bus/socketcan/[^/]*netlink[^/]*\.go$`),
			pkgs:   kernel,
			names:  regexp.MustCompile(`^(Send(|to|msg|msgN|msgBuffers|file)|Write|Writev|Pwrite|Pwritev|Pwritev2|Splice|SYS_(WRITE|SEND).*)$`),
			why:    "nothing sends on a bus",
		},
		{
			name: "a socket elsewhere", files: regexp.MustCompile(`^(bus|checks|daemon|cmd|dashboards)/`),
			except: regexp.MustCompile(`^bus/(socketcan|serialport)/`),
			pkgs:   kernel,
			names:  regexp.MustCompile(`^(Socket|Socketpair|Bind|Connect|Syscall.*|RawSyscall.*)$`),
			why:    "a bus is opened in bus/socketcan and bus/serialport alone",
		},
		{
			name: "a device open for writing", files: regexp.MustCompile(`^bus/`),
			pkgs:  append([]string{"os"}, kernel...),
			names: regexp.MustCompile(`^(O_RDWR|O_WRONLY|Create|CreateTemp|WriteFile)$`),
			why:   "a source opens for reading; what must be kept, daemon/record keeps",
		},
		{
			name: "a break, a byte or an interface setting", files: regexp.MustCompile(`^(bus|daemon|cmd)/`),
			pkgs:  kernel,
			names: regexp.MustCompile(`^(TCSBRK|TCSBRKP|TIOCSBRK|TIOCSTI|RTM_SETLINK|SIOCSIF.*)$`),
			why:   "controller mode and bit rate are read, never set",
		},
		{
			name: "a connection outward", files: regexp.MustCompile(`^(bus|checks|daemon|cmd|dashboards)/`),
			except: regexp.MustCompile(`^daemon/(.*/)?[^/]*notify[^/]*\.go$`), // the service manager's socket
			pkgs:   []string{"net"},
			names:  regexp.MustCompile(`^Dial.*$`),
			why:    "the daemon is asked; it calls nobody",
		},
	}
}

// TestListensOnly looks through all code outside tests for a way to send.
func TestListensOnly(t *testing.T) {
	files := houseFiles(t)
	for _, w := range waysOut() {
		t.Run(w.name, func(t *testing.T) {
			for _, found := range w.find(files) {
				t.Error(found)
			}
		})
	}
}

// TestNetlinkOnly makes sure that a file that may ask the kernel does not touch a CAN socket.
func TestNetlinkOnly(t *testing.T) {
	w := wayOut{
		files: regexp.MustCompile(`^bus/socketcan/[^/]*netlink[^/]*\.go$`), pkgs: []string{"golang.org/x/sys/unix", "syscall"},
		names: regexp.MustCompile(`^(AF_CAN|PF_CAN|CAN_.*|SockaddrCAN.*)$`), why: "what may send netlink messages holds no CAN socket",
	}
	for _, found := range w.find(houseFiles(t)) {
		t.Error(found)
	}
	f := parsed(t, "bus/socketcan/netlink_linux.go", "package socketcan\nimport \"golang.org/x/sys/unix\"\nvar _ = unix.AF_CAN")
	if got := w.find([]houseFile{f}); len(got) != 1 {
		t.Errorf("the check itself found %q in a file that names AF_CAN, want one", got)
	}
}

// TestListensOnlyCanFail shows each way out on an invented file.
func TestListensOnlyCanFail(t *testing.T) {
	tests := []struct {
		name string
		way  string
		path string
		src  string
		want []string // the names found
	}{
		{
			"send to", "bytes into a descriptor", "bus/socketcan/conn_linux.go",
			`import "golang.org/x/sys/unix"; func f() { unix.Sendto(1, nil, 0, nil); unix.Recvmsg(1, nil, nil, 0) }`,
			[]string{"unix.Sendto"},
		},
		{
			"another name for the package", "bytes into a descriptor", "bus/serialport/port.go",
			`import u "golang.org/x/sys/unix"; func f() { u.Write(1, nil) }`,
			[]string{"unix.Write"},
		},
		{"a dot import", "bytes into a descriptor", "daemon/x.go", `import . "syscall"; func f() { Write(1, nil) }`, []string{"syscall.Write"}},
		{
			"asking the kernel", "bytes into a descriptor", "bus/socketcan/netlink_linux.go",
			`import "golang.org/x/sys/unix"; func f() { unix.Sendto(1, nil, 0, nil) }`, nil,
		},
		{"a test may send", "bytes into a descriptor", "bus/socketcan/conn_test.go", `import "golang.org/x/sys/unix"; func f() { unix.Write(1, nil) }`, nil},
		{"a socket", "a socket elsewhere", "bus/capture/x.go", `import "syscall"; var _ = syscall.O_NONBLOCK; func f() { syscall.Socket(1, 2, 3) }`, []string{"syscall.Socket"}},
		{"the CAN socket", "a socket elsewhere", "bus/socketcan/conn_linux.go", `import "golang.org/x/sys/unix"; func f() { unix.Socket(1, 2, 3) }`, nil},
		{
			"open for writing", "a device open for writing", "bus/serialport/port.go",
			`import "os"; func f() { os.OpenFile("x", os.O_RDWR, 0); os.Open("x") }`,
			[]string{"os.O_RDWR"},
		},
		{"the recorder writes", "a device open for writing", "daemon/record/file.go", `import "os"; func f() { os.Create("x") }`, nil},
		{
			"a break", "a break, a byte or an interface setting", "bus/serialport/port_linux.go",
			`import "golang.org/x/sys/unix"; func f() { unix.IoctlSetInt(1, unix.TCSBRK, 0) }`,
			[]string{"unix.TCSBRK"},
		},
		{"dialling", "a connection outward", "daemon/web/x.go", `import "net"; func f() { net.Dial("udp", "x"); net.Listen("tcp", "x") }`, []string{"net.Dial"}},
		{"the service manager", "a connection outward", "daemon/service/notify_linux.go", `import "net"; func f() { net.DialUnix("unixgram", nil, nil) }`, nil},
		{"someone else's Dial", "a connection outward", "daemon/x.go", `func f(net phone) { net.Dial() }`, nil},
	}
	failed := map[string]bool{}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			i := slices.IndexFunc(waysOut(), func(w wayOut) bool { return w.name == tt.way })
			if i < 0 {
				t.Fatalf("no rule %q", tt.way)
			}
			w := waysOut()[i]
			var want []string
			for _, name := range tt.want {
				want = append(want, fmt.Sprintf("%s:2: %s: %s", tt.path, name, w.why))
			}
			if diff := cmp.Diff(want, w.find([]houseFile{parsed(t, tt.path, "package x\n"+tt.src)})); diff != "" {
				t.Errorf("ways out found (-want +got):\n%s", diff)
			}
			failed[tt.way] = failed[tt.way] || len(tt.want) > 0
		})
	}
	for _, w := range waysOut() {
		if !failed[w.name] {
			t.Errorf("no row shows that the rule %q can fail", w.name)
		}
	}
}

func parsed(t *testing.T, name, src string) houseFile {
	t.Helper()
	f, err := parseHouseFile(name, []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// find returns a sentence with file and line for each use of a way out.
func (w wayOut) find(files []houseFile) []string {
	var found []string
	for _, f := range files {
		if f.test || !w.files.MatchString(f.path) || w.except != nil && w.except.MatchString(f.path) {
			continue
		}
		local, dotted := w.localNames(f)
		report := func(id *ast.Ident, pkg string) {
			if w.names.MatchString(id.Name) {
				found = append(found, fmt.Sprintf("%s:%d: %s.%s: %s", f.path, f.set.Position(id.Pos()).Line, path.Base(pkg), id.Name, w.why))
			}
		}
		ast.Inspect(f.syntax, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && local[x.Name] != "" {
					report(n.Sel, local[x.Name])
				}
			case *ast.CallExpr:
				if id, ok := n.Fun.(*ast.Ident); ok && dotted != "" {
					report(id, dotted)
				}
			}
			return true
		})
	}
	return found
}

// localNames maps the names by which a file calls the packages of w to their paths; dotted is the one imported by a dot.
func (w wayOut) localNames(f houseFile) (local map[string]string, dotted string) {
	local = map[string]string{}
	for _, spec := range f.syntax.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil || !slices.Contains(w.pkgs, p) {
			continue
		}
		switch {
		case spec.Name == nil:
			local[path.Base(p)] = p
		case spec.Name.Name == ".":
			dotted = p
		default:
			local[spec.Name.Name] = p
		}
	}
	return local, dotted
}
