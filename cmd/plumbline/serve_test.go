package main

import (
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/daemon"
	"plumbline/daemon/web"
)

// TestWhoMayReach: an address that others can reach wants somebody to be asked.
func TestWhoMayReach(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// a bcrypt hash of "fakepassword", from the exporter toolkit's handler.go
	users := file("users.yaml", "basic_auth_users: {bench: $2y$10$QOauhQNbBCuQDKes6eFzPeMqBSjb7Mr5DUmpZ/VcEd00UAV/LDeSi}\n")
	empty := file("empty.yaml", "")
	tests := []struct {
		flags serveFlags
		want  string // part of the error; empty: it may
	}{
		{serveFlags{listen: "127.0.0.1:0"}, ""},
		{serveFlags{listen: "127.9.9.9:0"}, ""},
		{serveFlags{listen: "[::1]:0"}, ""},
		{serveFlags{listen: "localhost:0"}, ""},
		{serveFlags{listen: ":0"}, "--web-config FILE"},
		{serveFlags{listen: "0.0.0.0:0"}, "--web-config FILE"},
		{serveFlags{listen: "bench-3.example:0"}, "--web-config FILE"},
		{serveFlags{listen: "0.0.0.0:0", webConfig: empty}, "--web-config FILE"},
		{serveFlags{listen: "0.0.0.0:0", insecure: true}, ""},
		{serveFlags{listen: "0.0.0.0:0", webConfig: users}, ""},
		{serveFlags{listen: "0.0.0.0:0", webConfig: users, hosts: []string{"http://bench-3"}}, "--host"},
		{serveFlags{listen: "0.0.0.0:0", webConfig: users, hosts: []string{"bench-3", "lift"}}, ""},
	}
	for _, tt := range tests {
		_, err := tt.flags.security()
		if got := err == nil; got != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: error %v, want %q in it", tt.flags, err, tt.want)
		}
	}
}

func TestReachable(t *testing.T) {
	for _, tt := range []struct {
		ip    string
		names []string
		want  string
	}{
		{"127.0.0.1", nil, "127.0.0.1:8474"},
		{"192.0.2.7", []string{"lift"}, "192.0.2.7:8474"},
		{"::", nil, "localhost:8474"},
		{"0.0.0.0", []string{"lift", "bench"}, "lift:8474"},
		{"::1", nil, "[::1]:8474"},
	} {
		if got := reachable(&net.TCPAddr{IP: net.ParseIP(tt.ip), Port: 8474}, tt.names); got != tt.want {
			t.Errorf("%s can be opened as %s, want %s", tt.ip, got, tt.want)
		}
	}
}

// TestHostIsKnown: page, metrics and runbooks answer to a name that they were given, and to no other.
func TestHostIsKnown(t *testing.T) {
	flags := serveFlags{listen: "127.0.0.1:0", hosts: []string{"bench-3.example"}}
	page, err := servePage(t.Context(), &flags, slog.New(slog.DiscardHandler), web.Config{Snapshot: func() *daemon.Snapshot { return nil }})
	if err != nil {
		t.Fatal(err)
	}
	for host, want := range map[string]int{"": 200, "bench-3.example": 200, "evil.example": http.StatusMisdirectedRequest} {
		for _, path := range []string{"", "metrics", "-/healthy", "runbooks/", "runbooks/drift"} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, page.url+path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Host = host
			resp, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			if resp.Body.Close(); resp.StatusCode != want {
				t.Errorf("/%s at host %q: status %d, want %d", path, host, resp.StatusCode, want)
			}
		}
	}
	http.DefaultClient.CloseIdleConnections()
	if err := page.end(); err != nil {
		t.Error(err)
	}
}
