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
