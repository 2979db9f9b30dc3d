package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// A name that somebody else's page has pointed here is refused, whatever is asked for.
func TestKnownHosts(t *testing.T) {
	asked := 0
	h := KnownHosts([]string{"bench-3.example", "Lift"}, http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked++ }))
	tests := []struct {
		host string
		ok   bool
	}{
		{"127.0.0.1:8474", true},
		{"127.0.0.1", true},
		{"[::1]:8474", true},
		{"[::1]", true},
		{"192.0.2.7:8474", true}, // an address cannot be pointed elsewhere
		{"localhost:8474", true},
		{"LOCALHOST", true},
		{"page.localhost", true},
		{"bench-3.example:443", true},
		{"Bench-3.Example.", true},
		{"lift:80", true},
		{"", true},
		{"evil.example:8474", false},
		{"evil.example", false},
		{"localhost.evil.example", false},
		{"127.0.0.1.evil.example", false},
		{"bench-3.example.evil.example", false},
		{"notlocalhost", false},
		{"x:y:z", false},
	}
	for _, tt := range tests {
		for _, path := range []string{"/", "/metrics", "/confirm", "/api/stream"} {
			r := httptest.NewRequest(http.MethodPost, path, nil)
			r.Host = tt.host
			w := httptest.NewRecorder()
			before := asked
			h.ServeHTTP(w, r)
			if got := asked > before; got != tt.ok {
				t.Errorf("%s at host %q: answered %v, want %v", path, tt.host, got, tt.ok)
			}
			if !tt.ok && (w.Code != http.StatusMisdirectedRequest || !strings.Contains(w.Body.String(), "--host")) {
				t.Errorf("%s at host %q: status %d, %q, want 421 and what to do", path, tt.host, w.Code, w.Body)
			}
		}
	}
}
