package web

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// users is a bcrypt hash of "fakepassword", as it stands in the exporter toolkit's handler.go.
const users = "basic_auth_users: {bench: $2y$10$QOauhQNbBCuQDKes6eFzPeMqBSjb7Mr5DUmpZ/VcEd00UAV/LDeSi}\n"

const withTLS = "tls_server_config: {cert_file: cert.pem, key_file: key.pem}\n"

// certificate writes cert.pem and key.pem of 127.0.0.1 into a folder and returns a pool that trusts them.
func certificate(t testing.TB, dir string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "bench"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for name, block := range map[string]*pem.Block{"cert.pem": {Type: "CERTIFICATE", Bytes: der}, "key.pem": {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(filepath.Join(dir, name), pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(parsed)
	return pool
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// What we take for good and bad is what promtool takes for it.
func TestReadSecurity(t *testing.T) {
	dir := t.TempDir()
	certificate(t, dir)
	write(t, filepath.Join(dir, "noise.pem"), "no certificate")
	tests := []struct {
		name, text string
		want       Security
		bad        string // part of the error
	}{
		{name: "empty"},
		{name: "passwords", text: users, want: Security{Password: true}},
		{name: "TLS", text: withTLS, want: Security{TLS: true}},
		{name: "both", text: users + withTLS, want: Security{TLS: true, Password: true}},
		{
			name: "certificates of clients", text: "tls_server_config: {cert_file: cert.pem, key_file: key.pem, client_ca_file: cert.pem, client_auth_type: RequireAndVerifyClientCert}\n",
			want: Security{TLS: true, Client: true},
		},
		{
			name: "certificates of whoever wants", text: "tls_server_config: {cert_file: cert.pem, key_file: key.pem, client_ca_file: cert.pem, client_auth_type: VerifyClientCertIfGiven}\n",
			want: Security{TLS: true},
		},
		{name: "a word misspelt", text: "basic_auth_user: {a: b}\n", bad: "basic_auth_user"},
		{name: "password as it is", text: "basic_auth_users: {bench: fakepassword}\n", bad: "the password of bench is no bcrypt hash"},
		{name: "no key", text: "tls_server_config: {cert_file: cert.pem}\n", bad: "missing one of key or key_file"},
		{name: "no such certificate", text: "tls_server_config: {cert_file: gone.pem, key_file: key.pem}\n", bad: "gone.pem"},
		{name: "no certificate", text: "tls_server_config: {cert_file: noise.pem, key_file: key.pem}\n", bad: "X509KeyPair"},
		{name: "no YAML", text: "a: [", bad: "yaml"},
	}
	promtool, missing := exec.LookPath("promtool")
	if missing != nil && os.Getenv("CI") == "true" {
		t.Error("no promtool: apt-get install prometheus")
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := filepath.Join(dir, "web.yaml")
			write(t, file, tt.text)
			got, err := ReadSecurity(file)
			if tt.bad == "" {
				tt.want.File = file
				if err != nil || got != tt.want {
					t.Errorf("got %+v, %v, want %+v", got, err, tt.want)
				}
			} else if err == nil || !strings.Contains(err.Error(), tt.bad) || !strings.Contains(err.Error(), file) {
				t.Errorf("error %v, want %q and the name of the file in it", err, tt.bad)
			}
			if missing != nil {
				t.Skip("no promtool: apt-get install prometheus")
			}
			out, err := exec.CommandContext(t.Context(), promtool, "check", "web-config", file).CombinedOutput()
			if (err == nil) != (tt.bad == "") {
				t.Errorf("promtool says %v, %s", err, out)
			}
		})
	}
	if got, err := ReadSecurity(""); err != nil || got != (Security{}) {
		t.Errorf("without a file: got %+v, %v, want nothing", got, err)
	}
	if _, err := ReadSecurity(filepath.Join(dir, "gone.yaml")); err == nil || !strings.Contains(err.Error(), "gone.yaml") {
		t.Errorf("a file that is not there: error %v, want its name", err)
	}
}

// A page with TLS and a password: who does not know it gets nothing, the stream of who does lasts, and it stays
// closed when the file is emptied under it.
func TestServeSecured(t *testing.T) {
	dir := t.TempDir()
	pool := certificate(t, dir)
	file := filepath.Join(dir, "web.yaml")
	write(t, file, users+withTLS)
	security, err := ReadSecurity(file)
	if err != nil {
		t.Fatal(err)
	}
	st, s := newStage(t, Config{})
	st.play(s, newScene(t, 1), 5)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	var log bytes.Buffer // slog's handler locks; read when all has ended
	go func() {
		done <- ServeSecured(ctx, l, s, security, slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	}()
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: true}
	client := &http.Client{Transport: transport}
	ask := func(path, password string, read func(*http.Response)) {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "https://"+l.Addr().String()+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		if password != "" {
			r.SetBasicAuth("bench", password)
		}
		resp, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		read(resp)
	}
	for _, path := range []string{"/", "/api/result", "/api/stream", "/-/healthy", "/nothing"} {
		for _, password := range []string{"", "guess"} {
			ask(path, password, func(got *http.Response) {
				if got.StatusCode != http.StatusUnauthorized || got.Header.Get("WWW-Authenticate") == "" {
					t.Errorf("%s with password %q: status %d, want 401 and a question", path, password, got.StatusCode)
				}
			})
		}
	}
	ask("/", "fakepassword", func(got *http.Response) {
		if body, err := io.ReadAll(got.Body); err != nil || got.StatusCode != 200 || !strings.Contains(string(body), "Minibus") || got.ProtoMajor != 2 {
			t.Errorf("with the password: status %d over HTTP/%d, %v, %d bytes, want the page over HTTP/2", got.StatusCode, got.ProtoMajor, err, len(body))
		}
		if policy := got.Header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'") {
			t.Errorf("policy %q, want our own", policy)
		}
	})
	ask("/api/stream?page=/", "fakepassword", func(got *http.Response) {
		beats := 0
		events(t, got.Body, func(event, _, _ string) bool {
			if event == "beat" {
				beats++
			}
			return beats < 2
		})
	})
	plain, err := http.Get("http://" + l.Addr().String() + "/")
	if err != nil {
		t.Fatal(err)
	}
	defer plain.Body.Close()
	if plain.StatusCode != http.StatusBadRequest {
		t.Errorf("without TLS: status %d, want 400", plain.StatusCode)
	}
	write(t, file, withTLS)
	ask("/", "", func(got *http.Response) {
		if got.StatusCode != http.StatusServiceUnavailable {
			t.Errorf("when the file asks nobody any more: status %d, want 503", got.StatusCode)
		}
	})
	cancel()
	transport.CloseIdleConnections()
	http.DefaultClient.CloseIdleConnections()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("serving ended with %v, want the context's error", err)
	}
	for _, secret := range []string{"fakepassword", "guess", "QOauhQNbBCuQDKes6eFzPe", base64.StdEncoding.EncodeToString([]byte("bench:fakepassword"))} {
		if strings.Contains(log.String(), secret) {
			t.Errorf("the log holds %q:\n%s", secret, log.String())
		}
	}
	if log.Len() == 0 {
		t.Error("nothing was logged: the check cannot fail")
	}
}
