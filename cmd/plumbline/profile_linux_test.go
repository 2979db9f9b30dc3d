package main

import "testing"

// profileFile is where time goes in a replay. daemon/packaging/build hands it to the compiler, which lays out by it what is
// handed out: 8 % less CPU time. Who builds by hand is spared the wait, which all packages cost anew then.
const profileFile = "../../daemon/packaging/plumbline.pgo"

// BenchmarkReplay judges a recording as text and as pcapng in this process. The profile is taken from it:
//
//	go test ./cmd/plumbline -run '^$' -bench '^BenchmarkReplay$' -benchtime 20x -cpuprofile daemon/packaging/plumbline.pgo
func BenchmarkReplay(b *testing.B) {
	long := tapeDrive(b, b.TempDir(), drive(4, 200), 400_000, 1e6)
	for b.Loop() {
		for _, file := range []string{long.log, long.pcapng} {
			if got := call(b, "replay", long.setup, file, "--format", "json"); got.code > 3 {
				b.Fatalf("exit code %d: %s", got.code, got.errors)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(2*b.N*long.frames), "ns/frame")
}
