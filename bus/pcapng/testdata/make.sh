#!/bin/sh
# Makes the recordings here anew; needs the Debian package tshark (4.0.17 made these).
set -eu
cd "$(dirname "$0")"
hex() { text2pcap -q -D -t '%s.%f' "$@"; }
hex -l 227 -N can0 can0.txt can0.pcapng
hex -l 227 -N can1 can1.txt can1.pcapng
hex -l 1 -N eth0 eth0.txt eth0.pcapng
hex -l 227 -F nsecpcap can0.txt can0-nano.pcap
hex -l 227 -F pcap can0.txt can0-micro.pcap
mergecap -w merged.pcapng can0.pcapng eth0.pcapng can1.pcapng
editcap -a '1:turn FL' -a '5:# mark: on the lift' can0.pcapng marks.pcapng
cat can0.pcapng can1.pcapng >sections.pcapng
dumpcap -q -i - -w - <can0-micro.pcap >dumpcap.pcapng
# What the tools write about the machine they ran on says nothing here.
perl -pi -e 's/(Linux \d[^\0]*|(AMD|Intel)[^\0]*)/"-" x length $1/ge' ./*.pcapng
