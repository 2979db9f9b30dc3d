package web

import (
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
)

// KnownHosts answers requests that call this machine by an address, by localhost or by one of names, and refuses
// the others with 421. A page elsewhere can have its own name point here (DNS rebinding): the browser then takes
// our pages for its own, and neither CrossOriginProtection nor the loopback address helps. It cannot do that with
// an address, since no name is looked up for one.
//
// A name is compared without its port and without regard to case.
func KnownHosts(names []string, next http.Handler) http.Handler {
	known := make([]string, 0, len(names))
	for _, n := range names {
		known = append(known, plain(n))
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		host = plain(host)
		switch {
		case host == "": // HTTP/1.0; no browser leaves it out
		case host == "localhost", strings.HasSuffix(host, ".localhost"): // RFC 6761, 6.3: always loopback
		case net.ParseIP(strings.Trim(host, "[]")) != nil:
		case slices.Contains(known, host):
		default:
			http.Error(w, fmt.Sprintf("This machine is not known as %q. Open the page by its address, or start plumbline with --host %s.", host, host),
				http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// plain is a name as it is compared: lower case, without the dot of the root.
func plain(name string) string { return strings.TrimSuffix(strings.ToLower(name), ".") }
