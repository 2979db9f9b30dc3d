// Package metrics shows the daemon's newest snapshot to Prometheus.
//
// A scrape reads one immutable [daemon.Snapshot] and makes every sample from it: it takes no lock of
// who judges and cannot hold up who listens. All metrics stand in one table, [Table], of which the
// exporter and METRICS.md are made.
//
// Names carry base units: newtons, newton_meters, radians, seconds, celsius, volts, meters, bytes. A value
// that is not known, not finite or no longer true is missing; it is never 0 or NaN in its place. No sample
// has a time stamp of its own: plumbline_snapshot_timestamp_seconds tells the event time of all of them.
// Verdicts and other states are state sets: one series for each state, 1 for the one that is so, else 0.
//
// Nothing here judges, keeps a history or sends.
package metrics
