package dashboards

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// process is a program that serves HTTP until the test ends.
type process struct {
	base   string
	client *http.Client
}

// free returns an address that nobody uses.
func free(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// begin starts a program in a folder and waits until it is ready.
func begin(t *testing.T, address, dir, program string, args ...string) *process {
	t.Helper()
	var out bytes.Buffer
	ctx, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), 5*time.Minute)
	c := exec.CommandContext(ctx, program, args...)
	c.Dir, c.Stdout, c.Stderr = dir, &out, &out
	if err := c.Start(); err != nil {
		cancel()
		t.Fatal(err)
	}
	p := &process{"http://" + address, &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{}}}
	t.Cleanup(func() {
		p.client.CloseIdleConnections()
		cancel() // kills it: what it stored is not wanted
		_ = c.Wait()
		if t.Failed() {
			t.Logf("%s says:\n%s", filepath.Base(program), out.String())
		}
	})
	until(t, 90*time.Second, program+" is not ready", func() bool {
		_, err := p.get(t, "/-/ready")
		return err == nil
	})
	return p
}

// until waits for a condition.
func until(t *testing.T, patience time.Duration, complaint string, done func() bool) {
	t.Helper()
	for deadline := time.Now().Add(patience); !done(); time.Sleep(100 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal(complaint)
		}
	}
}

func (p *process) get(t *testing.T, path string) ([]byte, error) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.base+path, http.NoBody)
	if err != nil {
		return nil, err
	}
	answer, err := p.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d: %s", answer.StatusCode, body)
	}
	return body, err
}

// prometheusOf starts a Prometheus with the configuration and rules as they are written, but for addresses and, where scrape
// is not empty, how often it looks. It has begun to scrape when it returns.
func prometheusOf(t *testing.T, scrape, alertmanager string, plays ...*play) *process {
	t.Helper()
	program := tool(t, "prometheus", "prometheus")
	dir := filepath.Join(written(t), "prometheus")
	text := prometheusConfig
	var targets []string
	for _, p := range plays {
		targets = append(targets, strconv.Quote(p.address))
	}
	text = strings.Replace(text, `["127.0.0.1:8474"]`, "["+strings.Join(targets, ", ")+"]", 1)
	text = strings.Replace(text, `["127.0.0.1:9093"]`, `["`+alertmanager+`"]`, 1)
	if scrape != "" {
		text = strings.NewReplacer("_interval: 1s", "_interval: "+scrape, "_timeout: 1s", "_timeout: "+scrape).Replace(text)
	}
	if err := os.WriteFile(filepath.Join(dir, "prometheus.yml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address := free(t)
	store := begin(t, address, dir, program, "--config.file=prometheus.yml", "--storage.tsdb.path=data", "--web.listen-address="+address)
	until(t, time.Minute, "Prometheus does not scrape", func() bool { // it looks for its targets some seconds after it is ready
		return !slices.ContainsFunc(plays, func(p *play) bool { return p.scrapes.Load() == 0 })
	})
	return store
}

// sequence is one series of an answer.
type sequence struct {
	labels map[string]string
	at     []float64 // s since 1970
	values []float64
}

// ask asks for an expression over a span.
func (p *process) ask(t *testing.T, expr string, from, to time.Time, step time.Duration) ([]sequence, error) {
	t.Helper()
	q := url.Values{
		"query": {expr}, "start": {decimal(float64(from.UnixMilli()) / 1e3)}, "end": {decimal(float64(to.UnixMilli()) / 1e3)},
		"step": {decimal(step.Seconds())},
	}
	body, err := p.get(t, "/api/v1/query_range?"+q.Encode())
	if err != nil {
		return nil, err
	}
	var answer struct {
		Data struct {
			Result []struct {
				Metric map[string]string
				Values [][2]any
			}
		}
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		return nil, fmt.Errorf("%w: %s", err, body)
	}
	var out []sequence
	for _, r := range answer.Data.Result {
		s := sequence{labels: r.Metric}
		for _, v := range r.Values {
			at, _ := v[0].(float64)
			text, _ := v[1].(string)
			value, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return nil, err
			}
			s.at, s.values = append(s.at, at), append(s.values, value)
		}
		out = append(out, s)
	}
	return out, nil
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }

// filled puts values in the place of the variables of a board.
func filled(expr string, p *play) string {
	return strings.NewReplacer("$instance", p.address, "$corner", everything, "$vehicle", everything, "$__rate_interval", "4s", "[5m]", "[5s]").Replace(expr)
}
