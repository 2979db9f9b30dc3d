// Package pcapng reads recordings of a CAN bus in pcapng, and in the older
// pcap, as dumpcap, tcpdump and Wireshark write them: link type 227,
// LINKTYPE_CAN_SOCKETCAN. It also reads, and appends block by block, recordings
// of our own, which hold more.
//
// A [Reader] is a [bus.Source]. Times are ns since 1970-01-01 UTC, taken
// exactly from any resolution and offset that an interface states; nothing is
// sorted. Every comment on a packet is a [bus.Mark], with or without "mark:" in
// front. Drop counts, of a packet and of an interface's statistics, become
// [bus.Loss] and are never counted twice.
//
// What cannot be used becomes a [bus.Warning] that names block and byte, and
// the rest counts: a last block that was cut off, damage in the middle (the
// reader looks for the next whole block), packets shorter than what they
// announce, CAN XL, packets of other link types. Where what was skipped may have been bytes of a serial port, a [bus.Loss]
// of no count says so before the next ones. After [bus.MaxWarnings] the rest
// is only counted, and the number told at the end.
//
// Identifiers are big-endian in this link type. A recording whose identifiers
// were written in the byte order of the machine is refused, never turned round
// silently. Where nothing tells the two apart, the link type is believed.
//
// The container is read here and not by gopacket's pcapgo, which serves the
// tests as a second opinion (v1.7.7): it does not come back after a damaged
// block, its block length can wrap below zero, it reads the drop count of a
// big-endian section little-endian, and it rounds resolutions that are powers
// of two by up to seven per cent.
//
// # Recordings of our own
//
// They are what every program that reads pcapng can read: little-endian, times
// in ns. The functions Append… write one block each to memory.
//
//	section header     shb_userappl: the program; a comment of lines "key value":
//	                   plumbline recording, session, part, setup, sha256, source (repeated)
//	CAN interface      link type 227, if_name: frames padded to 16 or 72 bytes, as Linux
//	                   captures them; epb_flags where a frame was sent by the recording machine
//	serial port        link type 147, if_description "plumbline serial bytes": a packet is
//	                   what the port delivered at once ([bus.Chunk])
//	events             link type 148, if_description "plumbline events": a packet is a
//	                   [bus.Note] at its place among the frames
//	statistics         isb_ifrecv = isb_usrdeliv + isb_ifdrop + isb_osdrop, of this section:
//	                   lost up to the driver or somewhere, and lost behind it
//
// The data of an event are lines "key value", the last of which is the text and
// runs to the end, whatever it holds; its comment repeats the text for people:
//
//	plumbline warning|mark|loss|link|clock|garbage|tick|told|clocks
//	source NAME        loss, link, garbage
//	count N            loss: frames; garbage: bytes; told: 1 something begins to fail, 0 it ceases to
//	place somewhere|controller|driver|queue|ring|recorder
//	link unknown|absent|down|silent|error-active|error-warning|error-passive|bus-off|no-valid-frame
//	step N             clock: ns
//	monotonic N        clocks: ns, the clock that nobody can set, at the time of the packet
//	text TEXT          all but tick and clocks
//
// An event clocks stands at the start, every second and behind each step of the clock: with [bus.MonotonicTime] it
// gives each frame its monotonic time.
//
// Keys that are not known, or not of that kind of event, are passed over. A note is a packet and no custom
// block because packets keep their place and time when other programs cut, merge
// and filter a recording. A comment that somebody adds to one is a mark.
//
// Memory does not grow with the file: one buffer, which holds the longest block that came, at most [MaxBlock] bytes. Nothing
// is allocated per frame. The package opens no file, sends nothing and writes
// to memory only. A Reader is used by one goroutine; only [Reader.Close] may be called
// from another.
package pcapng
