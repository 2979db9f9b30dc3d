// Package packaging holds what makes plumbline a service: the systemd unit and
// the examples beside it, described in SERVICE.md. It has no code; its tests
// hold unit, examples and description against systemd's own tools and each other.
package packaging
