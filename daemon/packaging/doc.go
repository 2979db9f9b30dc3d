// Package packaging holds what makes plumbline a service and a package: the systemd
// unit and the examples beside it, described in SERVICE.md, and build, which makes
// programs, Debian and RPM packages of the commit at HEAD. It has no code of its own
// (contents lists what a program is made of); its tests hold unit, examples,
// description and packages against systemd's and Debian's own tools and each other.
package packaging
