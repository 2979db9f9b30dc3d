// Package pcapng reads recordings of a CAN bus in pcapng, and in the older
// pcap, as dumpcap, tcpdump and Wireshark write them: link type 227,
// LINKTYPE_CAN_SOCKETCAN.
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
// announce, CAN XL, packets of other link types. After [MaxWarnings] the rest
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
// Memory does not grow with the file: one buffer of [MaxBlock] bytes. Nothing
// is allocated per frame. The package opens no file, sends nothing and writes
// nothing. A Reader is used by one goroutine; only [Reader.Close] may be called
// from another.
package pcapng
