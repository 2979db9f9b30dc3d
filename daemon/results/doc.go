// Package results keeps signed function tests: each in a folder of its own, which holds all that
// is needed to look at it again on another machine.
//
//	20261128T091405Z-minibus-7-1F00BA44/   start of the test (event time, UTC), vehicle, report
//	    report.html       the report, as it was signed
//	    result.json       the result, as the daemon encodes it
//	    sign-off.json     who signed it, and what lists of tests show
//	    setup.yaml        the setup, and beside it the files that it names, as they were read
//	    recording/        the parts of the recording that belong to the test
//	    SHA256SUMS        of all of them; sha256sum -c SHA256SUMS proves them
//
// Names sort as the tests were made. A folder is there whole or not at all: it is written under
// another name, synced, and renamed. What is there is never changed. Nothing from outside, be it the
// name of a vehicle or a request, names a file outside of the folder.
//
// A [Store] may be used by any number of goroutines.
package results
