// Package web is the technician's page: what is alive, what to do next, when it is done.
//
// It reads the daemon's newest snapshot and shows it as pages, as JSON and as server-sent events. It
// never judges, never sends anything to a bus and fetches nothing from another host. Who looks takes
// the newest state whenever there is a new one, so a slow viewer misses states and holds nobody up.
//
// What persons say is kept by a [daemon.Test]. Where a [Signing] says so, tests are signed, begun
// anew and listed: every form carries the test that it is of, so that one sent twice, or left on a
// second tablet, changes nothing and is told. All of that works without a script.
//
// Quantities are SI inside; pages show °, mm and km/h. A [Server] may be used by any number of
// goroutines.
package web
