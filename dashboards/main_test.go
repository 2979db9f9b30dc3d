package dashboards

import (
	"flag"
	"os"
	"os/exec"
	"testing"

	"go.uber.org/goleak"
)

var (
	update   = flag.Bool("update", false, "write built/ anew")
	pictures = flag.String("pictures", "", "draw every panel with the data of a demo into this folder")
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// tool returns the path of a program of a Debian package.
func tool(t *testing.T, name, debian string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		advice := "install it: apt-get install " + debian
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing; %s", name, advice)
		}
		t.Skipf("%s is missing; %s", name, advice)
	}
	return path
}

// written writes all files into a folder of the test.
func written(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if _, err := Write(dir); err != nil {
		t.Fatal(err)
	}
	return dir
}
