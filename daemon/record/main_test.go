package record

import (
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) {
	if recordForParent() {
		return
	}
	goleak.VerifyTestMain(m)
}
