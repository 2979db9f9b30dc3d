package daemon

import "plumbline/checks"

// The exit codes of the program.
const (
	ExitPass         = 0 // every check passed
	ExitFail         = 1 // a check failed
	ExitUsage        = 2 // the command line or the setup is wrong
	ExitInconclusive = 3 // not enough data, or data that cannot be used
)

// ExitCode is the exit code of results: a failure outweighs what could not be
// judged. No result at all is inconclusive.
func ExitCode(results []Result) int {
	code := ExitPass
	if len(results) == 0 {
		code = ExitInconclusive
	}
	for i := range results {
		switch r := &results[i]; {
		case r.Verdict == checks.Fail:
			return ExitFail
		case r.Verdict != checks.Pass, r.Unusable():
			code = ExitInconclusive
		}
	}
	return code
}
