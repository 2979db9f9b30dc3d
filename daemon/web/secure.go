package web

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"strings"

	toolkit "github.com/prometheus/exporter-toolkit/web"
	"go.yaml.in/yaml/v3"

	"plumbline/daemon/setup"
)

// Security is what a Prometheus web configuration file asks of who comes. The zero value asks nothing.
type Security struct {
	File     string // its path; empty: there is none
	TLS      bool   // what is sent can be read by nobody on the way
	Password bool   // a name and a password are asked for
	Client   bool   // a certificate of the client is asked for, and verified
}

// Asks reports whether somebody must say who he is.
func (s Security) Asks() bool { return s.Password || s.Client }

// ReadSecurity reads a web configuration file and what it names, as the Prometheus exporter toolkit does. An
// empty path gives the zero value. The error says what is wrong with the file.
func ReadSecurity(path string) (Security, error) {
	if path == "" {
		return Security{}, nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return Security{}, fmt.Errorf("web configuration: %w", setup.Located(path, err))
	}
	var c struct {
		TLS struct {
			ClientAuth string `yaml:"client_auth_type"`
			Cert       string `yaml:"cert"`
			CertFile   string `yaml:"cert_file"`
		} `yaml:"tls_server_config"`
		Users map[string]string `yaml:"basic_auth_users"`
	}
	if yaml.Unmarshal(text, &c) == nil { // else the toolkit tells it below
		for name, hash := range c.Users {
			if len(hash) != bcryptLength || !strings.HasPrefix(hash, "$2") {
				return Security{}, fmt.Errorf("web configuration: %s: basic_auth_users: the password of %s is no bcrypt hash: "+
					"`htpasswd -nBC 10 %s` writes one", path, name, name)
			}
		}
	}
	if err := toolkit.Validate(path); err != nil {
		return Security{}, fmt.Errorf("web configuration: %s: %w: `promtool check web-config %s` checks it too", path, err, path)
	}
	return Security{
		File: path, Password: len(c.Users) > 0,
		TLS:    c.TLS.Cert != "" || c.TLS.CertFile != "",
		Client: c.TLS.ClientAuth == "RequireAndVerifyClientCert",
	}, nil
}

// bcryptLength is that of a bcrypt hash in its modular form, as in $2y$10$ and 53 characters.
const bcryptLength = 60

// errOpen says that a file that asked for passwords asks nobody any more.
var errOpen = errors.New("the web configuration no longer asks who is there; restart plumbline to serve everybody")

// asking answers only while the file still asks: the toolkit reads it anew with each request, and a file that was
// emptied must not open to all what was closed at the start.
func (s Security) asking(next http.Handler) http.Handler {
	if !s.Asks() {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if now, err := ReadSecurity(s.File); err != nil || !now.Asks() {
			http.Error(w, errOpen.Error(), http.StatusServiceUnavailable)
			return
		}
		next.ServeHTTP(w, r)
	})
}
