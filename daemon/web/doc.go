// Package web is the technician's page: what is alive, what to do next, when it is done.
//
// It reads the daemon's newest snapshot and shows it as pages, as JSON and as server-sent events. It
// never judges, never sends anything to a bus and fetches nothing from another host. Who looks takes
// the newest state whenever there is a new one, so a slow viewer misses states and holds nobody up.
//
// Quantities are SI inside; pages show °, mm and km/h. A [Server] may be used by any number of
// goroutines.
package web
