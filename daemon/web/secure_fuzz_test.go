package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// FuzzReadSecurity: whatever stands in a web configuration file, it is refused with the name of the file, or what is taken to be
// asked of who comes stands in it: a file that is misread must never open what it was to close, nor pass for TLS that is none.
func FuzzReadSecurity(f *testing.F) {
	dir := f.TempDir()
	certificate(f, dir)
	for _, seed := range []string{
		"", users, withTLS, users + withTLS, "a: [", "basic_auth_user: {a: b}\n", "basic_auth_users: {bench: fakepassword}\n", "basic_auth_users:\n", "basic_auth_users: {bench: }\n",
		"tls_server_config: {cert_file: cert.pem}\n", "tls_server_config:\n", "tls_server_config: {cert_file: '', key_file: ''}\n",
		"tls_server_config: {cert_file: cert.pem, key_file: key.pem, client_ca_file: cert.pem, client_auth_type: RequireAndVerifyClientCert}\n",
		"tls_server_config: {cert_file: cert.pem, key_file: key.pem, client_ca_file: cert.pem, client_auth_type: RequireAnyClientCert}\n",
		"tls_server_config: {cert_file: cert.pem, key_file: key.pem, min_version: TLS13, cipher_suites: [TLS_AES_128_GCM_SHA256]}\n",
		"http_server_config: {http2: false, headers: {X-Frame-Options: deny}}\n", "rate_limit: {interval: 1s, burst: 3}\n" + users,
		strings.ToUpper(users), users + users, "---\n" + users + "---\n" + withTLS, "x: &a {b: c}\n<<: *a\n", "\xEF\xBB\xBF" + users, strings.ReplaceAll(users, "\n", "\r\n"), "\x00",
		strings.ReplaceAll(users, "bench", "0"), "{0: 1}\n" + users,
	} {
		f.Add([]byte(seed))
	}
	file := filepath.Join(dir, "web.yaml")
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := ReadSecurity(file)
		if err != nil {
			if s != (Security{}) || !strings.Contains(err.Error(), file) {
				t.Errorf("refused, and yet %+v: %v", s, err)
			}
			return
		}
		// read on its own, as anything at all
		var all map[any]any
		if err := yaml.Unmarshal(text, &all); err != nil {
			t.Fatalf("taken, and is no YAML: %v", err)
		}
		asked, tls := mapOf(all["basic_auth_users"]), mapOf(all["tls_server_config"])
		if s.Password != (len(asked) > 0) || s.File != file {
			t.Errorf("%+v, with the users %v", s, asked)
		}
		if s.TLS && tls["cert"] == nil && tls["cert_file"] == nil || s.Client && (!s.TLS || tls["client_auth_type"] != "RequireAndVerifyClientCert") {
			t.Errorf("%+v, with %v", s, tls)
		}
		if len(tls) > 0 && !s.TLS {
			for key, value := range tls {
				if text, ok := value.(string); key == "cert_file" && ok && text != "" {
					t.Errorf("%+v, though there is a certificate: %v", s, tls)
				}
			}
		}
	})
}

// mapOf is a mapping whatever its keys are.
func mapOf(v any) map[any]any {
	all := map[any]any{}
	switch m := v.(type) {
	case map[string]any:
		for k, v := range m {
			all[k] = v
		}
	case map[any]any:
		all = m
	}
	return all
}
