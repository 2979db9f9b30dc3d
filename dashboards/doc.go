// Package dashboards shows what the daemon exports: it builds Grafana boards, recording and alerting rules of
// Prometheus, a routing example for Alertmanager and the files that provision them, and carries the runbooks
// that alarms point to.
//
// Everything is made of Go: [Boards], [Groups] and [Files] return it, folder built/ holds what they return,
// and a test keeps the two equal. Nothing here listens, judges or sends; [Runbooks] is the one handler, which
// answers from what is compiled in and so works where there is no network.
//
// Metrics are those of plumbline/daemon/metrics. Series of one vehicle are found by the instance that serves them;
// plumbline_setup_info tells which vehicle that is, so that a computer which moves to another vehicle needs
// no new label. Values stay SI; expressions turn them to degrees, km/h and mm where a person reads.
package dashboards
