package main

import (
	"strings"
	"testing"
)

// TestMatrix runs the smallest table; the rules are held in daemon/matrix.
func TestMatrix(t *testing.T) {
	c := call(t, "matrix", "--fault", "identity", "--seeds", "1", "--clean", "0", "--format", "markdown")
	if c.code != 0 {
		t.Fatalf("exit code %d: %s%s", c.code, c.out, c.errors)
	}
	for _, want := range []string{
		"\n\nWritten by `plumbline matrix --seeds 1 --clean 0 --fault identity --format markdown`.",
		"\nAll rules are kept: ",
		"\n| identity | identity | as it is | 99999 | 8 | 100 % | 100 % | 0 % | 0 % | 0 % | has no size against a limit: as it is |\n",
	} {
		if !strings.Contains(c.out, want) {
			t.Errorf("%q is missing in\n%s", want, c.out)
		}
	}
	for _, other := range []string{"## Pairs", "## Nothing wrong"} {
		if strings.Contains(c.out, other) {
			t.Errorf("%q was not asked for", other)
		}
	}
}

func TestMatrixErrors(t *testing.T) {
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"--seeds", "0"}, "--seeds 0, --clean 200: expected at least 1, and 0 or more"},
		{[]string{"--format", "junit"}, `unknown format "junit": expected one of text, markdown`},
		{[]string{"--fault", "zeros"}, `no kind of fault "zeros"`},
		{[]string{"zero"}, "matrix takes no argument, got 1"},
	} {
		c := call(t, append([]string{"matrix"}, tt.args...)...)
		if c.code != 2 || !strings.Contains(c.errors, tt.want) || c.out != "" {
			t.Errorf("%v: exit code %d, %q, %q; want 2, %q", tt.args, c.code, c.errors, c.out, tt.want)
		}
	}
}
