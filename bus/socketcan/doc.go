// Package socketcan listens to the CAN interfaces of a Linux computer.
//
// A [Reader] is a live [bus.Source] over any number of interfaces, classic and
// FD. Each has a raw socket of its own, read in batches; one epoll loop inside
// Read serves all of them, so that no goroutine is started and nothing runs
// between two calls. On other systems [Open] says that SocketCAN is Linux only.
//
// It never sends: there is no write, send or sendmsg on a CAN socket in this
// package, and a test of cmd/plumbline looks for one. Bit rate, mode and state
// of a controller are asked of the kernel by netlink (RTM_GETLINK, the only
// message that is sent), and are never set.
//
// # Time
//
// Frame.At is the kernel's software stamp, CLOCK_REALTIME, ns since 1970-01-01
// UTC. With [Hardware] it is the adapter's stamp, whose time base is its own,
// laid onto CLOCK_REALTIME: see [Stamps]. [Info] counts which clock stamped how
// many frames, and a note says where an adapter's begin or are missing. With every batch CLOCK_REALTIME is held against CLOCK_MONOTONIC,
// which no one can set: where the two part by more than 50 ms, a [bus.Clock]
// note says by how much, before the first frame with the new time. Silence and
// delays are measured on CLOCK_MONOTONIC. Whoever reads several sources adds what
// both clocks show ([bus.BothClocks]), so that [bus.MonotonicTime] can tell it of every frame.
//
// Frames of one interface come in the order in which the kernel took them;
// frames of several interfaces that wait at the same time are merged by stamp.
//
// # Losses
//
// A frame can be lost in the controller (rx_over_errors, the error frame
// CAN_ERR_CRTL_RX_OVERFLOW), in driver or network device (rx_dropped,
// rx_missed_errors) and in the receive queue of the socket (SO_RXQ_OVFL). Each
// is a [bus.Loss] note with its place. Losses of the queue stand exactly before
// the frame that followed them. Controller and driver count what they lost for
// everyone, so with filters some of it would not have been delivered anyway; a
// controller counts overruns, each of which cost one frame or more.
// What the queue lost after the last frame, and what the device lost, is told
// within a second. What still waits in the kernel at Close is not delivered.
//
// # Links
//
// absent, down, up but silent, error-active, error warning, error passive and
// bus-off are told apart in [bus.LinkChanged] notes, each with a sentence for
// who stands at the vehicle. A state that is worse shows at once, a better one
// when the worse has been shown for half a second, bus-off for two seconds. An
// interface that is missing is waited for; one that was removed is bound again
// by name, or by its adapter, when it is back. Frames heard while a program of the same computer
// sends are marked [bus.Transmitted].
package socketcan
