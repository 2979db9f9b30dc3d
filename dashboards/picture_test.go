package dashboards

import (
	"testing"
	"time"
)

func draw(t *testing.T, store *process, p *play, from, to time.Time) { t.Helper() }
