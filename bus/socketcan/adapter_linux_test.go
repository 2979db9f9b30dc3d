package socketcan

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// tree makes files, and symbolic links where the content begins with "->".
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, content := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		var err error
		if to, ok := cutArrow(content); ok {
			err = os.Symlink(to, path)
		} else {
			err = os.WriteFile(path, []byte(content), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func cutArrow(s string) (string, bool) {
	if len(s) > 2 && s[:2] == "->" {
		return s[2:], true
	}
	return s, false
}

// The layout is that of sysfs under Linux 6.1, names and numbers are invented.
func TestIdentify(t *testing.T) {
	root := tree(t, map[string]string{
		"devices/pci0000:00/usb1/1-2/1-2.3/serial":              "ABC123\n",
		"devices/pci0000:00/usb1/1-2/1-2.3/product":             "two buses \n",
		"devices/pci0000:00/usb1/1-2/1-2.3/idVendor":            "1d50\n",
		"devices/pci0000:00/usb1/1-2/1-2.3/idProduct":           "606f\n",
		"devices/pci0000:00/usb1/1-2/1-2.3/1-2.3:1.0/driver":    "->../../../../../../bus/usb/drivers/gs_usb",
		"devices/pci0000:00/usb1/1-2/1-2.3/1-2.3:1.0/subsystem": "->../../../../../../bus/usb",
		"devices/pci0000:00/0000:00:03.0/driver":                "->../../../bus/pci/drivers/kvaser_pci",
		"devices/pci0000:00/0000:00:03.0/subsystem":             "->../../../bus/pci",
		"class/net/can0/device":                                 "->../../../devices/pci0000:00/usb1/1-2/1-2.3/1-2.3:1.0",
		"class/net/can0/dev_id":                                 "0x1\n",
		"class/net/can0/dev_port":                               "0\n",
		"class/net/can1/device":                                 "->../../../devices/pci0000:00/0000:00:03.0",
		"class/net/vcan0/ifindex":                               "5\n",
	})
	tests := []struct {
		name string
		want Adapter
	}{
		{"can0", Adapter{Driver: "gs_usb", Bus: "usb", Path: "1-2.3", Product: "two buses", Vendor: "1d50:606f", Serial: "ABC123", Channel: 1}},
		{"can1", Adapter{Driver: "kvaser_pci", Bus: "pci", Path: "0000:00:03.0"}},
		{"vcan0", Adapter{}},
		{"none0", Adapter{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, identify(filepath.Join(root, "class/net"), tt.name)); diff != "" {
				t.Errorf("adapter (-want +got):\n%s", diff)
			}
		})
	}
}

// Interfaces of one adapter with two channels, whose names are the wrong way round, and one of another.
func adapters(t *testing.T) string {
	t.Helper()
	return filepath.Join(tree(t, map[string]string{
		"devices/usb1/1-2/1-2.3/serial":              "ABC123\n",
		"devices/usb1/1-2/1-2.3/1-2.3:1.0/subsystem": "->../../../../../bus/usb",
		"devices/usb1/1-4/serial":                    "XYZ\n",
		"devices/usb1/1-4/1-4:1.0/subsystem":         "->../../../../bus/usb",
		"devices/pci0000:00/0000:00:03.0/subsystem":  "->../../../bus/pci",
		"class/net/can0/device":                      "->../../../devices/usb1/1-2/1-2.3/1-2.3:1.0",
		"class/net/can0/dev_port":                    "1\n",
		"class/net/can0/type":                        "280\n",
		"class/net/can1/device":                      "->../../../devices/usb1/1-2/1-2.3/1-2.3:1.0",
		"class/net/can1/dev_port":                    "0\n",
		"class/net/can1/type":                        "280\n",
		"class/net/can2/device":                      "->../../../devices/pci0000:00/0000:00:03.0",
		"class/net/can2/type":                        "280\n",
		"class/net/eth0/device":                      "->../../../devices/usb1/1-4/1-4:1.0",
		"class/net/eth0/type":                        "1\n",
		"class/net/vcan0/type":                       "280\n",
	}), "class/net")
}

func TestFind(t *testing.T) {
	class := adapters(t)
	for adapter, want := range map[string]string{
		"ABC123": "can1", "ABC123/0": "can1", "ABC123/1": "can0", "1-2.3": "can1", "1-2.3/1": "can0", "0000:00:03.0": "can2",
		"ABC123/2": "", "ABC": "", "": "", "/0": "", "XYZ": "", "1-4": "", "ABC123/x": "",
	} {
		got, others := find(class, adapter)
		if got != want || (others == "") != (want != "") {
			t.Errorf("%q: got %q and others %q, want %q", adapter, got, others, want)
		}
	}
	if _, others := find(class, "NONE"); others != "ABC123/1 (can0), ABC123 (can1), 0000:00:03.0 (can2)" {
		t.Errorf("others: got %q", others)
	}
	if got, others := find(filepath.Join(class, "gone"), "ABC123"); got != "" || others != "" {
		t.Errorf("without sysfs: got %q, %q", got, others)
	}
	for name, want := range map[string]string{"can0": "ABC123/1", "can1": "ABC123", "can2": "0000:00:03.0", "vcan0": ""} {
		if a := identify(class, name); a.String() != want {
			t.Errorf("%s is called %q, want %q", name, a.String(), want)
		}
	}
}
