package socketcan

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"
)

// answer returns a message of testdata: what a real kernel said, of a
// little-endian machine.
func answer(t testing.TB, name string) []byte {
	t.Helper()
	if binary.NativeEndian.Uint16([]byte{1, 0}) != 1 {
		t.Skip("the recorded answers are of a little-endian machine")
	}
	text, err := os.ReadFile(filepath.Join("testdata", name+".hex"))
	if err != nil {
		t.Fatal(err)
	}
	b, err := hex.DecodeString(string(bytes.ReplaceAll(text, []byte("\n"), nil)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func attr(kind uint16, body ...byte) []byte {
	b := make([]byte, align(4+len(body)))
	binary.NativeEndian.PutUint16(b, uint16(4+len(body)))
	binary.NativeEndian.PutUint16(b[2:], kind)
	copy(b[4:], body)
	return b
}

func le32(v ...uint32) []byte {
	var b []byte
	for _, x := range v {
		b = binary.NativeEndian.AppendUint32(b, x)
	}
	return b
}

// linkMessage is RTM_NEWLINK of an interface of type 280, CAN.
func linkMessage(kind uint16, index int, flags uint32, attrs ...[]byte) []byte {
	body := binary.NativeEndian.AppendUint16([]byte{0, 0}, unix.ARPHRD_CAN)
	body = append(body, le32(uint32(index), flags, 0)...)
	body = append(body, join(attrs...)...)
	b := le32(uint32(16 + len(body)))
	b = binary.NativeEndian.AppendUint16(b, kind)
	b = append(b, 0, 0)
	b = append(b, le32(1, 0)...)
	return append(b, body...)
}

func one(t testing.TB, b []byte) link {
	t.Helper()
	m, rest, err := nextMessage(b)
	if err != nil || len(rest) > 0 {
		t.Fatalf("message: %v, %d bytes are left", err, len(rest))
	}
	l, err := parseLink(m)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestParseLink(t *testing.T) {
	stats := make([]byte, 24*8)
	for i := range 24 {
		binary.NativeEndian.PutUint64(stats[8*i:], uint64(100+i))
	}
	tests := []struct {
		name string
		b    []byte
		want link
	}{
		{"SJA1000, listen-only, after 200 frames", answer(t, "can0"), link{
			index: 2, name: "can0", isCAN: true, up: true, mtu: 16, kind: "can", bus: "pci", hasLoss: true, packets: 200,
			control: Controller{Known: true, BitRate: 500000, SamplePoint: 0.875, Mode: ListenOnly, HasCounters: true},
		}},
		{"SJA1000 that restarts by itself", answer(t, "can1"), link{
			index: 3, name: "can1", isCAN: true, up: true, mtu: 16, kind: "can", bus: "pci", hasLoss: true,
			control: Controller{Known: true, BitRate: 500000, SamplePoint: 0.875, Mode: BusReporting, Restart: 100 * time.Millisecond, HasCounters: true},
		}},
		{"virtual and removed", linkMessage(unix.RTM_DELLINK, 7, 0, attr(unix.IFLA_IFNAME, []byte("vcan0\x00")...),
			attr(unix.IFLA_LINKINFO|0x8000, attr(unix.IFLA_INFO_KIND, []byte("vcan")...)...)), link{index: 7, name: "vcan0", gone: true, isCAN: true, kind: "vcan"}},
		{"FD, bus-off, counters", linkMessage(unix.RTM_NEWLINK, 9, unix.IFF_UP, attr(unix.IFLA_IFNAME, []byte("can9\x00")...), attr(unix.IFLA_MTU, le32(72)...),
			attr(unix.IFLA_LINKINFO, join(
				attr(unix.IFLA_INFO_KIND, []byte("can\x00")...),
				attr(unix.IFLA_INFO_XSTATS, le32(1, 2, 3, 4, 5, 6)...),
				attr(unix.IFLA_INFO_DATA|0x8000, join(
					attr(unix.IFLA_CAN_BITTIMING, le32(1000000, 750, 0, 0, 0, 0, 0, 0)...),
					attr(unix.IFLA_CAN_DATA_BITTIMING, le32(5000000, 800, 0, 0, 0, 0, 0, 0)...),
					attr(unix.IFLA_CAN_STATE, le32(3)...),
					attr(unix.IFLA_CAN_CTRLMODE, le32(0, 0x20|0x08|0x01)...),
					attr(unix.IFLA_CAN_BERR_COUNTER, join(le32(0x00100100))...),
				)...),
			)...)), link{index: 9, name: "can9", isCAN: true, up: true, mtu: 72, kind: "can", control: Controller{
			Known: true, State: BusOff, BitRate: 1000000, SamplePoint: 0.75, DataBitRate: 5000000, DataSamplePoint: 0.8, Mode: FDMode | OneShot | Loopback,
			HasCounters: true, TxErrors: 256, RxErrors: 16, BusErrors: 1, Warnings: 2, Passives: 3, BusOffs: 4, Restarts: 6,
		}}},
		{"statistics in their order", linkMessage(unix.RTM_NEWLINK, 9, 0, attr(unix.IFLA_STATS64, stats...)), link{
			index: 9, isCAN: true, hasLoss: true, packets: 100, losses: deviceLosses{overruns: 114, dropped: 106 + 115},
		}},
		{"bit rate of an adapter that somebody else set up", linkMessage(unix.RTM_NEWLINK, 9, 0, attr(unix.IFLA_LINKINFO, join(
			attr(unix.IFLA_INFO_KIND, []byte("can")...), attr(unix.IFLA_INFO_DATA, attr(unix.IFLA_CAN_BITTIMING, le32(0xFFFFFFFF, 0)...)...))...)), link{index: 9, isCAN: true, kind: "can"}},
		{"data of another kind is not a controller's", linkMessage(unix.RTM_NEWLINK, 9, 0, attr(unix.IFLA_LINKINFO, join(
			attr(unix.IFLA_INFO_KIND, []byte("vxcan")...), attr(unix.IFLA_INFO_DATA, attr(unix.IFLA_CAN_STATE, le32(3)...)...))...)), link{index: 9, isCAN: true, kind: "vxcan"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, one(t, tt.b), cmp.AllowUnexported(link{}, deviceLosses{})); diff != "" {
				t.Errorf("link (-want +got):\n%s", diff)
			}
		})
	}
}

// TestLinkCut cuts a real answer at every byte: an error, or what stood before the cut.
func TestLinkCut(t *testing.T) {
	whole := answer(t, "can0")
	for n := range len(whole) {
		if _, _, err := nextMessage(whole[:n]); !errors.Is(err, errCut) {
			t.Fatalf("message cut at %d: error %v, want %v", n, err, errCut)
		}
		if n < 16 {
			continue
		}
		_, err := parseLink(message{kind: unix.RTM_NEWLINK, body: whole[16:n]})
		if err != nil && !errors.Is(err, errCut) {
			t.Fatalf("body cut at %d: error %v, want %v", n, err, errCut)
		}
	}
}

func TestQuestion(t *testing.T) {
	got := question("can0", 5)
	want := join(le32(44), []byte{18, 0, 1, 0}, le32(5, 0), make([]byte, 16), attr(unix.IFLA_IFNAME, []byte("can0\x00")...))
	if binary.NativeEndian.Uint16([]byte{1, 0}) == 1 && !bytes.Equal(got, want) {
		t.Errorf("got %x, want %x", got, want)
	}
}

// TestNetlinkLo asks the real kernel for what every Linux has.
func TestNetlinkLo(t *testing.T) {
	n, err := newNetlink()
	if err != nil {
		t.Fatal(err)
	}
	defer n.close()
	lo, err := n.ask("lo")
	if err != nil {
		t.Fatal(err)
	}
	none, err := n.ask("plnone0")
	if err != nil {
		t.Fatal(err)
	}
	var found link
	var errno unix.Errno
	for deadline := time.Now().Add(2 * time.Second); (found.name == "" || errno == 0) && time.Now().Before(deadline); time.Sleep(time.Millisecond) {
		_, err = n.receive(func(m message) {
			switch {
			case m.kind == unix.RTM_NEWLINK && m.seq == lo:
				found, err = parseLink(m)
			case m.kind == unix.NLMSG_ERROR && m.seq == none:
				errno = m.errno()
			}
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if found.name != "lo" || found.isCAN || found.index == 0 || !found.hasLoss {
		t.Errorf("lo: %+v", found)
	}
	if errno != unix.ENODEV {
		t.Errorf("an interface that is not there: %v, want ENODEV", errno)
	}
}

func FuzzParseLink(f *testing.F) {
	for _, name := range []string{"can0", "can1"} {
		f.Add(answer(f, name))
	}
	f.Add(linkMessage(unix.RTM_DELLINK, 1, 0, attr(unix.IFLA_IFNAME, 'x')))
	f.Fuzz(func(t *testing.T, b []byte) {
		for len(b) > 0 {
			m, rest, err := nextMessage(b)
			if err != nil {
				return
			}
			if len(rest) >= len(b) {
				t.Fatal("no progress")
			}
			b = rest
			_ = m.errno()
			if l, err := parseLink(m); err == nil && l.control.Known && l.kind != "can" {
				t.Errorf("a controller where the kind is %q", l.kind)
			}
		}
	})
}
